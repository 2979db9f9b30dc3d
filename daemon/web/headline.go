package web

import (
	"math"
	"strings"

	"plumbline/checks"
	"plumbline/daemon"
)

// headline is the one thing to do next.
type headline struct {
	State    string // class: fail, open, pass or none
	Word     string // few words, to be read from three metres
	Size     string // class: how much room the words need
	Text     string // the rest of it, for arm's length
	Foreign  bool   // Text is English, whatever the language of the page
	Progress *progress
	Then     string // what the test would go on with, where a fault comes first
	Tape     bool   // it is that nothing is recorded
	Steps    bool   // it is done on the page of the steps
	Sign     bool   // the test can be signed now
	Signed   string // by whom, and when
	Say      string // for who listens: without figures that move
	Caution  string // of what there is to do
}

// progress is how far something is.
type progress struct {
	Have, Want float64 // turns
	Text       string
	Short      string // where there is little room
}

// done is the share in percent, 0 to 100.
func (p *progress) done() float64 { return max(0, min(100, 100*p.Have/p.Want)) }

// Width is the share that is done, in the user units of the drawing, 0 to 100.
func (p *progress) Width() string { return coordinate(p.done()) }

func (c *composer) headline() headline {
	h := c.whatNext()
	h.Size = size(h.Word)
	h.Say = strings.TrimSpace(h.Word + ". " + h.Text)
	h.Caution = c.caution()
	return h
}

// stopFirst stands before what is to be done about a fault while the vehicle drives; in English, as what the checks say.
const stopFirst = "Stop first. "

// size says how much room some words need.
func size(words string) string {
	switch n := len([]rune(words)); {
	case n <= 16:
		return "short"
	case n <= 30:
		return "middle"
	}
	return "long"
}

func (c *composer) whatNext() headline {
	if c.m.state == nothing || c.m.snapshot == nil {
		return headline{State: "none", Word: c.t("nodata"), Text: c.t("nodata.how")}
	}
	r := &c.m.result
	st := current(c.m.steps)
	if subjects, sentence, next, ok := worst(r); ok {
		h := headline{State: "fail", Word: c.t("fault", together(subjects)), Text: next, Foreign: true}
		switch {
		case next == "":
			h.Text = sentence
		case c.driving() != nil:
			h.Text = stopFirst + next
		}
		if st != nil && st.Way != "look" { // that is the fault
			h.Then, h.Progress = c.t("then", c.do(st)), c.progress(st)
		}
		return h
	}
	if st != nil {
		return headline{State: "open", Word: c.do(st), Text: c.how(st), Progress: c.progress(st), Steps: st.Confirm != nil}
	}
	if r.Verdict != checks.Pass {
		return headline{State: "open", Word: c.t("open.word"), Text: r.Next, Foreign: true}
	}
	h := headline{State: "pass", Word: c.t("passed"), Text: c.t("passed.how")}
	for i := range c.m.steps {
		if c.m.steps[i].Skipped != "" {
			h.Text = c.t("passed.skipped")
		}
	}
	return h
}

// caution is that of the step to be done now, else what always holds; empty in a drive, whose own stands beside it.
func (c *composer) caution() string {
	if c.driving() != nil {
		return ""
	}
	if st := current(c.m.steps); st != nil && st.Caution != "" {
		return c.t("caution." + st.Caution)
	}
	return c.t("caution.general")
}

// worst returns the fault that comes first: a cause, else a finding that failed.
func worst(r *daemon.Result) (subjects []string, sentence, next string, ok bool) {
	if len(r.Causes) > 0 {
		w := &r.Causes[0]
		return w.Subjects, w.Sentence, w.Next, true
	}
	for i := range r.Findings {
		if f := &r.Findings[i]; f.Verdict == checks.Fail {
			return []string{f.Subject}, f.Sentence, f.Next, true
		}
	}
	return nil, "", "", false
}

// together keeps a few short names on one line.
func together(names []string) string {
	if text := strings.Join(names, "\u00a0"); len(text) <= 14 {
		return text
	}
	return strings.Join(names, " ")
}

// do is a step in few words.
func (c *composer) do(st *step) string {
	switch {
	case st.Kind == "turn" && st.Forward < turnsWanted:
		return c.t("step.turn.forward", st.Corner)
	case st.Kind == "turn":
		return c.t("step.turn.back", st.Corner)
	}
	return c.t(st.words() + ".do")
}

// how is the rest of what is to be done.
func (c *composer) how(st *step) string {
	switch st.Kind {
	case "confirm":
		return st.Text
	case "plugs", "load", "optics", "alive":
		if len(st.Missing) > 0 {
			return c.t(st.words()+".how") + " " + c.t("missing", strings.Join(st.Missing, ", "))
		}
	case "lift", "roll":
		if n := len(st.Missing); n > 0 && n < len(c.m.snapshot.Now.Corners) {
			return c.t("step."+st.Kind+".how") + " " + c.t("missing", strings.Join(st.Missing, ", "))
		}
	}
	return c.t(st.words() + ".how")
}

// progress is how far the turning is; nil for a step without one.
func (c *composer) progress(st *step) *progress {
	if st.Kind != "turn" {
		return nil
	}
	have := st.Forward
	if have >= turnsWanted {
		have = st.Back
	}
	return c.turns(have)
}

func (c *composer) turns(have float64) *progress {
	// cut off and not rounded: 2.97 of 3 turns are not 3.0
	done, want := decimals(c.lang, math.Floor(have*10+1e-9)/10, 1), decimals(c.lang, turnsWanted, 0)
	return &progress{have, turnsWanted, c.t("turns", done, want), done + " / " + want}
}
