package checks

import "slices"

// session is one wheel being turned by hand, forward and back.
type session struct {
	corner int // whose angle turned
	from   int64
	back   bool
}

// span is a stretch of event time, ns.
type span struct{ from, to int64 }

// sessions finds which wheels were turned by hand, in their order. Beside the wheel that is
// turned, the opposite one of a driven axle turns backward at the same speed: the pair is
// the doing of the wheel that goes forward, and the way back that of the same wheel. along
// says for each corner when it was only driven along.
func (v *view) sessions() (out []session, along [][]span) {
	var all []phase
	for i := range v.corners {
		all = append(all, v.corners[i].phases.all(i, v.now)...)
	}
	slices.SortStableFunc(all, func(a, b phase) int {
		if a.from != b.from {
			return int(min(max(a.from-b.from, -1), 1))
		}
		return a.corner - b.corner
	})
	along = make([][]span, len(v.corners))
	taken := make([]bool, len(all))
	for i := range all {
		if taken[i] {
			continue
		}
		p, owner, back := all[i], all[i].corner, all[i].dir < 0
		for k := i + 1; k < len(all) && all[k].from < p.to; k++ {
			if q := all[k]; !taken[k] && q.corner != p.corner && q.dir != p.dir && together(p, q) {
				taken[k] = true
				var passive int
				owner, passive, back = v.whose(p, q, out)
				along[passive] = append(along[passive], span{min(p.from, q.from), max(p.to, q.to)})
				break
			}
		}
		if n := len(out); n > 0 && out[n-1].corner == owner && !v.calledFor(out[n-1].from, p.from) {
			out[n-1].back = out[n-1].back || back
			continue
		}
		out = append(out, session{owner, p.from, back})
	}
	return out, along
}

// whose tells which of two wheels that turn against each other is turned by hand, and which goes along.
func (v *view) whose(p, q phase, before []session) (owner, passive int, back bool) {
	forward, backward := p.corner, q.corner
	if p.dir < 0 {
		forward, backward = backward, forward
	}
	if n := len(before); n > 0 && before[n-1].corner == backward && !before[n-1].back && !v.calledFor(before[n-1].from, p.from) {
		return backward, forward, true
	}
	return forward, backward, false
}

// calledFor tells whether a person called for a wheel to be turned after one time, ns, and up to another.
func (v *view) calledFor(after, until int64) bool {
	for i := range v.marks {
		if m := &v.marks[i]; m.word == "turn" && m.At > after && m.At <= until {
			return true
		}
	}
	return false
}

// together tells whether two movements share most of their time and are about as long.
func together(p, q phase) bool {
	shared := float64(min(p.to, q.to) - max(p.from, q.from))
	longer := float64(max(p.to-p.from, q.to-q.from))
	return shared > longer/2 && p.travel < 2*q.travel && q.travel < 2*p.travel
}

// byHand returns the turns of corner i in which a hand turned it, forward and back: a wheel that
// is only driven along carries no moment about its axle.
func (v *view) byHand(i int) (forward, back []Revolution) {
	t := &v.corners[i].turn
	spans := v.wiring.along[i]
	along := func(r Revolution) bool {
		for _, s := range spans {
			if r.From < s.to && r.To > s.from {
				return true
			}
		}
		return false
	}
	forward = slices.DeleteFunc(slices.Clone(t.Forward), along)
	back = slices.DeleteFunc(slices.Clone(t.Back), along)
	return forward, back
}
