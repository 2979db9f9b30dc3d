package report

import (
	"cmp"
	"slices"
	"strings"

	"plumbline/checks"
	"plumbline/daemon"
)

// values writes what was measured: a table with the corners side by side, then
// the other subjects line by line. Health of signals and connection has no
// place here; where it is bad, its sentence says the figure.
func (t text) values() {
	all := checks.All()
	corners, rows := t.cornerValues(all)
	tab := table{indent: 2}
	for i := range t.result.Findings {
		f := &t.result.Findings[i]
		if f.Value != nil && measured(all, f) && !slices.Contains(corners, f.Subject) {
			u := readable(f.Unit)
			tab.add(field{text: printable(f.Subject)}, field{text: what(f)}, valueField(f, u, true), field{text: limitText(f, u)})
		}
	}
	if len(rows) == 0 && len(tab.rows) == 0 {
		return
	}
	if len(t.result.Drives) > 0 {
		t.heading("Values of the drive")
	} else {
		t.heading("Values")
	}
	t.cornerTables(corners, rows)
	if len(rows) > 0 && len(tab.rows) > 0 {
		t.WriteByte('\n')
	}
	tab.write(t.Builder, t.style)
}

// valueRow is one quantity over the corners.
type valueRow struct {
	check string
	name  string // with channel and unit
	limit string
	cells []field
}

// measured reports whether the values of a check belong into the table: what a
// technician compares with limits, not figures by which a signal is found healthy.
func measured(all []checks.Check, f *daemon.Finding) bool {
	switch f.Check {
	case "angle-sense", "angle-steps", "angle-jumps":
		return false
	case "drift":
		if f.Channel == "noise" || f.Channel == "rate" {
			return false
		}
	}
	group := groupOf(all, f.Check)
	return group != "connection" && group != "signal" && group != other
}

// cornerValues returns the corners, which are the subjects that have a zero or
// an angle, and a row for each quantity that is known of one of them, in the order of
// the checks. Rows whose
// limits differ from corner to corner show no limit.
func (t text) cornerValues(all []checks.Check) (corners []string, rows []valueRow) {
	for i := range t.result.Findings {
		f := &t.result.Findings[i]
		if g := groupOf(all, f.Check); (g == checks.ZeroGroup || g == checks.AngleGroup) && !slices.Contains(corners, f.Subject) {
			corners = append(corners, f.Subject)
		}
	}
	for i := range t.result.Findings {
		f := &t.result.Findings[i]
		column := slices.Index(corners, f.Subject)
		if f.Value == nil || column < 0 || !measured(all, f) || !t.ofDrive(all, f) {
			continue
		}
		u := readable(f.Unit)
		name := what(f)
		if u.name != "" {
			name += ", " + u.name
		}
		j := slices.IndexFunc(rows, func(r valueRow) bool { return r.name == name })
		if j < 0 {
			j = len(rows)
			rows = append(rows, valueRow{check: f.Check, name: name, limit: limitText(f, u), cells: make([]field, len(corners))})
		}
		if rows[j].limit != limitText(f, u) {
			rows[j].limit = ""
		}
		rows[j].cells[column] = valueField(f, u, false)
	}
	slices.SortStableFunc(rows, func(a, b valueRow) int { return cmp.Compare(placeOf(all, a.check), placeOf(all, b.check)) })
	return corners, rows
}

// cornerTables writes the rows, with as many corners side by side as fit.
func (t text) cornerTables(corners []string, rows []valueRow) {
	if len(rows) == 0 {
		return
	}
	for from := 0; from < len(corners); {
		if from > 0 {
			t.WriteByte('\n')
		}
		to := len(corners)
		tab := cornerTable(corners, rows, from, to)
		for to > from+1 && total(tab, t.style) > t.style.width() {
			to--
			tab = cornerTable(corners, rows, from, to)
		}
		tab.write(t.Builder, t.style)
		from = to
	}
}

func cornerTable(corners []string, rows []valueRow, from, to int) *table {
	tab := &table{indent: 2, right: []bool{false, true}}
	head := words("", "limit")
	for _, c := range corners[from:to] {
		head = append(head, field{text: printable(c)})
		tab.right = append(tab.right, true)
	}
	tab.add(head...)
	for _, r := range rows {
		tab.add(append(words(r.name, r.limit), r.cells[from:to]...)...)
	}
	return tab
}

func total(tab *table, style Style) int {
	sum := tab.indent
	for i, w := range tab.widths(style) {
		if i > 0 {
			sum += 2
		}
		sum += w
	}
	return sum
}

func what(f *daemon.Finding) string {
	return strings.TrimSpace(f.Check + " " + f.Channel)
}

// valueField is a value with its uncertainty; a failed one carries its shape.
func valueField(f *daemon.Finding, u unit, withUnit bool) field {
	text := quantity(*f.Value, f.Uncertainty, u)
	if withUnit && u.name != "" {
		text += " " + u.name
	}
	out := field{text: text}
	if f.Verdict == checks.Fail {
		out.text = shape(checks.Fail) + " " + text
		out.state = &f.Verdict
	}
	return out
}

// limitText says what the value may be: bounded in size, or, where it is
// compared with an expectation, how far it may lie from that.
func limitText(f *daemon.Finding, u unit) string {
	if f.Limit == nil {
		return ""
	}
	switch f.Check {
	case "weight", "angle-spin":
		return "1 ± " + bound(*f.Limit, u)
	case "load", "radius":
		return "± " + bound(roundTo(*f.Limit, partDigits), u)
	case "clearance":
		return "± " + bound(*f.Limit, u)
	}
	return "≤ " + bound(*f.Limit, u)
}
