package web

import (
	"strings"
	"time"

	"plumbline/daemon"
)

// stepView is one step as the page shows it.
type stepView struct {
	ID, Title, How string
	Foreign        bool // How is as the setup says it
	Mark           mark
	Current        bool
	Caution        string
	Forward, Back  *progress
	Skipped        string
	Given          string // what was said
	Outside        bool   // what was read off lies out of range
	Value          bool   // a value is asked for
	Unit, Range    string
	Confirm        string // id of the confirmation
	Open           bool
	Query          string // appended to addresses
}

// stepViews returns the steps that signals tick and those that a person does.
func (c *composer) stepViews() (signals, persons []stepView) {
	now := current(c.m.steps)
	for i := range c.m.steps {
		st := &c.m.steps[i]
		v := stepView{
			ID: st.ID, Title: c.t("step."+st.Kind+".title", st.Corner), How: c.t(st.words() + ".how"),
			Current: st == now, Skipped: st.Skipped, Given: st.By, Open: st.open(), Mark: c.mark("open"), Query: c.query,
		}
		if st.Caution != "" {
			v.Caution = c.t("caution." + st.Caution)
		}
		switch {
		case st.Skipped != "":
			v.Mark = mark{"absent", c.t("state.skipped")}
		case st.Done:
			v.Mark = mark{"pass", c.t("state.done")}
		case st.Current(now):
			v.Mark = mark{"open", c.t("state.now")}
		}
		if st.Kind == "turn" {
			v.Forward, v.Back = c.turns(st.Forward), c.turns(st.Back)
		} else if st.open() && len(st.Missing) > 0 {
			v.How += " " + c.t("missing", strings.Join(st.Missing, ", "))
		}
		if st.Confirm == nil {
			signals = append(signals, v)
			continue
		}
		v.Title, v.How, v.Confirm = st.Text, "", st.Confirm.ID
		if st.Confirm.Min != nil || st.Confirm.Max != nil {
			v.Value, v.Unit, v.Range = true, st.Confirm.Unit, span(c.lang, st.Confirm.Min, st.Confirm.Max, st.Confirm.Unit)
		}
		if g := st.Confirm; g.Initials != "" {
			v.Given = g.Initials + ", " + clock(g.At)
			if g.Value != nil {
				v.Given = strings.TrimSpace(decimals(c.lang, *g.Value, -1)+" "+g.Unit) + ", " + v.Given
			}
			if v.Outside = g.Outside(); v.Outside {
				v.Mark = mark{"fail", c.t("state.outside")}
			}
		}
		persons = append(persons, v)
	}
	return signals, persons
}

// clock is a time of day, where the program runs.
func clock(at daemon.Instant) string { return time.Unix(0, int64(at)).Format("15:04") }

// Current reports whether the step is the one to be done now.
func (s *step) Current(now *step) bool { return s == now }
