package checks

// angleSense: does the angle count in the direction in which the forces turn? Where it counts
// against them the negative sequence of the hanging weight dominates, whichever way the wheel was
// turned. The value is its share, |g₋|/(|g₊|+|g₋|).
func angleSense(v *view) []Finding {
	var out []Finding
	for i := range v.corners {
		f := v.angleSenseOf(i)
		v.senseOnRoll(i, &f)
		out = append(out, f)
	}
	return out
}

func (v *view) angleSenseOf(i int) Finding {
	set := v.corners[i].setup
	name := set.Name
	f := Finding{Subject: name, Limit: known(0.5), Evidence: v.spins[i].evidence}
	if !set.fitted(Fx, Fz, Angle) {
		f.Verdict, f.Sentence = Absent, name+" has no radial forces or no angle"
		return f
	}
	if v.blocked(i, &f) {
		return f
	}
	s := &v.spins[i]
	if len(s.revolutions) < turnsForValue {
		f.Sentence, f.Next, _ = v.turnMore(i, false)
		return f
	}
	f.Value = known(s.minus / (s.plus + s.minus))
	switch {
	case s.reversed():
		f.Verdict = Fail
		f.Sentence = "the angle of " + name + " counts against its forces: a sign is reversed, or fx and fz are exchanged"
		f.Next = "Compare the signs of angle, fx and fz of " + name + " at the amplifier and in the setup with ISO 8855: forward turns count up on both sides."
	case s.plus > 2*s.minus:
		f.Verdict = Pass
		f.Sentence = "the angle of " + name + " counts with its forces"
	default:
		f.Sentence = "the forces of " + name + " turn neither with nor against its angle"
		f.Next = "See that fx, fz and angle of " + name + " are the channels that the setup takes them for, then turn it again."
	}
	return f
}
