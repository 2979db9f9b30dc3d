package report

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// testView is one test as the template shows it.
type testView struct {
	Title         string // which of several; empty where there is one
	Verdict       checks.Verdict
	Word, Meaning string
	Counts        string
	Trouble       string   // why the recording could not be judged
	Next          string   // the one next thing to do
	Warnings      []string // about the recording
	Captures      []string
	Causes        []causeView
	Failures      []pointView
	Explained     string
	Open          []pointView
	Groups        []string // heads of the overview
	Overview      []overviewRow
	Corners       []cornerView
	Others        []subjectView
	Confirmed     []confirmedRow
	Deviations    []deviationRow
	NotTested     []notTested
}

type causeView struct{ Subjects, Sentence, Next, Explains string }

type pointView struct{ Label, Sentence, Next string }

type overviewRow struct {
	Subject string
	Cells   []mark
}

// mark is a verdict as shape and word; the zero value is nothing.
type mark struct {
	Verdict checks.Verdict
	Word    string
	Soft    bool // nothing waits for it
}

type deviationRow struct{ Step, Reason, Initials, Time string }

type notTested struct{ Label, Word, Why string }

func (v *view) mark(verdict checks.Verdict, required bool) mark {
	if verdict == checks.Inconclusive && !required {
		return mark{verdict, v.W.NotJudged, true} // its evidence did not come by, which is no warning
	}
	return mark{Verdict: verdict, Word: v.W.Verdict[verdict]}
}

// explains writes names of findings shortly: the channels of a subject together.
func explains(names []string) string {
	var out strings.Builder
	last := ""
	for _, name := range names {
		check, rest, _ := strings.Cut(name, "/")
		subject, channel, _ := strings.Cut(rest, "/")
		head := subject + " " + check
		switch {
		case head != last && out.Len() > 0:
			out.WriteString("; " + head)
		case head != last:
			out.WriteString(head)
		}
		if channel != "" {
			out.WriteString(" " + channel)
		}
		last = head
	}
	return out.String()
}

func (v *view) test(n int) testView {
	t := &v.Doc.Tests[n]
	r := &t.Result
	out := testView{Verdict: r.Verdict, Word: v.W.Verdict[r.Verdict], Meaning: v.W.Overall[r.Verdict], Next: printable(r.Next)}
	if len(v.Doc.Tests) > 1 && len(r.Captures) > 0 {
		out.Title = fmt.Sprintf("%d %s %d: %s", n+1, v.W.Of, len(v.Doc.Tests), printable(r.Captures[0].File))
	}
	v.captures(&out, r)
	for i := range r.Causes {
		c := &r.Causes[i]
		out.Causes = append(out.Causes, causeView{
			printable(strings.Join(c.Subjects, ", ")), printable(c.Sentence), printable(c.Next), printable(explains(c.Explains)),
		})
	}
	out.Failures = pointViews(r.Findings, func(f *daemon.Finding) bool { return f.Verdict == checks.Fail && f.Cause == "" })
	out.Open = pointViews(r.Findings, func(f *daemon.Finding) bool {
		return f.Verdict == checks.Inconclusive && f.Required && f.Cause == ""
	})
	explained := 0
	for i := range r.Findings {
		if r.Findings[i].Verdict == checks.Fail && r.Findings[i].Cause != "" {
			explained++
		}
	}
	if explained > 0 {
		out.Explained = fmt.Sprintf(v.W.FailuresExplained, explained)
	}
	v.overview(&out, r)
	v.subjects(&out, t)
	v.confirmed(&out, t)
	for _, d := range t.Deviations {
		out.Deviations = append(out.Deviations, deviationRow{printable(d.Step), printable(d.Reason), printable(d.Initials), v.date(d.At)})
	}
	v.notTested(&out, r)
	out.Counts = v.counts(r, &out)
	return out
}

