package checks

import "math"

// angleJumps: does the angle jump by what neither the speed before nor the speed after
// explains? Time between samples comes from their stamps, so lost frames are no jumps.
func angleJumps(v *view) []Finding {
	return v.eachCorner(v.angleJumpsOf)
}

func (v *view) angleJumpsOf(i int) Finding {
	set := v.corners[i].setup
	name := set.Name
	e := &v.corners[i].encoder
	f := Finding{Subject: name, Unit: "rad", Limit: known(e.limit), Evidence: Evidence{Samples: e.jump.Judged, Revolutions: significant(e.Travel / (2 * math.Pi))}}
	if !set.fitted(Angle) {
		f.Verdict, f.Sentence = Absent, name+" has no angle"
		return f
	}
	f.Value = known(e.jump.Largest)
	switch {
	case e.jump.Count > 0:
		f.Verdict = Fail
		f.Sentence = "the angle of " + name + " jumped " + plural(e.jump.Count, "time", "times") + ", the farthest by " + show(e.jump.Largest, "rad") + ", " + v.since(e.jump.LargestAt)
		f.Next = "Look at the encoder, its cable and the shielding of " + name + ", then turn it again."
	case e.Travel < 2*math.Pi:
		f.Sentence = "the angle of " + name + " has turned " + num(e.Travel/(2*math.Pi), 1) + " turns; 1 is the least"
		f.Next = "Turn " + name + " by at least one whole turn."
	case e.jump.Judged < 50:
		f.Sentence = "the angle of " + name + " comes too seldom to tell a jump from turning"
		f.Next = "Let the amplifier send the angle of " + name + " at least 10 times a second."
	default:
		f.Verdict = Pass
		f.Sentence = "the angle of " + name + " did not jump in " + num(e.Travel/(2*math.Pi), 1) + " turns"
	}
	return f
}
