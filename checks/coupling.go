package checks

import (
	"math"

	"plumbline/checks/fit"
)

// bunchedLimit is the value that χ² with 2 degrees of freedom exceeds by chance once in a thousand: −2·ln 0.001.
const bunchedLimit = 13.8155

// leastErrors is how many errors there must be before it is asked whether they bunch.
const leastErrors = 8

// lifted is how many whole turns the wheel made lifted.
func (c *corner) lifted() float64 { return float64(c.turn.Done[0] + c.turn.Done[1]) }

// ringKnown tells whether the wheel was turned enough on the lift to tell its ring from its cable.
func (c *corner) ringKnown() bool { return c.lifted() >= turnsForUncertainty }

// chafesOnGround tells whether errors bunch while the wheel rolls alone.
func (c *corner) chafesOnGround() bool {
	return c.ringKnown() && c.bunching.onGround(c.lifted(), c.encoder.Travel/(2*math.Pi)-c.lifted())
}

// coupling: do errors bunch at one angle of the turn? A stationary pick-up ring that is not aligned
// with the rotating electronics loses the signal, or rubs, at one place of each turn; errors that
// do not know the angle point at cable, supply or bus.
//
// The value is T = n·(ē − m)ᵀC⁻¹(ē − m), with ē the mean of (cos θ, sin θ) over n errors, m and C mean
// and covariance of the same over all frames that were due. Drag that changes with the angle at the
// same place in each turn counts as well.
func coupling(v *view) []Finding {
	return v.eachCorner(v.couplingOf)
}

func (v *view) couplingOf(i int) Finding {
	c := &v.corners[i]
	name := c.setup.Name
	b := c.bunching.all()
	f := Finding{Subject: name, Limit: known(bunchedLimit), Evidence: Evidence{Samples: b.Frames.N(), Revolutions: significant(c.encoder.Travel / (2 * math.Pi))}}
	if !c.setup.fitted(Fx, Fz, Angle) {
		f.Verdict, f.Sentence = Absent, name+" has no radial forces or no angle"
		return f
	}
	if v.blocked(i, &f) {
		return f
	}
	rub, u, at, ok := v.rubbing(i)
	if ok && rub-u > v.setup.Limits.DragNm/4 {
		f.Verdict = Fail
		f.Value, f.Uncertainty, f.Limit, f.Unit = known(rub), known(u), known(v.setup.Limits.DragNm/4), "N·m"
		f.Sentence = "the drag of " + name + " changes by " + within(rub, u, "N·m") + " about " + show(fit.WrapPositive(at), "rad") + " of each turn"
		f.Next = "See whether the pick-up ring of " + name + " rubs there, and align it."
		return f
	}
	if c.encoder.Travel < turnsForUncertainty*2*math.Pi {
		f.Sentence = name + " has turned " + num(c.encoder.Travel/(2*math.Pi), 1) + " turns; 3 are the least"
		f.Next = "Go on turning " + name + "."
		return f
	}
	if b.Frames.N() == 0 {
		f.Sentence = "no radial forces of " + name + " have come while its wheel turned"
		f.Next = "See that the force channels of " + name + " are alive, then turn it again."
		return f
	}
	if ok && rub+u > v.setup.Limits.DragNm/4 && !b.bunched() {
		f.Value, f.Uncertainty, f.Limit, f.Unit = known(rub), known(u), known(v.setup.Limits.DragNm/4), "N·m"
		f.Sentence = "the drag of " + name + " changes by " + within(rub, u, "N·m") + " with the angle; that is too close to the limit of " + show(v.setup.Limits.DragNm/4, "N·m") + " to decide"
		f.Next = "Turn " + name + " evenly for some more turns forward and back."
		return f
	}
	if b.errors == 0 {
		f.Verdict = Pass
		f.Sentence = "nothing went wrong in " + num(c.encoder.Travel/(2*math.Pi), 1) + " turns of " + name
		return f
	}
	if b.errors < leastErrors {
		f.Sentence = plural(b.errors, "error", "errors") + " in " + num(c.encoder.Travel/(2*math.Pi), 1) + " turns of " + name + "; " + num(leastErrors, 0) + " are the least to tell whether they bunch"
		f.Next = "Go on turning " + name + "."
		return f
	}
	t, at := b.test()
	if !b.bunched() && c.bunching.rolled.bunched() { // among errors of another kind, lifted
		t, at = c.bunching.rolled.test()
	}
	f.Value = known(t)
	if !f.Value.Known {
		f.Sentence = "the angles of " + name + " do not cover a turn"
		f.Next = "Go on turning " + name + "."
		return f
	}
	what := plural(b.Lost, "lost frame", "lost frames")
	if b.Odd > 0 {
		what += " and " + plural(b.Odd, "odd value", "odd values")
	}
	if f.Value.Value > bunchedLimit {
		f.Verdict = Fail
		f.Sentence = what + " of " + name + " bunch about " + show(fit.WrapPositive(at), "rad") + " of the turn"
		f.Next = "Align the pick-up ring of " + name + " with its rotating electronics; look for what it touches or where the gap opens at that angle."
		switch {
		case !c.ringKnown():
			f.Next += " If the ring is in order, look at the cable and its arm at that angle, or turn " + name + " three times on the lift: a ring loses frames there too, a cable that touches in the drive alone does not."
		case c.chafesOnGround():
			f.Sentence += ", all while it rolled: " + num(c.lifted(), 0) + " turns lifted had next to none there"
			f.Next = "Let the wheel of " + name + " stand at that angle and look where its cable or cable arm touches; fix the arm at the hub and at both body anchors."
		}
		return f
	}
	if side, chi, ok := c.bunching.curves.bunched(); ok {
		f.Verdict, f.Value = Fail, known(chi)
		f.Sentence = what + " of " + name + " came " + side.String() + ", next to none elsewhere"
		f.Next = "Steer the wheel of " + name + " to that side while the vehicle stands, hands out of the wheel arch; then look where its cable or cable arm is pulled or touches."
		return f
	}
	f.Verdict = Pass
	f.Sentence = what + " of " + name + " do not know the angle"
	return f
}

// rubbing returns how much the moment about the axle changes with the angle in the sense of a drag:
// its sign turns with the direction, which that of an uneven zero does not.
func (v *view) rubbing(i int) (amplitude, u, at float64, ok bool) {
	forward, back := v.byHand(i)
	var b fit.Bivariate
	for _, list := range [2][]Revolution{forward, back} {
		for k := range list {
			if r := &list[k]; r.Have&(1<<My) != 0 {
				s := float64(r.Dir)
				b.Add(s*real(r.Drag), s*imag(r.Drag))
			}
		}
	}
	n := float64(b.N())
	if n <= turnsForUncertainty {
		return 0, 0, 0, false
	}
	x, y := b.Mean()
	xx, xy, yy := b.Covariance()
	widest := (xx+yy)/2 + math.Sqrt(square((xx-yy)/2)+float64(xy*xy))
	return math.Hypot(x, y), fit.Expanded(fit.Part{U: math.Sqrt(widest / n), DOF: n - 1}), math.Atan2(y, x), true
}
