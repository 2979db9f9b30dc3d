package report

import (
	"cmp"
	"fmt"
	"io"
	"strings"
	"time"

	"plumbline/checks"
	"plumbline/daemon"
)

// Text writes results for people: causes first, then failures with what to do,
// then what is still open, an overview, the values with their limits and the
// confirmations that no signal can give, and the steps that were gone on without.
func Text(w io.Writer, results []daemon.Result, style Style) error {
	rows := make([]Row, len(results))
	for i := range results {
		rows[i] = RowOf(&results[i])
		if err := TextItem(w, &results[i], i == 0, style); err != nil {
			return err
		}
	}
	return TextTail(w, rows, style)
}

// TextItem writes one of several results, as Text does.
func TextItem(w io.Writer, r *daemon.Result, first bool, style Style) error {
	var out strings.Builder
	if !first {
		out.WriteByte('\n')
	}
	t := text{&out, style, r}
	t.write()
	if _, err := io.WriteString(w, out.String()); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// TextTail writes what Text writes behind the results.
func TextTail(w io.Writer, rows []Row, style Style) error {
	var out strings.Builder
	if len(rows) > 1 {
		out.WriteByte('\n')
		if err := Summary(&out, rows, style); err != nil {
			return err
		}
	}
	out.WriteByte('\n')
	wrap(&out, style.plain(caution), 0, style.width())
	if _, err := io.WriteString(w, out.String()); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// caution stands under every result.
const caution = "plumbline is an aid: it says which checks passed, not whether a vehicle may be driven. Lifted vehicle, turning wheels: " +
	"rated stands, chocks, nobody beside a driven wheel. Torque by the vehicle maker's figures, and again after the first " +
	"kilometres. Local rules and the site's licensed practice come first."

// text writes one result.
type text struct {
	*strings.Builder
	style  Style
	result *daemon.Result
}

func (t text) write() {
	t.head()
	t.causes()
	failed := merge(t.result.Findings, func(f *daemon.Finding) bool { return f.Verdict == checks.Fail && f.Cause == "" })
	t.points("Failed", failed, checks.Fail)
	t.explained()
	t.times()
	open := merge(t.result.Findings, func(f *daemon.Finding) bool { return f.Verdict == checks.Inconclusive && f.Required && f.Cause == "" })
	if len(t.result.Drives) > 0 && len(open) > maxOpen {
		t.openInDrive()
	} else {
		t.points("Still open", open, checks.Inconclusive)
	}
	t.overview()
	t.values()
	if len(t.result.Findings) > 0 && !t.justDriven() { // else nothing was judged that a person could complete
		t.confirmations()
		t.deviations()
	}
}

// head says what was judged, and the verdict.
func (t text) head() {
	r := t.result
	for i := range r.Captures {
		c := &r.Captures[i]
		line := fmt.Sprintf("%s: %d frames", printable(c.File), c.Frames)
		if c.Frames == 1 {
			line = printable(c.File) + ": 1 frame"
		}
		if c.First != 0 && c.Last >= c.First {
			line += fmt.Sprintf(", from %s, %.1f s", clock(c.First), time.Duration(c.Last-c.First).Seconds())
		}
		wrap(t.Builder, t.style.plain(line), 0, t.style.width())
	}
	wrap(t.Builder, t.style.plain(fmt.Sprintf("%s, judged by %s (%s)",
		printable(r.Setup.Vehicle), printable(r.Setup.File), printable(r.Program))), 0, t.style.width())
	for i := range r.Captures {
		for _, warning := range r.Captures[i].Warnings {
			t.WriteString("! ")
			wrap(t.Builder, t.style.plain(printable(warning)), 2, t.style.width())
		}
	}
	t.WriteByte('\n')
	t.WriteString(t.style.paint(t.style.plain(verdictLine(r)), r.Verdict))
	t.WriteByte('\n')
	if r.Next != "" && (len(r.Causes) == 0 || r.Causes[0].Next != r.Next) { // else it stands right below
		t.next(r.Next, 0)
	}
}

// verdictLine counts, so that the line says more than one word.
func verdictLine(r *daemon.Result) string {
	failed := 0
	for i := range r.Findings {
		if r.Findings[i].Verdict == checks.Fail {
			failed++
		}
	}
	line := strings.ToUpper(sign(r.Verdict))
	switch {
	case r.Unusable() && len(r.Findings) == 0:
		line += " · could not be judged"
	case r.Unusable():
		line += " · not judged to its end"
	}
	if failed > 0 {
		line += fmt.Sprintf(" · %d failed", failed)
	}
	if len(r.Open) > 0 {
		line += fmt.Sprintf(" · %d still open", len(r.Open))
	}
	return line
}

func clock(t daemon.Instant) string {
	return time.Unix(0, int64(t)).UTC().Format("2006-01-02 15:04:05 UTC")
}

func (t text) heading(name string) {
	t.WriteByte('\n')
	t.WriteString(t.style.bold(t.style.plain(name)))
	t.WriteByte('\n')
}

func (t text) next(what string, indent int) {
	arrow := t.style.plain("→ ")
	blanks(t.Builder, indent)
	t.WriteString(arrow)
	wrap(t.Builder, t.style.plain(printable(what)), indent+len([]rune(arrow)), t.style.width())
}

func (t text) causes() {
	if len(t.result.Causes) == 0 {
		return
	}
	t.heading("Causes")
	for i := range t.result.Causes {
		c := &t.result.Causes[i]
		t.WriteString("  ")
		mark := t.style.plain(shape(checks.Fail))
		t.WriteString(t.style.paint(mark, checks.Fail) + " ")
		line := printable(c.Sentence)
		if n := len(c.Explains); n > 1 {
			line += fmt.Sprintf(" (explains %d findings)", n)
		}
		wrap(t.Builder, t.style.plain(line), 4, t.style.width())
		if c.Next != "" {
			t.next(c.Next, 4)
		}
	}
}

// explained says how many failures stand behind the causes, so that nothing is
// missing silently.
func (t text) explained() {
	n := 0
	for i := range t.result.Findings {
		if f := &t.result.Findings[i]; f.Verdict == checks.Fail && f.Cause != "" {
			n++
		}
	}
	switch {
	case n == 1:
		t.WriteString("\n1 failure is explained by a cause above.\n")
	case n > 1:
		fmt.Fprintf(t, "\n%d failures are explained by the causes above.\n", n)
	}
}

func (t text) points(name string, points []point, v checks.Verdict) {
	if len(points) == 0 {
		return
	}
	t.heading(name)
	for i := range points {
		p := &points[i]
		t.WriteString("  ")
		t.WriteString(t.style.paint(t.style.plain(shape(v)), v))
		indent := 3 + len([]rune(t.style.plain(shape(v))))
		t.WriteByte(' ')
		line := p.label()
		if p.sentence != "" {
			line += ": " + p.sentence
		}
		wrap(t.Builder, t.style.plain(printable(line)), indent, t.style.width())
		if p.next != "" {
			t.next(p.next, indent)
		}
	}
}

func (t text) overview() {
	o := overviewOf(t.result.Findings)
	if len(o.subjects) == 0 {
		return
	}
	t.heading("Overview")
	tab := table{indent: 2}
	tab.add(words(append([]string{""}, o.groups...)...)...)
	for i, subject := range o.subjects {
		row := words(printable(subject))
		for g := range o.groups {
			c := &o.cells[i][g]
			f := field{}
			if c.known {
				f = field{sign(c.verdict), &c.verdict}
			}
			row = append(row, f)
		}
		tab.add(row...)
	}
	tab.write(t.Builder, t.style)
}

func (t text) confirmations() {
	if len(t.result.Confirmations) == 0 {
		return
	}
	t.heading("To be confirmed by a person")
	for i := range t.result.Confirmations {
		c := &t.result.Confirmations[i]
		line := printable(c.Text)
		if span := span(c); span != "" {
			line += " (" + span + ")"
		}
		if c.State != daemon.StateOpen {
			line += ": " + printable(c.State)
		} else if c.Outside() {
			line += ": out of range"
		}
		if c.Value != nil {
			line += ", " + bound(*c.Value, unit{printable(c.Unit), 1}) + " " + printable(c.Unit)
		}
		if c.Initials != "" {
			line += ", " + printable(c.Initials)
		}
		if c.Reason != "" {
			line += ", " + printable(c.Reason)
		}
		box := t.style.plain("☐ ")
		if c.State == daemon.StateConfirmed {
			box = t.style.plain("✓ ")
		}
		t.WriteString("  " + box)
		wrap(t.Builder, t.style.plain(line), 2+len([]rune(box)), t.style.width())
	}
}

// deviations are the steps that were gone on without.
func (t text) deviations() {
	if len(t.result.Deviations) == 0 {
		return
	}
	t.heading("Gone on without")
	for i := range t.result.Deviations {
		d := &t.result.Deviations[i]
		line := printable(cmp.Or(d.Text, d.Step)) + ": " + printable(d.Reason)
		if d.Initials != "" {
			line += ", " + printable(d.Initials)
		}
		t.WriteString("  ")
		wrap(t.Builder, t.style.plain(line), 2, t.style.width())
	}
}

func span(c *daemon.Confirmation) string {
	u := unit{printable(c.Unit), 1}
	var text string
	switch {
	case c.Min != nil && c.Max != nil:
		text = bound(*c.Min, u) + " to " + bound(*c.Max, u)
	case c.Min != nil:
		text = "at least " + bound(*c.Min, u)
	case c.Max != nil:
		text = "at most " + bound(*c.Max, u)
	}
	return strings.TrimSpace(text + " " + u.name)
}
