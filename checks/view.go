package checks

import (
	"math/cmplx"
	"slices"

	"plumbline/checks/fit"
)

// view is what the checks read: the evidence of one moment, and what several of
// them need worked out of it once.
type view struct {
	*Judge
	depth    viewDepth
	timings  []Timing // by message, with what could be learnt so far
	spins    []spin   // by corner
	wiring   wiring
	slips    []Finding // by corner: what angle-slip says; others rest on it
	straight straights
	rests    []atRest // by corner and component, as far as they were asked for
}

// spin sums up the turns of one lifted wheel.
type spin struct {
	revolutions []Revolution
	forward     int
	back        int
	plus, minus float64 // mean sizes of the sequences, N
	evidence    Evidence
}

func newView(j *Judge) *view {
	v := &view{Judge: j}
	v.build(viewAll)
	return v
}

// viewDepth says how much of a view has been worked out: each check needs what its reading takes, and
// the deeper ones cost more than most checks do.
type viewDepth uint8

const (
	viewNone  viewDepth = iota
	viewTurns           // timings, turns and wiring
	viewSlips           // what angle-slip says as well
	viewAll             // the straight roll as well
)

// build works out what is missing down to a depth.
func (v *view) build(to viewDepth) {
	from := v.depth
	v.depth = max(from, to)
	if from < viewTurns && to >= viewTurns {
		v.buildTurns()
	}
	if from < viewSlips && to >= viewSlips {
		v.slips = v.eachCorner(v.slipOf)
	}
	if from < viewAll && to >= viewAll {
		v.straight = newStraights(v)
		for k := range v.rolls.optics {
			v.straight.wheels = append(v.straight.wheels, v.common(k))
		}
		v.straight.radii = v.eachCorner(v.radiusOf)
	}
}

func (v *view) buildTurns() {
	j := v.Judge
	for i := range j.messages {
		v.timings = append(v.timings, j.messages[i].timing.settle())
	}
	for i := range j.corners {
		v.spins = append(v.spins, newSpin(&j.corners[i].turn, j.corners[i].setup.fitted(Fx, Fz)))
	}
	v.wiring = newWiring(v)
}

// newSpin takes the turns that radial forces came with throughout, or all where the corner has none.
func newSpin(t *Turn, radial bool) spin {
	s := spin{revolutions: t.all()}
	if radial {
		s.revolutions = slices.DeleteFunc(s.revolutions, func(r Revolution) bool { return r.Have&(1<<Fx|1<<Fz) != 1<<Fx|1<<Fz })
	}
	var plus, minus fit.Welford
	for i := range s.revolutions {
		r := &s.revolutions[i]
		if r.Dir > 0 {
			s.forward++
		} else {
			s.back++
		}
		if s.evidence.From == 0 || r.From < s.evidence.From {
			s.evidence.From = r.From
		}
		s.evidence.To = max(s.evidence.To, r.To)
		s.evidence.Samples += r.Samples
		plus.Add(cmplx.Abs(r.Plus))
		minus.Add(cmplx.Abs(r.Minus))
	}
	s.evidence.Revolutions = float64(len(s.revolutions))
	if plus.N() > 0 {
		s.plus, s.minus = plus.Mean(), minus.Mean()
	}
	return s
}

// eachCorner judges every corner.
func (v *view) eachCorner(judge func(i int) Finding) []Finding {
	out := make([]Finding, 0, len(v.corners))
	for i := range v.corners {
		out = append(out, judge(i))
	}
	return out
}

// size returns the larger sequence: what the radial forces answer to the angle, N, whichever way it counts.
func (s *spin) size() float64 { return max(s.plus, s.minus) }

// reversed tells whether the part that turns against the angle dominates.
func (s *spin) reversed() bool { return s.minus > 2*s.plus }

// The least number of turns for a value and for an uncertainty.
const (
	turnsForValue       = 1
	turnsForUncertainty = 3
)

