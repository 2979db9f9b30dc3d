package checks

import "plumbline/checks/fit"

// restSpeed: does a ground speed sensor show nothing where nothing moves? The mean of each second at
// rest on the ground, forward and sideways. That the vehicle rests is told by its wheels; only where
// no wheel can tell, by a speed that is small already.
func restSpeed(v *view) []Finding {
	var out []Finding
	for i := range v.optics {
		if v.optics[i].setup.Kind != GroundSpeed {
			continue
		}
		for _, q := range [...]Quantity{SpeedX, SpeedY} {
			out = append(out, v.restSpeedOf(&v.optics[i], q))
		}
	}
	return out
}

func (v *view) restSpeedOf(o *optic, q Quantity) Finding {
	set := o.setup
	limit := v.setup.Limits.RestSpeedMps
	f := Finding{Subject: set.Name, Channel: q.String(), Unit: "m/s", Limit: known(limit), Evidence: o.restEvidence()}
	if set.Channels[q] == None {
		f.Verdict, f.Sentence = Absent, set.Name+" has no channel for "+q.String()
		return f
	}
	w := o.atRest(one(q))
	if w.N() > 0 {
		f.Value = known(w.Mean())
	}
	if w.N() < restSeconds {
		f.Sentence, f.Next = v.restOn(o, w.N())
		return f
	}
	u := fit.Expanded(scatter(&w), fit.TypeB(fit.Rectangular(v.stepOf(o, q)/2)))
	f.guard(w.Mean(), 0, u, limit)
	reads := set.Name + " " + q.String() + " shows " + num(w.Mean(), 3) + " ± " + num(u, 3) + " m/s where nothing moves"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads + ", more than " + show(limit, "m/s")
		f.Next = "See that the ground under " + set.Name + " is clean and that nothing shakes it; then set its zero by " + num(-w.Mean(), 3) + " m/s, or compare its offset with the description."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(limit, "m/s") + " to decide"
		f.Next = "Let the vehicle stand for some more seconds."
	}
	return f
}
