package checks

import (
	"math"

	"plumbline/checks/fit"
)

// camber: does the camber signal of a sensor bar say what its own heights say?
//
// The ground plane in the bar's axes is h = h₀ + a·x + b·y, with b = (outer − inner)/baseline and, from
// a third height beside the middle of the bar, a = (third − (outer + inner)/2)/baseline_third.
// The bar lies along the wheel's axis, so the angle between wheel and the ground's normal is
// γ = atan(b/√(1 + a²)); with two heights γ = atan(b). The value is the sensor's own signal minus γ.
func camber(v *view) []Finding {
	var out []Finding
	for i := range v.optics {
		if v.optics[i].setup.Kind == CamberBar {
			out = append(out, v.camberOf(&v.optics[i]))
		}
	}
	return out
}

// gamma returns the camber angle that the heights give, rad; NaN where one is missing.
func (o *optic) gamma(r *reading) float64 {
	set := o.setup
	outer, inner := r.of(HeightOuter), r.of(HeightInner)
	b := (outer - inner) / set.BaselineM
	a := 0.0
	if set.Channels[HeightThird] != None && set.BaselineThirdM != 0 {
		if a = (r.of(HeightThird) - (outer+inner)/2) / set.BaselineThirdM; a-a != 0 {
			a = 0 // the third lens sees nothing; without it the angle is as good as right
		}
	}
	return math.Atan(b / math.Sqrt(1+float64(a*a)))
}

func (v *view) camberOf(o *optic) Finding {
	set := o.setup
	limit := v.setup.Limits.CamberRad
	f := Finding{Subject: set.Name, Unit: "rad", Limit: known(limit), Evidence: o.restEvidence()}
	if set.Channels[HeightOuter] == None || set.Channels[HeightInner] == None || !(set.BaselineM > 0) {
		f.Verdict, f.Sentence = Absent, set.Name+" has no two heights, so there is no angle to compute"
		return f
	}
	geometry := o.atRest(o.gamma)
	if set.Channels[Camber] == None {
		f.Verdict, f.Sentence = Absent, set.Name+" sends no camber of its own to compare its heights with"
		if geometry.N() > 0 {
			f.Sentence += "; they give " + show(geometry.Mean(), "rad")
		}
		return f
	}
	w := o.atRest(func(r *reading) float64 { return r.of(Camber) - o.gamma(r) })
	if w.N() > 0 {
		f.Value = known(w.Mean())
	}
	if w.N() < restSeconds {
		f.Sentence, f.Next = v.restOn(o, w.N())
		return f
	}
	heights := v.stepOf(o, HeightOuter, HeightInner) / 2 / set.BaselineM
	u := f.expanded(scatter(&w), math.Hypot(fit.Rectangular(heights)*math.Sqrt2, fit.Rectangular(v.stepOf(o, Camber)/2)), 0)
	f.guard(w.Mean(), 0, u, limit)
	reads := "the camber of " + set.Name + " is " + within(w.Mean(), u, "rad") + " off the " + show(geometry.Mean(), "rad") + " that its heights give"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads + ", more than " + show(limit, "rad")
		f.Next = "Correct the camber of " + set.Name + " by " + show(-w.Mean(), "rad") + " on its gauge, and compare baseline_m with the distance of its lenses."
		if own := w.Mean() + geometry.Mean(); math.Abs(own+geometry.Mean()) < limit {
			f.Sentence += ": it counts the other way"
			f.Next = "Compare the sign of the camber of " + set.Name + " and its outer and inner lens with the setup."
		}
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(limit, "rad") + " to decide"
		f.Next = "Let the vehicle stand for some more seconds."
	}
	return f
}
