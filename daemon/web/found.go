package web

import (
	"slices"
	"strings"

	"plumbline/checks"
	"plumbline/daemon"
)

// found is what was found, most serious first.
type found struct {
	Causes []causeView
	Failed []findingView // that no cause explains
	Open   []openView
	Passed int // required and passed
	Wanted int // required
	Minor  int // neither judged nor required
}

// causeView is one cause.
type causeView struct {
	Subjects, Sentence, Next string
	Explains                 int
}

// findingView is one finding.
type findingView struct {
	Key, Check, Subject, Channel string
	Mark                         mark
	Value, Limit                 string
	Sentence, Next               string
}

// openView is what one action would settle.
type openView struct {
	Next     string
	Subjects string
	Count    int
}

func (c *composer) found() found {
	r := &c.m.result
	out := c.open(func(*daemon.Finding) bool { return true })
	for i := range r.Causes {
		w := &r.Causes[i]
		out.Causes = append(out.Causes, causeView{strings.Join(w.Subjects, " "), w.Sentence, w.Next, len(w.Explains)})
	}
	for i := range r.Findings {
		if f := &r.Findings[i]; f.Verdict == checks.Fail && f.Cause == "" {
			out.Failed = append(out.Failed, c.finding(f))
		}
	}
	return out
}

// open gathers what is open by what there is to do about it: a dozen checks wait for the same turn of the same wheel.
func (c *composer) open(wanted func(*daemon.Finding) bool) found {
	var out found
	var subjects [][]string
	for i := range c.m.result.Findings {
		f := &c.m.result.Findings[i]
		if !wanted(f) {
			continue
		}
		switch {
		case !f.Required && f.Verdict == checks.Inconclusive:
			out.Minor++
		case f.Required && f.Verdict == checks.Pass:
			out.Passed++
			out.Wanted++
		case f.Required && f.Verdict == checks.Fail:
			out.Wanted++
		case f.Required && f.Verdict == checks.Inconclusive:
			out.Wanted++
			next := f.Next
			if next == "" {
				next = f.Sentence
			}
			at := slices.IndexFunc(out.Open, func(o openView) bool { return o.Next == next })
			if at < 0 {
				at = len(out.Open)
				out.Open, subjects = append(out.Open, openView{Next: next}), append(subjects, nil)
			}
			out.Open[at].Count++
			if !slices.Contains(subjects[at], f.Subject) {
				subjects[at] = append(subjects[at], f.Subject)
			}
		}
	}
	for i := range out.Open {
		out.Open[i].Subjects = strings.Join(subjects[i], " ")
	}
	return out
}

func (c *composer) finding(f *daemon.Finding) findingView {
	channel := ""
	if f.Channel != "" {
		channel = c.t("quantity." + f.Channel)
	}
	return findingView{
		Key: f.Name(), Check: f.Check, Subject: f.Subject, Channel: channel, Mark: c.verdict(f.Verdict),
		Value: measured(c.lang, f.Value, f.Uncertainty, f.Unit), Limit: bound(c.lang, f.Limit, f.Unit),
		Sentence: f.Sentence, Next: f.Next,
	}
}
