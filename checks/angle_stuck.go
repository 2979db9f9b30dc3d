package checks

import (
	"math"

	"plumbline/checks/fit"
)

// standstill gathers what says that a wheel turns while its angle stands still.
type standstill struct {
	Turned   float64 // rad that the radial force has turned round, unlike a load that comes or goes
	TurnedAt int64   // ns, when it had first gone round once; 0: never
	Spin     stretch // the speed channel has been above turningFrom
	Others   stretch // all other wheels have rolled

	direction float64
	on        bool
	hang      Hang
	round     float64
	began     int64
	last      int64
	spin      float64
	spinAt    int64
}

// stretch is for how long something has been so without the angle moving in between: a wheel that begins or ceases
// to roll a little later than the others does that at each stop, and its angle moves after it.
type stretch struct {
	Most float64 // s, of the longest
	At   int64   // ns, when that began

	now   float64
	began int64
}

func (x *stretch) add(from int64, s float64) {
	if x.now == 0 {
		x.began = from
	}
	if x.now += s; x.now > x.Most {
		x.Most, x.At = x.now, x.began
	}
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
		if s.Turned = r; r > 2*math.Pi && s.TurnedAt == 0 {
			s.TurnedAt = s.began
		}
	}
}

// speed takes a value of the speed channel, rad/s; still: the angle has been there for a while and does not move.
func (s *standstill) speed(at int64, omega float64, still bool) {
	dt := float64(at-s.spinAt) * 1e-9
	if s.spinAt != 0 && dt > 0 && dt < 0.25 && still && math.Abs(omega) > 2*turningFrom && math.Abs(s.spin) > 2*turningFrom {
		s.Spin.add(s.spinAt, dt)
	}
	s.spin, s.spinAt = omega, at
}

// others takes whether all other wheels roll on the ground while this one stands, and whether its angle moves.
func (s *standstill) others(at int64, rolling, moving bool) {
	if moving {
		s.Spin.now, s.Others.now = 0, 0
	}
	dt := float64(at-s.last) * 1e-9
	if s.last != 0 && rolling && dt > 0 && dt < 1 {
		s.Others.add(s.last, dt)
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
	by, at := "", int64(0)
	switch {
	case s.Turned > 3*math.Pi:
		by, at = "its radial force goes round", s.TurnedAt
	case s.Spin.Most > stuckAfterS:
		by, at = "its speed channel says that the wheel turns", s.Spin.At
	case s.Others.Most > stuckAfterS:
		by, at = "all other wheels roll", s.Others.At
	}
	switch {
	case by != "" && (v.wiring.bonds[i].to >= 0 || v.wiring.answered(i)):
		f.Sentence = "the angle of " + name + " stands still while " + by + ", but another angle goes with it"
		f.Next = "See to the check placement of " + name + " first."
	case by != "":
		f.Verdict = Fail
		f.Sentence = "the angle of " + name + " stands still while " + by + ", first " + v.since(at)
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
