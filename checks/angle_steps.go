package checks

import "math"

// angleSteps: does the angle cover one turn, wrap there, and step by the counts of its encoder?
// The resolution is the greatest common divisor of all steps seen, in counts of 2π/angle_counts.
func angleSteps(v *view) []Finding {
	return v.eachCorner(v.angleStepsOf)
}

func (v *view) angleStepsOf(i int) Finding {
	set := v.corners[i].setup
	name := set.Name
	e := &v.corners[i].encoder
	f := Finding{Subject: name, Unit: "rad", Evidence: Evidence{Samples: e.Samples, Revolutions: significant(e.Travel / (2 * math.Pi))}}
	if !set.fitted(Angle) {
		f.Verdict, f.Sentence = Absent, name+" has no angle"
		return f
	}
	f.Limit = known(e.count)
	if e.Travel < 2*math.Pi {
		f.Sentence = "the angle of " + name + " has turned " + num(e.Travel/(2*math.Pi), 1) + " turns; 1 is the least"
		f.Next = "Turn " + name + " by at least one whole turn."
		return f
	}
	covered := e.High - e.Low
	counts := num(float64(set.AngleCounts), 0)
	switch {
	case covered > 2*math.Pi+2*e.step+1e-9:
		f.Verdict = Fail
		f.Value = known(covered)
		f.Sentence = "the angle of " + name + " covers " + show(covered, "rad") + " instead of wrapping after 360°"
		f.Next = "Look at the unit and scale of the angle of " + name + " in the DBC and the setup."
	case covered < 0.9*2*math.Pi:
		f.Verdict = Fail
		f.Value = known(covered)
		f.Sentence = "the angle of " + name + " covers only " + show(covered, "rad") + " of a turn"
		f.Next = "Look at the unit and scale of the angle of " + name + " in the DBC and the setup, then at its encoder."
	case set.AngleCounts <= 0:
		f.Verdict = Pass
		f.Sentence = "the angle of " + name + " covers a whole turn; its resolution is not judged, as the setup gives no angle_counts"
	case e.step > e.count/2:
		f.Verdict = Pass
		f.Sentence = "the angle of " + name + " covers a whole turn; it is sent in steps of " + show(e.step, "rad") + ", too coarse to see " + counts + " counts"
	case e.OffGrid*100 > e.Samples:
		f.Verdict = Fail
		f.Sentence = "the angle of " + name + " does not step by 1/" + counts + " of a turn: " + plural(e.OffGrid, "value lies", "values lie") + " between the counts"
		f.Next = "Correct angle_counts of " + name + " in the setup, or the encoder's setting at the amplifier."
	case e.places < 50:
		f.Sentence = "the angle of " + name + " has taken only " + plural(e.places, "step", "steps") + "; 50 are the least"
		f.Next = "Go on turning " + name + "."
	case e.grid > 1:
		f.Verdict = Fail
		f.Value = known(float64(e.grid) * e.count)
		f.Sentence = "the angle of " + name + " steps by " + num(float64(e.grid), 0) + " counts of its " + counts
		f.Next = "Look at the encoder of " + name + " and its setting at the amplifier: it resolves " + num(float64(set.AngleCounts)/float64(e.grid), 1) + " steps per turn. If that is right, correct angle_counts."
	default:
		f.Verdict = Pass
		f.Value = known(e.count)
		f.Sentence = "the angle of " + name + " covers a whole turn in steps of 1/" + counts
	}
	return f
}
