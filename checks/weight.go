package checks

import (
	"math/cmplx"

	"plumbline/checks/fit"
)

// weight: does the hanging wheel weigh m·g? The part of the radial force that turns with the
// angle is the weight of what hangs on the element; divided by m·g it is the scale.
func weight(v *view) []Finding {
	return v.eachCorner(v.weightOf)
}

func (v *view) weightOf(i int) Finding {
	set := v.corners[i].setup
	name := set.Name
	f := Finding{Subject: name, Limit: known(v.setup.Limits.WeightRatio), Evidence: v.spins[i].evidence}
	if !set.fitted(Fx, Fz, Angle) || set.WheelMassKg <= 0 {
		f.Verdict, f.Sentence = Absent, name+" has no wheel_mass_kg in the setup, or no radial forces to compare it with"
		return f
	}
	if v.blocked(i, &f) {
		return f
	}
	expected := set.WheelMassKg * gravity
	s := &v.spins[i]
	var w fit.Welford
	for k := range s.revolutions {
		part := s.revolutions[k].Plus
		if s.reversed() {
			part = s.revolutions[k].Minus
		}
		w.Add(cmplx.Abs(part) / expected)
	}
	f.Value = known(w.Mean())
	if text, next, ok := v.turnMore(i, false); !ok {
		f.Sentence, f.Next = text, next
		return f
	}
	u := f.expanded(scatter(&w), fit.Rectangular(v.setup.Channels[set.Channels[Fz]].Step/2)/expected, 0)
	f.guard(w.Mean(), 1, u, v.setup.Limits.WeightRatio)
	reads := name + " weighs " + num(w.Mean()*expected, 1) + " N hanging, " + within(w.Mean(), u, "") + " of what " + num(set.WheelMassKg, 1) + " kg must"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads
		f.Next = "Compare wheel_mass_kg in the setup with a scale, then the sensitivity of " + name + " at the amplifier and the factors of its channels."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(v.setup.Limits.WeightRatio, "percent") + " to decide"
		f.Next = "Turn " + name + " for some more turns."
	}
	return f
}
