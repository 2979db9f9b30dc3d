package checks

import (
	"math"

	"plumbline/checks/fit"
)

// standstill gathers what says that a wheel turns while its angle stands still.
type standstill struct {
	Turned  float64 // rad that the radial force has turned round, unlike a load that comes or goes
	SpinS   float64 // s that the speed channel has been above turningFrom
	OthersS float64 // s that all other wheels have rolled
	At      int64   // ns, when the first of these began

	direction float64
	on        bool
	hang      Hang
	round     float64
	began     int64
	last      int64
	spin      float64
	spinAt    int64
}

// force takes a pair of radial forces as they were sent, N.
func (s *standstill) force(at int64, fx, fz float64, moving bool, hang Hang, least float64) {
	if moving || hang != s.hang || math.Abs(fx)+math.Abs(fz) < least {
		s.on, s.hang = false, hang
		return
	}
	direction := math.Atan2(fx, fz)
	if !s.on {
		s.on, s.direction, s.round, s.began = true, direction, 0, at
		return
	}
	s.round += fit.Wrap(direction - s.direction)
	s.direction = direction
	if r := math.Abs(s.round); r > s.Turned {
		if s.Turned = r; r > 2*math.Pi {
			s.begins(s.began)
		}
	}
}

func (s *standstill) begins(at int64) {
	if s.At == 0 {
		s.At = at
	}
}

// speed takes a value of the speed channel, rad/s; still: the angle has been there for a while and does not move.
func (s *standstill) speed(at int64, omega float64, still bool) {
	dt := float64(at-s.spinAt) * 1e-9
	if s.spinAt != 0 && dt > 0 && dt < 0.25 && still && math.Abs(omega) > 2*turningFrom && math.Abs(s.spin) > 2*turningFrom {
		s.SpinS += dt
		s.begins(s.spinAt)
	}
	s.spin, s.spinAt = omega, at
}

// others takes whether all other wheels roll on the ground while this one stands.
func (s *standstill) others(at int64, rolling bool) {
	dt := float64(at-s.last) * 1e-9
	if s.last != 0 && rolling && dt > 0 && dt < 1 {
		s.OthersS += dt
		s.begins(s.last)
	}
	s.last = at
}

// stuckAfterS is how long something must say that a wheel turns; a wheel that locks for longer is not on a function test.
const stuckAfterS = 2

// angleStuck: does the angle stand still while the wheel's own force goes round, its speed
// channel or all other wheels say that it turns?
func angleStuck(v *view) []Finding {
	return v.eachCorner(v.angleStuckOf)
}

func (v *view) angleStuckOf(i int) Finding {
	c := &v.corners[i]
	name := c.setup.Name
	s := &c.standstill
	f := Finding{Subject: name, Evidence: Evidence{Samples: c.encoder.Samples, Revolutions: significant(c.encoder.Travel / (2 * math.Pi))}}
	if !c.setup.fitted(Angle) {
		f.Verdict, f.Sentence = Absent, name+" has no angle"
		return f
	}
	by := ""
	switch {
	case s.Turned > 3*math.Pi:
		by = "its radial force goes round"
	case s.SpinS > stuckAfterS:
		by = "its speed channel says that the wheel turns"
	case s.OthersS > stuckAfterS:
		by = "all other wheels roll"
	}
	switch {
	case by != "" && (v.wiring.bonds[i].to >= 0 || v.wiring.answered(i)):
		f.Sentence = "the angle of " + name + " stands still while " + by + ", but another angle goes with it"
		f.Next = "Settle placement of " + name + " first."
	case by != "":
		f.Verdict = Fail
		f.Sentence = "the angle of " + name + " stands still while " + by + ", first " + v.since(s.At)
		f.Next = "Look at the encoder of " + name + ", its coupling to the wheel, its cable and its supply."
	case c.encoder.Travel >= 2*math.Pi:
		f.Verdict = Pass
		f.Sentence = "the angle of " + name + " moves when its wheel does"
	default:
		f.Sentence = "the angle of " + name + " has turned " + num(c.encoder.Travel/(2*math.Pi), 1) + " turns; 1 is the least"
		f.Next = "Turn " + name + " by at least one whole turn."
	}
	return f
}

// answered tells whether the forces of another corner answer to the angle of corner i.
func (w *wiring) answered(i int) bool {
	for k := range w.bonds {
		if w.bonds[k].to == i {
			return true
		}
	}
	return false
}
