package checks

import (
	"math"

	"plumbline/checks/fit"
)

// spinRatio is how far the speed channel may be off the angle; common practice.
const spinRatio = 0.02

// speedometer integrates the speed channel and compares it with the angle, turn by turn.
type speedometer struct {
	Ratio fit.Welford // ∫ω dt ÷ Δθ of each whole turn

	on    bool
	at    int64
	omega float64
	from  float64 // unwrapped angle at which this turn began
	sum   float64 // ∫ω dt since, rad
	run   int64
}

// add takes a value of the speed channel, rad/s, with the unwrapped angle at its time.
func (s *speedometer) add(at int64, omega, theta float64, moving bool, run int64) {
	dt := float64(at-s.at) * 1e-9
	last := s.omega
	s.at, s.omega = at, omega
	if !moving || run != s.run || dt <= 0 || dt > 0.25 {
		s.on, s.run = false, run
		return
	}
	if !s.on {
		s.on, s.from, s.sum = true, theta, 0
		return
	}
	s.sum += float64((last + omega) / 2 * dt)
	moved := theta - s.from
	if math.Abs(moved) < 2*math.Pi {
		return
	}
	s.Ratio.Add(s.sum / moved)
	s.from, s.sum = theta, 0
}

// angleSpin: does the speed channel, integrated over whole turns, come to the same as the angle?
// The value is ∫ω dt ÷ Δθ.
func angleSpin(v *view) []Finding {
	return v.eachCorner(v.angleSpinOf)
}

func (v *view) angleSpinOf(i int) Finding {
	c := &v.corners[i]
	name := c.setup.Name
	r := &c.speedometer.Ratio
	f := Finding{Subject: name, Limit: known(spinRatio), Evidence: Evidence{Revolutions: float64(r.N())}}
	if !c.setup.fitted(Angle, Spin) {
		f.Verdict, f.Sentence = Absent, name+" has no speed channel or no angle"
		return f
	}
	f.Value = known(r.Mean())
	if r.N() < turnsForUncertainty {
		f.Sentence = "the speed channel of " + name + " has been compared over " + plural(r.N(), "turn", "turns") + "; 3 are the least"
		f.Next = "Go on turning " + name + "."
		return f
	}
	u := fit.Expanded(scatter(r))
	f.guard(r.Mean(), 1, u, spinRatio)
	reads := "the speed channel of " + name + " says " + within(r.Mean(), u, "") + " of what its angle does"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads
		f.Next = "Compare unit and sign of the speed channel of " + name + " in the DBC and the setup, then the counts per turn at the amplifier."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(spinRatio, "percent") + " to decide"
		f.Next = "Turn " + name + " evenly for some more turns."
	}
	return f
}
