package checks

import (
	"math"

	"plumbline/checks/fit"
)

// angleSlip: does the offset of the angle drift from turn to turn? Within each run of turns the
// slope of δ over the signed number of turns is fitted, from quarters of a turn, all runs in
// common, each with an offset of its own: a bias of half a count and a time skew stay out of it.
func angleSlip(v *view) []Finding {
	return v.slips
}

func (v *view) slipOf(i int) Finding {
	c := &v.corners[i]
	set := c.setup
	name, limit := set.Name, v.setup.Limits.AngleSlipRad
	f := Finding{Subject: name, Unit: "rad", Limit: known(limit), Evidence: v.spins[i].evidence}
	if !set.fitted(Fx, Fz, Angle) {
		f.Verdict, f.Sentence = Absent, name+" has no radial forces or no angle"
		return f
	}
	if v.blocked(i, &f) {
		return f
	}
	if text, next, ok := v.turnMore(i, false); !ok {
		f.Sentence, f.Next = text, next
		return f
	}
	slope, part, ok := driftPerTurn(c.turn.sectors.list, v.background(i))
	if !ok {
		f.Sentence = name + " has not made a turn without a pause in it"
		f.Next = "Turn " + name + " three turns forward in one go, then three turns back."
		return f
	}
	// Lost counts hold the transmitted angle back, forward and back alike: δ falls with the turns.
	slip := -slope
	u := fit.Expanded(part)
	f.guard(slip, 0, u, limit)
	reads := "the angle of " + name + " drifts by " + within(slip, u, f.Unit) + " per turn"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		verb := "loses"
		if slip < 0 {
			verb = "gains"
		}
		f.Sentence = "the angle of " + name + " " + verb + " " + within(math.Abs(slip), u, f.Unit) + " per turn"
		if n := c.encoder.count; n > 0 {
			f.Sentence += ", " + num(math.Abs(slip)/n, 1) + " of " + num(float64(set.AngleCounts), 0) + " counts"
		}
		f.Next = "Look at the encoder of " + name + ": its coupling, its supply and cable, and angle_counts at the amplifier."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(limit, f.Unit) + " to decide"
		f.Next = "Turn " + name + " for some more turns in one go, forward and back."
	}
	return f
}
