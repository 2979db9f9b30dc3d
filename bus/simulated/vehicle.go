package simulated

import (
	"fmt"
	"io"
	"math"
	"slices"
	"sync/atomic"
	"time"

	"plumbline/bus"
	"plumbline/bus/dbc"
)

// Vehicle is a simulated vehicle as a bus.Source.
type Vehicle struct {
	cfg   Config
	names []string
	spans []Span

	wheels   []wheel
	lenses   []lens
	plugs    []plug
	all      traffic
	movement *movement
	senders  []sender

	end    int64 // event time, ns
	last   int64 // of the last frame
	marked int   // spans whose mark is out
	drops  []drop
	dropID int         // drops that are out
	rated  bool        // the bit rate is told
	closed atomic.Bool // Close may come from another goroutine
}

// plug is one corner as the amplifier labels it: which wheel's cables end there.
type plug struct {
	forces, angle, state int        // indexes of wheels
	copyOf               int        // plug whose forces and moments it shows; −1: none
	shown                [6]float64 // what was sent last, before rounding
}

// drop is a loss in the receive queue.
type drop struct {
	at     int64 // event time, ns
	source uint16
	count  uint64
}

// New builds the vehicle. The error tells all that is wrong with the
// configuration, the script or the faults.
func New(cfg Config) (*Vehicle, error) {
	c, err := cfg.withDefaults()
	if err != nil {
		return nil, err
	}
	v := &Vehicle{cfg: c, names: c.buses()}
	v.build()
	v.share()
	ills := make([]ills, len(c.messages()))
	for i := range ills {
		ills[i] = healthy()
	}
	if err := v.befall(ills); err != nil {
		return nil, err
	}
	v.movement, v.spans, err = plan(&v.cfg, v.wheels)
	if err != nil {
		return nil, err
	}
	v.end = v.spans[len(v.spans)-1].To
	for i := range v.wheels {
		v.wheels[i].angle.origin, _, _ = v.movement.angle(i, 0)
	}
	if err := v.wire(ills); err != nil {
		return nil, err
	}
	v.schedule()
	return v, nil
}

// build makes the healthy wheels and optical sensors.
func (v *Vehicle) build() {
	c := &v.cfg
	axles := 1
	for _, k := range c.Corners {
		axles = max(axles, k.Axle)
	}
	v.wheels = make([]wheel, len(c.Corners))
	for i, k := range c.Corners {
		rng := stream(c.Seed, "flaws "+k.Name)
		f := drawFlaws(rng)
		if k.Flaws != nil {
			f = *k.Flaws
		}
		w := &v.wheels[i]
		radius, _ := tyreRadiusM(k.Tyre) // withDefaults has tried it
		side := 1.0
		if k.Right {
			side = -1
		}
		*w = wheel{
			index: i, side: side, yM: side * trackM / 2, driven: k.Driven, massKg: k.WheelMassKg, overhangM: k.OverhangM,
			loadN: k.LoadN * (1 + f.LoadError), radiusM: radius * (1 + f.RadiusError), dragNm: f.DragNm,
			opposite: slices.IndexFunc(c.Corners, func(o Corner) bool { return o.Axle == k.Axle && o.Right != k.Right }),
		}
		if axles > 1 {
			w.xShare = 1 - 2*float64(k.Axle-1)/float64(axles-1)
		}
		if k.Flaws == nil {
			w.variationN, w.variationAt = 0.008*k.LoadN*(0.5+rng.Float64()), 2*math.Pi*rng.Float64()
			w.unbalanceKgM, w.unbalanceAt = 0.003*rng.Float64(), 2*math.Pi*rng.Float64()
		}
		w.sensor = sensor{
			zero: f.Zero, weight: 1 + f.Weight, axes: complex(f.AxesRe, f.AxesIm),
			noiseN: f.NoiseN, noiseNm: f.NoiseNm, slowN: f.SlowNoiseN, slowS: f.SlowNoiseS,
		}
		for j := range w.sensor.frozen {
			w.sensor.frozen[j] = math.Inf(1)
		}
		w.angle = encoder{offsetRad: f.MisalignRad, counts: float64(k.AngleCounts), stuckFrom: math.Inf(1), spinScale: 1}
		w.state = housekeeping{serial: k.Serial, supplyV: f.SupplyV, temperatureC: f.TemperatureC, warmingCPerS: f.WarmingCPerS}
		v.plugs = append(v.plugs, plug{i, i, i, -1, [6]float64{}})
	}
	for _, o := range c.Optics {
		l := lens{kind: o.Kind, baselineM: o.BaselineM, clearanceM: o.ClearanceM, camberRad: o.CamberRad}
		if i := c.corner(o.Corner); i >= 0 {
			l.wheel = &v.wheels[i]
		}
		v.lenses = append(v.lenses, l)
	}
}

