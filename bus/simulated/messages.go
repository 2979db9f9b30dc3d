package simulated

import (
	"fmt"
	"io/fs"
	"math"
	"strings"
)

// role says what a message carries.
type role uint8

const (
	forces role = iota
	moments
	angle
	state
	camber
	speed
	errorFrames
)

// message describes one message: the DBC text is written from it, and its
// frames are encoded by what the DBC text says.
type message struct {
	name     string
	id       uint32
	extended bool
	length   int
	bus      string
	role     role
	subject  int   // index into Config.Corners or Config.Optics
	periodNs int64 // cycle time
	phaseNs  int64 // of the first one after the start
	signals  []signal
}

// signal describes one signal in the terms of an SG_ line.
type signal struct {
	name          string
	mux           string // "M", "m0", …; empty: always there
	start, length int
	motorola      bool
	signed        bool
	scale, offset float64
	unit          string
	values        string // of a VAL_ table; empty: none
}

const notAvailable = `65535 "not available"`

// messages lists every message that the vehicle sends, in a fixed order.
func (c *Config) messages() []message {
	period := int64(math.Round(1e9 / c.RateHz))
	wide := c.forceScale()
	s16 := func(name string, start int, motorola bool, scale float64, unit string) signal {
		return signal{name: name, start: start, length: 16, motorola: motorola, signed: true, scale: scale, unit: unit}
	}
	var all []message
	for i, k := range c.Corners {
		shift := period * int64(i) / int64(len(c.Corners)+1)
		id := uint32(0x100 + 0x10*i)
		add := func(name string, r role, offset uint32, length int, periodNs, phaseNs int64, signals ...signal) {
			all = append(all, message{
				name: k.Name + "_" + name, id: id + offset, length: length, bus: k.Bus,
				role: r, subject: i, periodNs: periodNs, phaseNs: phaseNs, signals: signals,
			})
		}
		add("Forces", forces, 0, 7, period, shift,
			s16("Fx", 7, true, wide, "N"), s16("Fy", 23, true, wide, "N"), s16("Fz", 39, true, wide, "N"),
			signal{name: "Counter", start: 55, length: 8, motorola: true, scale: 1})
		add("Moments", moments, 1, 6, period, shift+50_000,
			s16("Mx", 0, false, 0.2*wide, "Nm"), s16("My", 16, false, 0.2*wide, "Nm"), s16("Mz", 32, false, 0.2*wide, "Nm"))
		add("Angle", angle, 2, 5, period, shift+100_000,
			signal{name: "Theta", length: 16, scale: 360.0 / 65536, unit: "deg"}, s16("Speed", 23, true, 0.05, "rpm"),
			signal{name: "Status", start: 32, length: 8, scale: 1, values: `0 "ok" 1 "overload" 2 "no signal" 4 "sensor fault"`})
		add("State", state, 3, 5, statePeriodNs, 1_000_000+7_000_000*int64(i)%statePeriodNs+shift+150_000,
			signal{name: "Page", mux: "M", length: 8, scale: 1},
			signal{name: "Temp", mux: "m0", start: 8, length: 16, signed: true, scale: 0.1, unit: "degC"},
			signal{name: "Volt", mux: "m1", start: 8, length: 16, scale: 0.01, unit: "V"},
			signal{name: "Serial", mux: "m2", start: 8, length: 32, scale: 1})
	}
	grounds := uint32(0)
	for i, o := range c.Optics {
		m := message{name: c.opticMessage(i), bus: o.Bus, subject: i, periodNs: opticPeriodNs, phaseNs: 300_000 + 200_000*int64(i)}
		if o.Kind == CamberBar {
			m.role, m.id, m.length = camber, 0x600+uint32(i), 6
			m.signals = []signal{
				{name: "Outer", start: 7, length: 16, motorola: true, scale: 0.01, unit: "mm", values: notAvailable},
				{name: "Inner", start: 23, length: 16, motorola: true, scale: 0.01, unit: "mm", values: notAvailable},
				s16("Angle", 39, true, 0.002, "deg"),
			}
			m.signals[2].values = `32767 "not available"`
		} else {
			m.role, m.id, m.extended, m.length = speed, 0x18FF6000+grounds, true, 6
			grounds++
			m.signals = []signal{s16("Vx", 0, false, 0.01, "km/h"), s16("Vy", 16, false, 0.01, "km/h"), s16("Slip", 32, false, 0.002, "deg")}
			for j := range m.signals {
				m.signals[j].values = `32767 "not available"`
			}
		}
		all = append(all, m)
	}
	return all
}