func (v *view) captures(out *testView, r *daemon.Result) {
	for i := range r.Captures {
		c := &r.Captures[i]
		line := printable(c.File) + ": " + fmt.Sprintf(v.W.Frames, c.Frames)
		if c.First != 0 && c.Last >= c.First {
			line += fmt.Sprintf(", %s, %s s", v.date(c.First), v.number(fmt.Sprintf("%.1f", float64(c.Last-c.First)/1e9)))
		}
		out.Captures = append(out.Captures, line)
		for _, warning := range c.Warnings {
			out.Warnings = append(out.Warnings, printable(warning))
		}
	}
	switch {
	case r.Unusable() && len(r.Findings) == 0:
		out.Trouble = v.W.Unusable
	case r.Unusable():
		out.Trouble = v.W.UnusableEnd
	}
}

// counts says in figures what the one word leaves open.
func (v *view) counts(r *daemon.Result, t *testView) string {
	var failed, open int
	for i := range r.Findings {
		if r.Findings[i].Verdict == checks.Fail {
			failed++
		}
	}
	for i := range t.Confirmed {
		if t.Confirmed[i].Open || t.Confirmed[i].Outside {
			open++
		}
	}
	var parts []string
	for _, c := range []struct {
		n      int
		format string
	}{{failed, v.W.Failed}, {len(r.Open), v.W.StillOpen}, {open, v.W.OpenConfirmed}} {
		if c.n > 0 {
			parts = append(parts, fmt.Sprintf(c.format, c.n))
		}
	}
	return strings.Join(parts, " · ")
}

func pointViews(findings []daemon.Finding, want func(*daemon.Finding) bool) []pointView {
	points := merge(findings, want)
	out := make([]pointView, len(points))
	for i := range points {
		p := &points[i]
		out[i] = pointView{printable(p.label()), printable(p.sentence), printable(p.next)}
	}
	return out
}

func (v *view) overview(out *testView, r *daemon.Result) {
	o := overviewOf(r.Findings)
	for _, g := range o.groups {
		out.Groups = append(out.Groups, v.W.Groups[checks.Group(g)])
	}
	for i, subject := range o.subjects {
		row := overviewRow{Subject: printable(subject)}
		for _, c := range o.cells[i] {
			m := mark{}
			if c.known {
				m = v.mark(c.verdict, c.held)
			}
			row.Cells = append(row.Cells, m)
		}
		out.Overview = append(out.Overview, row)
	}
}

// manyRows is how many rows of one check are one too many: a drive that did not happen is said once, not for each of
// thirty channels.
const manyRows = 6

// notTested lists what has no verdict, once for what is said in the same words.
func (v *view) notTested(out *testView, r *daemon.Result) {
	for _, kind := range []struct {
		verdict checks.Verdict
		word    string
	}{{checks.Inconclusive, v.W.NotJudged}, {checks.Absent, v.W.NotFitted}} {
		points := merge(r.Findings, func(f *daemon.Finding) bool { return f.Verdict == kind.verdict })
		rows, subjects := map[string]int{}, map[string][]string{}
		for _, p := range points {
			rows[p.check]++
			for _, s := range p.subjects {
				if !slices.Contains(subjects[p.check], s) {
					subjects[p.check] = append(subjects[p.check], s)
				}
			}
		}
		for _, p := range points {
			switch n := rows[p.check]; {
			case n > manyRows:
				out.NotTested = append(out.NotTested, notTested{printable(strings.Join(subjects[p.check], ", ") + " " + p.check), kind.word, v.W.InTables})
				rows[p.check] = -1 // said
			case n > 0:
				out.NotTested = append(out.NotTested, notTested{printable(p.label()), kind.word, printable(p.sentence)})
			}
		}
	}
}

// confirmedRow is one confirmation. Open ones have a box to tick.
type confirmedRow struct {
	Text, Range, Value, Initials, Time, State string
	Open, Outside                             bool
	NotPossible                               bool // Value holds no value then, and Deviations say why
}

