package checks

import "plumbline/checks/fit"

// dropout: how many of an optical sensor's distances or speeds are none? Not a number, at an end
// of the raw range, named as not available by the description, or a height of nothing. Counted at
// rest and in the drive, but not while a wheel hangs: the bar may be out of its range then.
func dropout(v *view) []Finding {
	var out []Finding
	for i := range v.optics {
		out = append(out, v.dropoutOf(&v.optics[i]))
	}
	return out
}

func (v *view) dropoutOf(o *optic) Finding {
	set := o.setup
	limit := v.setup.Limits.DropoutRatio
	f := Finding{Subject: set.Name, Limit: known(limit)}
	fitted := false
	for q := HeightOuter; q < Quantities; q++ {
		fitted = fitted || set.Channels[q] != None
	}
	if !fitted {
		f.Verdict, f.Sentence = Absent, set.Name+" has no distances or speeds"
		return f
	}
	seen, bad := o.share[2], o.share[3]
	f.Evidence = Evidence{Samples: seen, From: o.dropFrom, To: o.dropTo}
	if seen > 0 {
		f.Value = known(float64(bad) / float64(seen))
	}
	if n := o.shares.N(); n < restSeconds {
		f.Sentence = set.Name + " has been heard for " + plural(n, "second", "seconds") + " on the ground; 3 are the least"
		f.Next = "Let the vehicle stand on its wheels for some seconds while " + set.Name + " sends."
		return f
	}
	// None of n samples may still be one of them.
	share := float64(bad) / float64(seen)
	u := fit.Expanded(scatter(&o.shares), fit.TypeB(1/float64(seen)))
	f.guard(share, 0, u, limit)
	reads := within(share, u, "percent") + " of the values of " + set.Name + " are none"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads + ", more than " + show(limit, "percent")
		f.Next = "Switch " + set.Name + " off and clean its lenses, see that nothing hangs in its beams and that its distance to the ground is right."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(limit, "percent") + " to decide"
		f.Next = "Go on listening for some seconds; if that does not decide it, switch " + set.Name + " off and clean its lenses."
	}
	return f
}
