package checks

import (
	"math"
	"math/cmplx"
	"testing"
)

func TestNow(t *testing.T) {
	r := newRig(4, "FL", "FR")
	r.wheels[0].zero[Fx] = 40
	r.run(2)
	if s := r.judge.Now(); s.Corners[0].Hang != Loaded || s.Corners[0].Turning || len(s.Corners[0].Points) != 0 {
		t.Errorf("at rest: %+v", s.Corners[0])
	}
	r.lift()
	r.run(1)
	r.turn(0, 3.2, 4, 2)
	s := r.judge.Now()
	c := s.Corners[0]
	if c.Hang != Lifted || c.Turns != 3 || c.Forward < 3 || c.Back != 0 || len(c.Points) != turnPoints {
		t.Errorf("turned: %+v", c)
	}
	// Nothing but the weight hangs on it: −i·m·g, 245.2 N downward.
	if cmplx.Abs(c.Weight-complex(0, -hangingN)) > 3 || cmplx.Abs(c.Zero-40) > 3 {
		t.Errorf("weight %v, zero %v; want %v and 40", c.Weight, c.Zero, complex(0, -hangingN))
	}
	for _, p := range c.Points {
		// −i·m·g·exp(iθ) + 40 = m·g·sin θ + 40 − i·m·g·cos θ.
		if math.Abs(p.Fx-hangingN*math.Sin(p.Theta)-40) > 60 || math.Abs(p.Fz+hangingN*math.Cos(p.Theta)) > 60 {
			t.Errorf("at %v: %v, %v", p.Theta, p.Fx, p.Fz)
		}
	}
	ch := s.Channels[r.setup.Corners[0].Channels[Fx]]
	if !ch.Known || math.Abs(ch.RateHz-200) > 1 || ch.Low >= ch.High {
		t.Errorf("channel: %+v", ch)
	}
}
