package checks

import (
	"math"
	"math/cmplx"

	"plumbline/checks/fit"
)

// axes: are the two radial axes equally sensitive and at a right angle? Where they are not, a part
// of the hanging weight turns against the angle: ε = g₋/conj(g₊), its real part the mismatch of
// sensitivity, its imaginary part the error of the right angle.
func axes(v *view) []Finding {
	return v.eachCorner(v.axesOf)
}

func (v *view) axesOf(i int) Finding {
	set := v.corners[i].setup
	name, limit := set.Name, v.setup.Limits.AxesRatio
	f := Finding{Subject: name, Limit: known(limit), Evidence: v.spins[i].evidence}
	if !set.fitted(Fx, Fz, Angle) {
		f.Verdict, f.Sentence = Absent, name+" has no radial forces or no angle"
		return f
	}
	if v.blocked(i, &f) {
		return f
	}
	s := &v.spins[i]
	var epsilon fit.Bivariate
	for k := range s.revolutions {
		plus, minus := s.revolutions[k].Plus, s.revolutions[k].Minus
		if s.reversed() {
			plus, minus = minus, plus
		}
		e := minus / cmplx.Conj(plus)
		epsilon.Add(real(e), imag(e))
	}
	re, im := epsilon.Mean()
	size := math.Hypot(re, im)
	f.Value = known(size)
	if text, next, ok := v.turnMore(i, false); !ok {
		f.Sentence, f.Next = text, next
		return f
	}
	// The wider axis of the scatter: the direction of a small ε is not known well enough to choose.
	xx, xy, yy := epsilon.Covariance()
	n := float64(epsilon.N())
	widest := (xx+yy)/2 + math.Sqrt(square((xx-yy)/2)+float64(xy*xy))
	step := v.setup.Channels[set.Channels[Fz]].Step
	u := f.expanded(fit.Part{U: math.Sqrt(widest / n), DOF: n - 1}, fit.Rectangular(step/2)/s.size(), 0)
	f.guard(size, 0, u, limit)
	reads := "the radial axes of " + name + " differ by " + show(2*re, "percent") + " in sensitivity and are " + show(2*im, "rad") + " off the right angle"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads + ": |ε| is " + within(size, u, "") + ", more than " + num(limit, 3)
		f.Next = "Compare the sensitivities of fx and fz of " + name + " at the amplifier with the calibration sheet of its transducer."
	case Inconclusive, Absent:
		f.Sentence = reads + "; |ε| is " + within(size, u, "") + ", too close to the limit of " + num(limit, 3) + " to decide"
		f.Next = "Turn " + name + " evenly for some more turns."
	}
	return f
}
