package checks

// How Follow looks, in whole seconds of event time.
const (
	followNs    = int64(1e9)
	followAgain = 5   // s between two judgements of a check that fails, of which nothing new is known
	followAll   = 300 // s after which a check is judged whether or not its evidence seems to have changed
	actsFor     = 10  // s after the last occurrence in which a finding still counts as failing
)

// follower keeps when findings failed. It judges a check only where its evidence has changed, on whole
// seconds of event time, so that it says the same live and in a replay and costs next to nothing.
type follower struct {
	checks []Check // nil: nobody has asked yet
	rules  []followRule
	states []followed // by check
	second int64
	view   *view // of the second under way; nil: not built
}

// followRule says how a check is followed.
type followRule struct {
	every int64                   // s between two judgements at the least; 0: at every second
	depth viewDepth               // what its reading takes of a view
	seen  func(j *Judge) evidence // changes where its evidence does; nil: it is judged each time

	// against is set for a check that, once it has failed, says so for good: how much speaks against one of its findings,
	// and whether what speaks against it goes on. It fails anew where that grows. nil: it fails while its verdict is Fail.
	against func(j *Judge, f place) (n int64, on bool)
}

// place is where a finding stands among those of its check.
type place struct{ subject, channel string }

// followed is what is known of one check.
type followed struct {
	seen    evidence
	judged  int64 // s
	slot    int64
	begun   bool
	failing bool // a finding failed at the last judgement
	past    map[place]*history
}

// history is when one finding failed.
type history struct {
	Failed
	fails   bool // its verdict
	failed  bool // its verdict a second ago
	against int64
	acted   int64 // s, when against last grew
}

// Follow notes what fails. It is to be called on a grid of event time, at least once a second; at is ns. What it
// notes is part of each Result from then on.
func (j *Judge) Follow(at int64) {
	f := &j.follows
	second := floorDiv(j.clock.advance(at, j.now), followNs)
	if f.checks == nil {
		f.checks, f.second = All(), second
		f.rules, f.states = make([]followRule, len(f.checks)), make([]followed, len(f.checks))
		for i := range f.checks {
			f.rules[i] = followRuleOf(f.checks[i].Name)
		}
		return
	}
	if second == f.second {
		return
	}
	f.second, f.view = second, nil
	for i := range f.checks {
		s, r := &f.states[i], &f.rules[i]
		if j.due(s, r) {
			j.judgeAnew(&f.checks[i], s, r)
		}
		for p, h := range s.past {
			h.goOn(j, p, r, second)
		}
	}
	f.view = nil
}

// due tells whether a check is to be judged in this second.
func (j *Judge) due(s *followed, r *followRule) bool {
	second := j.follows.second
	slot := floorDiv(second, max(r.every, 1))
	if s.begun && slot == s.slot {
		return false
	}
	s.slot = slot
	if !s.begun || r.seen == nil {
		return true
	}
	since := second - s.judged
	seen := r.seen(j)
	if seen == s.seen && since >= 0 && since < followAll && (!s.failing || since < followAgain) {
		return false
	}
	s.seen = seen
	return true
}

// judgeAnew judges a check and notes which of its findings fail.
func (j *Judge) judgeAnew(c *Check, s *followed, r *followRule) {
	f := &j.follows
	if f.view == nil {
		f.view = &view{Judge: j}
	}
	f.view.build(r.depth)
	s.begun, s.judged, s.failing = true, f.second, false
	findings := c.judge(f.view)
	for _, h := range s.past {
		h.fails = false
	}
	for i := range findings {
		x := &findings[i]
		if x.Verdict != Fail {
			continue
		}
		s.failing = true
		p := place{x.Subject, x.Channel}
		h := s.past[p]
		if h == nil {
			h = &history{}
			if s.past == nil {
				s.past = map[place]*history{}
			}
			s.past[p] = h
		}
		h.fails = true
	}
}

// goOn takes a finding on to the second that has come.
func (h *history) goOn(j *Judge, p place, r *followRule, second int64) {
	on := h.fails
	if on && r.against != nil {
		var n int64
		n, on = r.against(j, p)
		if n > h.against || on || !h.failed {
			h.acted = second
		}
		h.against = n
		on = second >= h.acted && second-h.acted <= actsFor
	}
	switch {
	case on && !h.Now:
		h.Count++
		h.Began = second * followNs
		if h.First == 0 {
			h.First = h.Began
		}
		h.Last = second * followNs
	case on && (r.against == nil || h.acted == second):
		h.Last = second * followNs
	}
	h.Now, h.failed = on, h.fails
}

// failed returns when a finding of check number c failed. A finding that fails since less than a look ago has failed now.
func (j *Judge) failed(c int, x *Finding) Failed {
	f := &j.follows
	if f.checks == nil {
		return Failed{}
	}
	var out Failed
	if h := f.states[c].past[place{x.Subject, x.Channel}]; h != nil {
		out = h.Failed
		if x.Verdict == Fail && !h.fails {
			out.Now = false // it has begun anew since
		} else if x.Verdict == Fail {
			return out
		}
	}
	if x.Verdict != Fail {
		out.Now = false
		return out
	}
	at := max(f.second, floorDiv(j.now, followNs)) * followNs
	if out.First == 0 {
		out.First = at
	}
	out.Began, out.Last, out.Now = at, at, true
	out.Count++
	return out
}

// floorDiv rounds down, also below zero.
func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}
