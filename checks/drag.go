package checks

import (
	"math"

	"plumbline/checks/fit"
)

// drag: what friction holds the wheel back? My is positive when the rim drives the hub forward;
// half the difference between turning forward and turning back is the friction, the zero cancels.
func drag(v *view) []Finding {
	return v.eachCorner(v.dragOf)
}

func (v *view) dragOf(i int) Finding {
	set := v.corners[i].setup
	name, limit := set.Name, v.setup.Limits.DragNm
	f := Finding{Subject: name, Unit: "N·m", Limit: known(limit), Evidence: v.spins[i].evidence}
	if !set.fitted(My, Angle) {
		f.Verdict, f.Sentence = Absent, name+" has no channel for my or for the angle"
		return f
	}
	if v.blocked(i, &f) {
		return f
	}
	turnedForward, turnedBack := v.byHand(i)
	var forward, back fit.Welford
	gather(&forward, turnedForward, My)
	gather(&back, turnedBack, My)
	// A wheel turned by the engine has the other sign: only the size counts.
	value := math.Abs(forward.Mean()-back.Mean()) / 2
	f.Value = known(value)
	if text, next, ok := v.turnMore(i, true); !ok {
		f.Sentence, f.Next = text, next
		return f
	}
	if text, next, ok := v.broughtMore(i, My, forward.N(), back.N()); !ok {
		f.Sentence, f.Next = text, next
		return f
	}
	step := v.setup.Channels[set.Channels[My]].Step
	u := f.expanded(halves(&forward, &back), fit.Rectangular(step/2), 0)
	f.guard(value, 0, u, limit)
	reads := name + " turns with a drag of " + within(value, u, f.Unit)
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads + ", more than " + show(limit, f.Unit)
		f.Next = "Release the brake of " + name + ", then look for a binding brake (it may be hot), a tight bearing or a pick-up ring that rubs, and turn it again."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(limit, f.Unit) + " to decide"
		f.Next = "Turn " + name + " evenly for some more turns forward and back."
	}
	return f
}
