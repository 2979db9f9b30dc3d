package checks

// placement: does each plug sit on the corner that its label says?
//
// A lifted wheel that is turned weighs itself against its own angle: forces and angle
// that belong together show the hanging weight m·g turning with the angle, others next to
// nothing. That finds exchanged force or angle cables. A harness that is exchanged as a
// whole looks right by itself; a mark, a serial number or the turn order tells it, in that
// order of trust. Channels that carry the same numbers sample for sample are one channel.
func placement(v *view) []Finding {
	var out []Finding
	for i := range v.corners {
		out = append(out, v.placementOf(i))
	}
	return append(out, v.placeOptics()...)
}

func (v *view) placementOf(i int) Finding {
	set := v.corners[i].setup
	name := set.Name
	f := Finding{Subject: name, Evidence: v.spins[i].evidence}
	if !set.fitted(Fx, Fz, Angle) {
		f.Verdict, f.Sentence = Absent, name+" has no radial forces or no angle to be told by"
		return f
	}
	b := &v.wiring.bonds[i]
	on, by := v.wiring.where(i)
	twin, q := v.wiring.twin(i)
	switch {
	case twin >= 0:
		other := v.setup.Corners[twin].Name
		f.Verdict = Fail
		f.Sentence = name + " and " + other + " carry the same numbers for " + q.String() + ", sample for sample: one channel is wired or mapped twice"
		f.Next = "Look at the channel list of the amplifier and at the setup for " + name + " and " + other + ", and at their plugs."
	case b.to >= 0:
		other := v.setup.Corners[b.to].Name
		f.Verdict = Fail
		f.Value, f.Unit = known(b.size), "N"
		f.Sentence = "the forces of " + name + " answer to the angle of " + other
		if b.turned {
			f.Sentence += " and not to that of " + name
		}
		f.Next = "Compare the force and angle plugs of " + name + " and " + other + " with their labels at the amplifier."
	case b.turned && !b.own:
		f = v.unanswered(i, f)
	case by != byNothing && on != i:
		other := v.setup.Corners[on].Name
		f.Verdict = Fail
		f.Sentence = "the plugs of " + name + " carry the wheel of " + other + ", by " + by.String()
		f.Next = "Compare the plugs of " + name + " and " + other + " with their labels at the amplifier."
	case !b.turned:
		f.Sentence, f.Next, _ = v.turnMore(i, false)
	case len(v.corners) == 1:
		f.Verdict = Pass
		f.Sentence = "forces and angle of " + name + " belong together"
	case by != byNothing:
		f.Verdict = Pass
		f.Sentence = "forces and angle of " + name + " belong together and sit on " + name + ", by " + by.String()
	default:
		f.Sentence = "forces and angle of " + name + " belong together, but nothing tells on which corner they sit"
		f.Next = "Give one of these: turn_order in the setup, a mark \"turn " + name + "\" before the wheel is turned, or the serial number of its transducer."
	}
	return f
}

// unanswered: the angle turned, the corner's own forces did not.
func (v *view) unanswered(i int, f Finding) Finding {
	for k := range v.corners {
		if v.wiring.bonds[k].to == i {
			other := v.setup.Corners[k].Name
			f.Verdict = Fail
			f.Sentence = "the angle of " + f.Subject + " turned, but the forces of " + other + " answered to it"
			f.Next = "Compare the force and angle plugs of " + f.Subject + " and " + other + " with their labels at the amplifier."
			return f
		}
	}
	f.Sentence = "the angle of " + f.Subject + " turned, but no forces answered to it"
	f.Next = "See that the force channels of " + f.Subject + " are alive, then turn the lifted wheel again."
	return f
}