// forceScale returns the newtons per raw step that let sixteen bits hold three
// times the largest load.
func (c *Config) forceScale() float64 {
	most := 0.0
	for _, k := range c.Corners {
		most = max(most, k.LoadN)
	}
	scale := 1.0
	for scale*32767 < 3*most {
		scale *= 2
	}
	return scale
}

// opticMessage names the message of optic i.
func (c *Config) opticMessage(i int) string {
	o := c.Optics[i]
	if o.Kind == CamberBar {
		name := "Camber_" + o.Corner
		for j := range c.Optics[:i] {
			if c.Optics[j].Kind == CamberBar && c.Optics[j].Corner == o.Corner {
				return fmt.Sprintf("%s_%d", name, i+1)
			}
		}
		return name
	}
	for j := range c.Optics[:i] {
		if c.Optics[j].Kind == GroundSpeed {
			return fmt.Sprintf("Road_%d", i+1)
		}
	}
	return "Road"
}

// DBC returns the DBC text of all frames; empty for a configuration that New refuses.
func (c Config) DBC() string {
	full, err := c.withDefaults()
	if err != nil {
		return ""
	}
	return dbcText(full.messages())
}

// DBCFile is the DBC text of one interface.
type DBCFile struct{ Bus, Name, Text string }

// DBCs returns the DBC texts as the setup file names them: vehicle.dbc, or one
// BUS.dbc for each interface where there are several.
func (c Config) DBCs() []DBCFile {
	full, err := c.withDefaults()
	if err != nil {
		return nil
	}
	buses := full.buses()
	var files []DBCFile
	for _, b := range buses {
		var here []message
		for _, m := range full.messages() {
			if m.bus == b {
				here = append(here, m)
			}
		}
		name := "vehicle.dbc"
		if len(buses) > 1 {
			name = b + ".dbc"
		}
		files = append(files, DBCFile{b, name, dbcText(here)})
	}
	return files
}

// ReadFile returns the text of a DBC file by the name that the setup file gives it; the error is
// [fs.ErrNotExist] for any other name.
func (c Config) ReadFile(name string) ([]byte, error) {
	for _, f := range c.DBCs() {
		if f.Name == name {
			return []byte(f.Text), nil
		}
	}
	return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
}

func dbcText(all []message) string {
	var b strings.Builder
	put := func(format string, args ...any) { fmt.Fprintf(&b, format, args...) }
	put("VERSION \"\"\n\nNS_ :\n\nBS_:\n\nBU_: Amplifier Logger\n\n")
	whole := true // cycle times are whole milliseconds
	for _, m := range all {
		put("BO_ %d %s: %d Amplifier\n", m.dbcID(), m.name, m.length)
		for _, s := range m.signals {
			put(" %s\n", s.line())
		}
		put("\n")
		whole = whole && m.periodNs%1_000_000 == 0
	}
	kind := "INT"
	if !whole {
		kind = "FLOAT"
	}
	put("BA_DEF_ BO_ \"GenMsgCycleTime\" %s 0 60000;\nBA_DEF_DEF_ \"GenMsgCycleTime\" 0;\n", kind)
	for _, m := range all {
		put("BA_ \"GenMsgCycleTime\" BO_ %d %v;\n", m.dbcID(), float64(m.periodNs)/1e6)
	}
	for _, m := range all {
		for _, s := range m.signals {
			if s.values != "" {
				put("VAL_ %d %s %s ;\n", m.dbcID(), s.name, s.values)
			}
		}
	}
	return b.String()
}

func (m *message) dbcID() uint32 {
	if m.extended {
		return m.id | 1<<31
	}
	return m.id
}

// line returns the SG_ line.
func (s *signal) line() string {
	name := s.name
	if s.mux != "" {
		name += " " + s.mux
	}
	order, sign := 1, "+"
	low, high := 0.0, math.Ldexp(1, s.length)-1
	if s.motorola {
		order = 0
	}
	if s.signed {
		sign = "-"
		low, high = -math.Ldexp(1, s.length-1), math.Ldexp(1, s.length-1)-1
	}
	return fmt.Sprintf("SG_ %s : %d|%d@%d%s (%v,%v) [%.10g|%.10g] %q Logger",
		name, s.start, s.length, order, sign, s.scale, s.offset, low*s.scale+s.offset, high*s.scale+s.offset, s.unit)
}
