package daemon

import "plumbline/checks"

// Watch follows how verdicts move from one result to the next. The zero value
// has seen nothing; it belongs to one goroutine.
type Watch struct {
	seen map[[2]string]checks.Verdict // by subject and check
}

// Change is a check of a subject whose verdict has moved. The verdict is that of
// all its channels: fail if one fails, else inconclusive if one is, else pass.
type Change struct {
	Subject, Check string
	From, To       checks.Verdict
	Sentence       string // of the first finding that says To
}

// Look returns what has moved since the last look, in the order of the findings.
// The first look starts from inconclusive; what is absent from the start is no change.
func (w *Watch) Look(r *Result) []Change {
	first := w.seen == nil
	if first {
		w.seen = map[[2]string]checks.Verdict{}
	}
	now := map[[2]string]*Change{}
	var order []*Change
	for i := range r.Findings {
		f := &r.Findings[i]
		key := [2]string{f.Subject, f.Check}
		c := now[key]
		switch {
		case c == nil:
			c = &Change{Subject: f.Subject, Check: f.Check, To: f.Verdict, Sentence: f.Sentence}
			now[key] = c
			order = append(order, c)
		case weight(f.Verdict) > weight(c.To):
			c.To, c.Sentence = f.Verdict, f.Sentence
		}
	}
	var changes []Change
	for _, c := range order {
		key := [2]string{c.Subject, c.Check}
		c.From = w.seen[key]
		w.seen[key] = c.To
		if c.From != c.To && (!first || c.To != checks.Absent) {
			changes = append(changes, *c)
		}
	}
	return changes
}

// weight orders verdicts by how much they count against a subject.
func weight(v checks.Verdict) int {
	switch v {
	case checks.Fail:
		return 3
	case checks.Inconclusive:
		return 2
	case checks.Pass:
		return 1
	case checks.Absent:
	}
	return 0
}
