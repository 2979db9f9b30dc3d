package checks

import "slices"

// Result is what all checks say at one moment.
type Result struct {
	Verdict  Verdict
	Findings []Finding
	Causes   []Cause
	Corners  []Seen  // by corner of the setup
	Next     string  // the one thing to do next; empty when nothing is open
	Drives   []Drive // the newest 50, oldest first
}

// Result judges the evidence gathered so far. It changes nothing and can be asked at any time.
func (j *Judge) Result() Result {
	v := newView(j)
	var r Result
	all, found, count := All(), [][]Finding{}, 0
	for i := range all {
		of := all[i].judge(v)
		found, count = append(found, of), count+len(of)
	}
	r.Findings = make([]Finding, 0, count) // hundreds, and long ones: to move them costs more than some checks do
	for n := range all {
		c := &all[n]
		for i := range found[n] {
			f := &found[n][i]
			f.Failed = j.failed(n, f)
			f.Check = c.Name
			if e := &f.Evidence; e.To < e.From { // stamps that scatter
				e.From, e.To = e.To, e.From
			}
			f.Required = v.required(c, f) && (c.Name != "hum" || humOpen(f))
			r.Findings = append(r.Findings, *f)
		}
	}
	r.Causes = causes(v, r.Findings)
	r.Verdict = overall(r.Findings)
	r.Next = next(v, &r)
	r.Drives = slices.Clone(j.driving.drives)
	r.Corners = v.seen()
	return r
}

// overall is fail if anything fails, else inconclusive if a required finding is, else
// pass. Where nothing was judged nothing has passed.
func overall(findings []Finding) Verdict {
	verdict, judged := Pass, false
	for i := range findings {
		switch f := &findings[i]; {
		case f.Verdict == Fail:
			return Fail
		case f.Verdict == Inconclusive && f.Required:
			verdict = Inconclusive
		case f.Verdict == Pass:
			judged = true
		}
	}
	if !judged {
		return Inconclusive
	}
	return verdict
}