func (v *view) confirmed(out *testView, t *Test) {
	left := slices.Clone(t.Given)
	for i := range t.Result.Confirmations {
		c := &t.Result.Confirmations[i]
		row := confirmedRow{Text: printable(c.Text), Range: v.span(c), State: printable(c.State)}
		j := slices.IndexFunc(left, func(g Given) bool { return g.ID == c.ID })
		switch {
		case j >= 0:
			v.given(&row, &left[j], c)
			left = slices.Delete(left, j, j+1)
		case c.State == daemon.StateNotPossible:
			row.NotPossible, row.State, row.Initials, row.Time = true, v.W.NotPossible, printable(c.Initials), v.date(c.At)
		case c.State == daemon.StateOpen || c.State == "":
			row.Open, row.State = true, v.W.NotGiven
		}
		out.Confirmed = append(out.Confirmed, row)
	}
	for i := range left {
		row := confirmedRow{Text: printable(left[i].ID)}
		v.given(&row, &left[i], &daemon.Confirmation{})
		out.Confirmed = append(out.Confirmed, row)
	}
}

func (v *view) given(row *confirmedRow, g *Given, c *daemon.Confirmation) {
	row.State, row.Initials, row.Time = v.W.Given, printable(g.Initials), v.date(g.At)
	if g.Value == nil {
		if c.Min != nil || c.Max != nil { // a value is asked for, and none was read off
			row.Open, row.State = true, v.W.NotGiven
		}
		return
	}
	row.Value = v.number(bound(*g.Value, unit{factor: 1})) + " " + printable(c.Unit)
	if c.Min != nil && *g.Value < *c.Min || c.Max != nil && *g.Value > *c.Max {
		row.Outside, row.State = true, v.W.Outside
	}
}

// span is the range of a confirmation, in the language of the report.
func (v *view) span(c *daemon.Confirmation) string {
	u := unit{factor: 1}
	text := ""
	switch {
	case c.Min != nil && c.Max != nil:
		text = bound(*c.Min, u) + " – " + bound(*c.Max, u)
	case c.Min != nil:
		text = v.W.From + " " + bound(*c.Min, u)
	case c.Max != nil:
		text = v.W.Most + " " + bound(*c.Max, u)
	}
	return strings.TrimSpace(v.number(text) + " " + printable(c.Unit))
}

// cornerRow is one corner of the setup.
type cornerRow struct {
	Name, Place, Serial, Sent, Forces, Counts, Bolts, Mass, Overhang, Load, Tyre string
}

// corners lists what the setup says of each corner. What it does not say is a dash.
func (v *view) corners() {
	if v.Doc.Setup == nil {
		return
	}
	u := unit{factor: 1}
	positive := func(x, factor float64) string {
		if x == 0 {
			return "–"
		}
		return v.number(bound(x*factor, u))
	}
	for i := range v.Doc.Setup.Checks.Corners {
		c := &v.Doc.Setup.Checks.Corners[i]
		row := cornerRow{
			Name: printable(c.Name), Place: v.place(c), Serial: "–", Sent: v.sent(c), Forces: v.W.Rotating,
			Counts: positive(float64(c.AngleCounts), 1), Bolts: positive(float64(c.Bolts), 1), Mass: positive(c.WheelMassKg, 1),
			Overhang: v.number(bound(c.OverhangM*1000, u)), Load: positive(c.LoadN, 1), Tyre: printable(c.Tyre),
		}
		if c.HasSerial {
			row.Serial = strconv.FormatUint(c.Serial, 10)
		}
		if c.Forces == checks.Fixed {
			row.Forces = v.W.Fixed
		}
		if row.Tyre == "" {
			row.Tyre = "–"
		}
		v.Corners = append(v.Corners, row)
	}
}

func (v *view) place(c *checks.Corner) string {
	side := v.W.Left
	if c.Side == checks.Right {
		side = v.W.Right
	}
	return fmt.Sprintf(v.W.Axle, c.Axle) + ", " + side
}

// sent is the serial number that the corner sent last, in the newest test that has one.
func (v *view) sent(c *checks.Corner) string {
	channel := c.Channels[checks.Serial]
	for _, t := range slices.Backward(v.Doc.Tests) {
		now := t.Now
		if now != nil && channel >= 0 && int(channel) < len(now.Channels) && now.Channels[channel].Known {
			return fixed(now.Channels[channel].Value, 0)
		}
	}
	return "–"
}

// cornerOf returns the number of a corner in the setup, -1 for none.
func cornerOf(s *setup.Setup, name string) int {
	if s == nil {
		return -1
	}
	return slices.IndexFunc(s.Checks.Corners, func(c checks.Corner) bool { return c.Name == name })
}