// turnMore says what is missing where a lifted wheel has not been turned enough, in
// both directions if both are needed; ok is true where nothing is missing.
func (v *view) turnMore(i int, both bool) (sentence, next string, ok bool) {
	c := &v.corners[i]
	name := c.setup.Name
	s := &v.spins[i]
	forward, back := c.turn.progress(+1), c.turn.progress(-1)
	switch {
	case len(s.revolutions) == 0 && c.turn.Done != [2]int64{}:
		sentence = name + " has turned " + num(forward, 1) + " turns forward and " + num(back, 1) + " back while lifted, but its radial forces had gaps or stood still"
		next = "See that fx and fz of " + name + " are alive at the amplifier, then turn the lifted wheel again."
	case len(s.revolutions) == 0:
		sentence = name + " has turned " + num(forward, 1) + " turns forward and " + num(back, 1) + " back while lifted; 1 is the least, 3 give an uncertainty"
		next = "Lift " + name + " and turn it with two hands on opposite sides, so that they add no force: three turns forward, then three turns back."
	case both && (s.forward == 0 || s.back == 0):
		done, missing, n := "forward", "back", forward
		if s.forward == 0 {
			done, missing, n = "back", "forward", back
		}
		sentence = name + " has turned " + num(n, 1) + " turns " + done + ", but not " + missing + "; both are needed"
		next = "Turn " + name + " three turns " + missing + "."
	case len(s.revolutions) < turnsForUncertainty || both && len(s.revolutions) < turnsForUncertainty+1:
		sentence = name + " has turned " + plural(int64(s.forward), "whole turn", "whole turns") + " forward and " + num(float64(s.back), 0) + " back; 3 give an uncertainty"
		next = "Go on turning " + name + ": three turns forward, then three turns back."
	default:
		return "", "", true
	}
	return sentence, next, false
}

// broughtMore says what is missing where too few of the turns forward and back brought a component.
func (v *view) broughtMore(i int, q Quantity, forward, back int64) (sentence, next string, ok bool) {
	name := v.corners[i].setup.Name
	switch n := forward + back; {
	case q == My && (n <= turnsForUncertainty || forward == 0 || back == 0):
		sentence = name + " my is known from " + plural(forward, "turn", "turns") + " forward and " + num(float64(back), 0) + " back; turns without its values do not count, nor those in which the opposite wheel drove it along"
		next = "Turn " + name + " itself three turns forward, then three turns back."
	case n < turnsForUncertainty:
		sentence = name + " " + q.String() + " is known from " + plural(n, "whole turn", "whole turns") + "; 3 give an uncertainty"
		next = "See that the values of " + name + " " + q.String() + " arrive without gaps, then turn the lifted wheel again."
	default:
		return "", "", true
	}
	return sentence, next, false
}

// fitted tells whether the corner has all of these channels.
func (c *Corner) fitted(qs ...Quantity) bool {
	for _, q := range qs {
		if c.Channels[q] == None {
			return false
		}
	}
	return true
}

// expanded returns the expanded uncertainty of the parts, and keeps them.
func (f *Finding) expanded(repeat fit.Part, resolution, count float64) float64 {
	if repeat.U-repeat.U == 0 && repeat.DOF > 0 {
		f.Parts = Parts{significant(repeat.U), significant(repeat.DOF), significant(resolution), significant(count)}
	}
	return fit.Expanded(repeat, fit.TypeB(resolution), fit.TypeB(count))
}

// guard judges value ± u against limit about the value that is right, and fills the finding.
func (f *Finding) guard(value, right, u, limit float64) {
	f.Value, f.Uncertainty, f.Limit = known(value), known(u), known(limit)
	if !f.Value.Known || !f.Uncertainty.Known {
		return
	}
	switch fit.Guard(f.Value.Value-right, f.Uncertainty.Value, f.Limit.Value) {
	case fit.Within:
		f.Verdict = Pass
	case fit.Beyond:
		f.Verdict = Fail
	case fit.Undecided:
	}
}