// share adds up what the wheels share. It is taken from the healthy vehicle, so
// that a fault on one corner does not move the forces of the others.
func (v *Vehicle) share() {
	for i := range v.wheels {
		w := &v.wheels[i]
		v.all.massKg += w.loadN / g
		v.all.resistN += rollingShare*w.loadN + w.dragNm/w.radiusM
		if w.driven {
			v.all.drivers++
		}
	}
	v.all.oneHand = v.cfg.OneHand
}

// wire makes a sender of each message, encoding by the vehicle's own DBC text.
func (v *Vehicle) wire(ills []ills) error {
	messages := v.cfg.messages()
	file, err := dbc.Parse("vehicle.dbc", []byte(dbcText(messages)))
	if err != nil {
		return fmt.Errorf("simulated: own description of the frames: %w", err)
	}
	for i, m := range messages {
		source := slices.Index(v.names, m.bus)
		s := sender{
			role: m.role, subject: m.subject, periodNs: m.periodNs, ills: ills[i], next: v.cfg.Start + m.phaseNs,
			rng: stream(v.cfg.Seed, m.name), faults: stream(v.cfg.Seed, "faults of "+m.name),
		}
		s.periodNs = int64(math.Round(float64(m.periodNs) / s.ills.slow))
		s.frame = bus.Frame{ID: m.id, Source: uint16(source), Len: uint8(m.length)}
		if m.extended {
			s.frame.Flags = bus.Extended
		}
		at := slices.IndexFunc(file.Messages, func(d dbc.Message) bool { return d.ID == m.id && d.Extended == m.extended })
		if at < 0 || len(file.Messages[at].Signals) != len(m.signals) {
			return fmt.Errorf("simulated: message %s is not in its own description", m.name)
		}
		described := &file.Messages[at]
		for j := range described.Signals {
			f, err := newField(&described.Signals[j], described.Length)
			if err != nil {
				return fmt.Errorf("simulated: message %s: %w", m.name, err)
			}
			s.fields = append(s.fields, f)
		}
		if m.role == forces || m.role == moments {
			w := &v.wheels[v.plugs[m.subject].forces]
			s.memory = newMemory(float64(s.periodNs)/1e9, w.sensor.slowS)
			s.fullN = s.fields[0].high * s.fields[0].scale
		}
		v.senders = append(v.senders, s)
	}
	v.wireBus()
	return nil
}

// Names returns the interfaces, "can0" unless the configuration says otherwise.
func (v *Vehicle) Names() []string { return v.names }

// Close ends the stream: the next Read returns io.EOF.
func (v *Vehicle) Close() error {
	v.closed.Store(true)
	return nil
}

// Spans returns when each phase of the script takes place.
func (v *Vehicle) Spans() []Span { return slices.Clone(v.spans) }

// Duration returns how long the script takes in event time.
func (v *Vehicle) Duration() time.Duration { return time.Duration(v.end - v.cfg.Start) }

// Read fills the batch with the next frames. It returns io.EOF after the end of
// the script.
func (v *Vehicle) Read(b *bus.Batch) error {
	b.Reset()
	if v.cfg.BitRate > 0 && !v.rated {
		v.rated = true
		for i := range v.names {
			b.Notes = append(b.Notes, bus.Note{At: v.cfg.Start, Kind: bus.LinkChanged, Source: uint16(i), BitRate: v.cfg.BitRate, Text: "a simulated bus"})
		}
	}
	for !v.closed.Load() && len(b.Frames) < cap(b.Frames) {
		s := v.due()
		if s == nil {
			break
		}
		v.note(b, s.next)
		v.send(s, b)
	}
	if !v.closed.Load() {
		if s := v.due(); s == nil {
			v.note(b, v.end)
		}
	}
	if len(b.Frames) == 0 && len(b.Notes) == 0 {
		return io.EOF
	}
	return nil
}
