package checks

import (
	"math"
)

// Now is what the sensors show at one moment, for who looks: it judges nothing.
type Now struct {
	At       int64 // event time, ns; 0: nothing has been heard
	Corners  []CornerState
	Channels []ChannelState // by index into Setup.Channels
	Messages []MessageState // by index into Setup.Messages
	Sources  []SourceState  // by index into Setup.Sources
	Drive    Drive          // the newest; the zero value: there was none
}

// MessageState is what was seen of one message so far.
type MessageState struct {
	Count   int64   // frames
	Lost    int64   // frames missing by the gaps between their time stamps
	At      int64   // ns, of the newest; 0: none has come
	PeriodS float64 // that gaps are counted by; 0: not known
	GapS    float64 // the longest interval
}

// SourceState is what was heard of one source so far, beside its messages.
type SourceState struct {
	Link        LinkState
	ErrorFrames int64
	Garbage     int64         // bytes of no valid frame
	Load        Number        // share of the last whole second that the frames heard took of the bus, 0 to 1; needs the bit rate
	Lost        [places]int64 // frames, by Place; the recorder's own count is not known here
}

// CornerState is what one wheel does.
type CornerState struct {
	Hang    Hang
	Turning bool
	Omega   float64 // rad/s, positive forward
	Theta   float64 // transmitted angle, rad, [0, 2π); NaN never: 0 where Angle is false
	Angle   bool    // an angle has come
	Forward float64 // turns done while lifted, with the part under way
	Back    float64 // the same, backward; turns, not negative

	Turns  int        // whole turns that the rest is from
	Zero   complex128 // radial zero of the rotating axes, N
	Weight complex128 // what turns with the angle: −i·m·g where all is well, N
	Points []TurnPoint

	// With KeepWindows: the last whole second of fx, fy and fz in wheel axes, N, and every fz since the start that
	// was sent while the wheel stood on the ground, N. Rotating forces need an angle.
	Force         [forceAxes]Window
	VerticalForce Histogram
}

// TurnPoint is the radial force at one angle of the newest turn, in rotating axes.
type TurnPoint struct {
	Theta float64 // rad, [0, 2π)
	Fx    float64 // N
	Fz    float64 // N
}

// ChannelState is what one channel shows.
type ChannelState struct {
	Known     bool    // a value has come
	Value     float64 // newest, SI
	At        int64   // ns, of the value
	Low, High float64
	RateHz    float64 // of its message; 0: not known

	Second Window // the last whole second; nothing for an angle, a status, a serial number or a counter
	Ten    Window // the last ten whole seconds

	// Strip is the last minute, oldest first, with KeepWindows; nothing for a status, a serial number or a
	// counter. It may begin up to a block early and end with a column under way.
	Strip []*Block
}

// turnPoints is how many places of a turn are shown.
const turnPoints = 128

// trace keeps the newest radial force at each of some places of a turn.
type trace struct {
	at   [turnPoints][2]float32
	have [turnPoints / 64]uint64
}

func (t *trace) add(fx, fz, theta float64) {
	part := theta / (2 * math.Pi)
	i := int((part-math.Floor(part))*turnPoints) % turnPoints
	t.at[i] = [2]float32{float32(fx), float32(fz)}
	t.have[i/64] |= 1 << (i % 64)
}

func (t *trace) points() []TurnPoint {
	var out []TurnPoint
	for i := range t.at {
		if t.have[i/64]&(1<<(i%64)) != 0 {
			out = append(out, TurnPoint{(float64(i) + 0.5) * 2 * math.Pi / turnPoints, float64(t.at[i][0]), float64(t.at[i][1])})
		}
	}
	return out
}

// KeepWindows has Now tell the newest seconds of each channel as well, and the forces in wheel axes. It
// costs some nanoseconds a sample: for who looks while it happens.
func (j *Judge) KeepWindows() {
	for i := range j.channels {
		if c := &j.channels[i]; c.used && c.quantity.drawn() && c.recent == nil {
			set := &j.setup.Channels[i]
			c.recent = &recent{named: set.Named, step: set.Step}
		}
	}
	for i := range j.corners {
		if c := &j.corners[i]; c.wheelForce == nil {
			c.wheelForce = new(wheelForce)
		}
	}
}

// Now returns what the sensors show now. It changes nothing and can be asked at any time.
func (j *Judge) Now() Now {
	s := Now{
		Corners: make([]CornerState, len(j.corners)), Channels: make([]ChannelState, len(j.channels)),
		Messages: make([]MessageState, len(j.messages)), Sources: make([]SourceState, len(j.buses)),
	}
	if j.started {
		s.At = j.now
	}
	if n := len(j.driving.drives); n > 0 {
		s.Drive = j.driving.drives[n-1]
	}
	for i := range j.corners {
		s.Corners[i] = j.corners[i].now()
		if w := j.corners[i].wheelForce; w != nil {
			w.shown(j.now, &s.Corners[i])
		}
	}
	for i := range j.channels {
		l := &j.channels[i].level
		c := ChannelState{Known: l.Count > 0, Value: l.Last, At: l.LastAt, Low: l.Low, High: l.High}
		if p := j.messages[j.setup.Channels[i].Message].timing.settledPeriod(); p > 0 {
			c.RateHz = 1 / p
		}
		if w := j.channels[i].recent; w != nil {
			if j.channels[i].quantity.shown() {
				c.Second, c.Ten = w.window(j.now, 1), w.window(j.now, recentSeconds)
			}
			c.Strip = w.strip.blocks(j.now)
		}
		s.Channels[i] = c
	}
	for i := range j.messages {
		t := &j.messages[i].timing
		s.Messages[i] = MessageState{Count: t.Count, Lost: t.Lost, At: t.Last, PeriodS: t.InUse(), GapS: t.Gap}
	}
	for i := range j.buses {
		b := &j.buses[i]
		s.Sources[i] = SourceState{Link: b.Link, ErrorFrames: b.ErrorFrames, Garbage: b.Garbage, Lost: b.Lost, Load: b.loadAt(j.now)}
	}
	return s
}

// settledPeriod is the period of a message without settling all else of it, s.
func (t *Timing) settledPeriod() float64 {
	if t.Period > 0 || t.Count < 2 {
		return t.Period
	}
	return float64(t.Last-t.First) * 1e-9 / float64(t.Count-1)
}

func (c *corner) now() CornerState {
	e := &c.encoder
	s := CornerState{
		Hang: c.condition.hang, Turning: e.moving, Omega: e.Omega,
		Forward: c.turn.progress(+1), Back: c.turn.progress(-1),
		Points: c.turn.trace.points(),
	}
	if e.have > 0 {
		s.Angle = true
		part := e.unw[e.have-1] / (2 * math.Pi)
		s.Theta = (part - math.Floor(part)) * 2 * math.Pi
	}
	for _, r := range c.turn.all() {
		if r.Have&(1<<Fx|1<<Fz) != 1<<Fx|1<<Fz {
			continue
		}
		s.Turns++
		s.Zero += complex(r.Constant[Fx], r.Constant[Fz])
		s.Weight += r.Plus
	}
	if s.Turns > 0 {
		s.Zero /= complex(float64(s.Turns), 0)
		s.Weight /= complex(float64(s.Turns), 0)
	}
	return s
}
