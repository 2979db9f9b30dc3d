package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"plumbline/checks"
	"plumbline/daemon/compare"
)

// rule says in one paragraph how it is decided whether something moved.
func movementRule(c *compare.Comparison) string {
	text := "Moved means: by more than chance does among all that is compared. What both tests share (half a raw step, the rounding of the encoder, the mass of the wheel, the " +
		"calibration) has dropped out of the uncertainties; a wheel mounted anew or another temperature is not in them."
	if n := c.Chance.Compared; n > 0 {
		text = fmt.Sprintf("Changes carry their 95 %% uncertainty. %d are compared, and some would exceed 95 %% by chance: a change counts as moved only beyond what has a chance of "+
			"%.2g %% (%g %% ÷ %d), so that where nothing moved all of this says so in 95 of 100 cases. ", n, 100*c.Chance.Each, 100*c.Chance.Family, n) + text
	}
	return text
}

// CompareText writes a comparison for people: what moved and what that means first, then what is not known, then all changes.
func CompareText(w io.Writer, c *compare.Comparison, style Style) error {
	var out strings.Builder
	t := compareText{&out, style, c}
	t.write()
	if _, err := io.WriteString(w, out.String()); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

type compareText struct {
	*strings.Builder
	style Style
	c     *compare.Comparison
}

func (t compareText) wrapped(text string, at int) {
	wrap(t.Builder, t.style.plain(printable(text)), at, t.style.width())
}

func (t compareText) heading(name string) {
	t.WriteString("\n" + t.style.bold(t.style.plain(name)) + "\n")
}

func (t compareText) write() {
	for _, s := range []struct {
		name string
		test *compare.Test
	}{{"before: ", &t.c.Before}, {"after:  ", &t.c.After}} {
		line := s.test.File
		if s.test.First != 0 {
			line += ", from " + clock(s.test.First)
		}
		line += fmt.Sprintf(", %s, judged by %s: %s", s.test.Setup.Vehicle, s.test.Setup.File, s.test.Verdict)
		t.WriteString(s.name)
		t.wrapped(line, len(s.name))
	}
	for _, r := range t.c.Remarks {
		t.WriteString("! ")
		t.wrapped(r, 2)
	}
	line, verdict := movementLine(t.c)
	t.WriteString("\n" + t.style.paint(t.style.plain(line), verdict) + "\n")
	t.moved()
	t.unknown()
	t.changes()
	t.WriteByte('\n')
	t.wrapped(movementRule(t.c), 0)
	t.WriteByte('\n')
	t.wrapped(caution, 0)
}

func (t compareText) point(sign string, v checks.Verdict, label, sentence, meaning, next string) {
	mark := t.style.plain(sign)
	t.WriteString("  " + t.style.paint(mark, v) + " ")
	indent := 3 + len([]rune(mark))
	t.wrapped(strings.TrimSpace(label)+": "+sentence, indent)
	if meaning != "" {
		blanks(t.Builder, indent)
		t.wrapped(meaning, indent)
	}
	if next != "" {
		blanks(t.Builder, indent)
		arrow := t.style.plain("→ ")
		t.WriteString(arrow)
		t.wrapped(next, indent+len([]rune(arrow)))
	}
}

func (t compareText) moved() {
	list := moves(t.c)
	if len(list) == 0 {
		return
	}
	t.heading("Moved")
	for _, m := range list {
		sign, _, _ := strings.Cut(movementSign(m), " ")
		t.point(sign, movementVerdict(m), m.Subject+" "+m.Check+" "+m.Channel, m.Sentence, m.Meaning, m.Next)
	}
	for _, a := range t.c.Advice {
		t.WriteString("  ")
		t.wrapped(a, 2)
	}
}

func (t compareText) unknown() {
	list := unknownMoves(t.c)
	if len(list) == 0 {
		return
	}
	t.heading("Not known")
	for i := range list {
		p := &list[i]
		t.point(shape(checks.Inconclusive), checks.Inconclusive, p.label(), p.sentence, "", p.next)
	}
}

// changes writes all of them, the corners side by side.
func (t compareText) changes() {
	corners, others := movementNames(t.c)
	rows := t.rows(corners)
	tab := table{indent: 2}
	for i := range t.c.Movements {
		m := &t.c.Movements[i]
		if !slices.Contains(others, m.Subject) || m.Change == nil {
			continue
		}
		u := changeUnit(m)
		f := t.field(m)
		f.text = strings.TrimSpace(f.text + " " + u.name)
		tab.add(field{text: printable(m.Subject)}, field{text: m.Check}, f, field{text: movementLimit(m, u)})
	}
	if len(rows) == 0 && len(tab.rows) == 0 {
		return
	}
	t.heading("Changes, after − before")
	text{t.Builder, t.style, nil}.cornerTables(corners, rows)
	if len(rows) > 0 && len(tab.rows) > 0 {
		t.WriteByte('\n')
	}
	tab.write(t.Builder, t.style)
}

func (t compareText) rows(corners []string) []valueRow {
	var rows []valueRow
	for i := range t.c.Movements {
		m := &t.c.Movements[i]
		column := slices.Index(corners, m.Subject)
		if column < 0 {
			continue
		}
		u := changeUnit(m)
		name := strings.TrimSpace(m.Check + " " + m.Channel)
		if u.name != "" {
			name += ", " + u.name
		}
		j := slices.IndexFunc(rows, func(r valueRow) bool { return r.name == name })
		if j < 0 {
			j = len(rows)
			rows = append(rows, valueRow{check: m.Check, name: name, limit: movementLimit(m, u), cells: make([]field, len(corners))})
		}
		if rows[j].cells[column].text == "" || m.Change != nil {
			rows[j].cells[column] = t.field(m)
		}
	}
	return rows
}

func (t compareText) field(m *compare.Movement) field {
	f := field{text: changeText(m)}
	if m.State == compare.Moved {
		sign, _, _ := strings.Cut(movementSign(m), " ")
		v := movementVerdict(m)
		f.text, f.state = sign+" "+f.text, &v
	}
	return f
}

func movementLimit(m *compare.Movement, u unit) string {
	if m.Limit == nil {
		return ""
	}
	return "≤ " + bound(*m.Limit, u)
}
