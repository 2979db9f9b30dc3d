package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/compare"
)

// sheet is what every page of this package has: words, head and foot.
type sheet struct {
	W        catalogue
	Title    string
	Subtitle string
	ID       string
	Program  string
	Pages    pages
	JSON     template.JS // escaped by package json: no < and no > in it
}

// newSheet makes the sheet of a document that is kept as JSON. prefix begins its id, at is the time in it.
func newSheet(title, about, subtitle, prefix, program, foot string, at daemon.Instant, content any) (sheet, error) {
	text, err := json.Marshal(content)
	if err != nil {
		return sheet{}, fmt.Errorf("report: as JSON: %w", err)
	}
	sum := sha256.Sum256(text)
	id := prefix
	if at != 0 {
		id += time.Unix(0, int64(at)).UTC().Format("20060102-150405-")
	}
	id += strings.ToUpper(hex.EncodeToString(sum[:5]))
	s := sheet{W: catalogueOf(English), Title: title, Subtitle: printable(subtitle), ID: id, Program: printable(program), JSON: template.JS(text)}
	s.Pages = pages{
		Left: quote(title + " · " + cutTo(printable(about), maxHead)), Right: quote(id), Page: quote(s.W.Page + " "), Of: quote(" " + s.W.Of + " "),
		Foot: quote(printable(foot)) + ` "\A" ` + quote(cutTo(s.Program, maxHead)),
	}
	return s, nil
}

// execute writes a template whole or not at all.
func execute(w io.Writer, name string, v any) error {
	t, err := template.New(name).Funcs(funcs()).ParseFS(templates, "templates/*")
	if err != nil {
		return fmt.Errorf("report: %w", err)
	}
	var out bytes.Buffer
	if err := t.ExecuteTemplate(&out, name, v); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	if _, err := out.WriteTo(w); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// comparisonView is a comparison as the template shows it.
type comparisonView struct {
	sheet
	Verdict checks.Verdict
	Shape   string
	Word    string
	Counts  string
	Remarks []string
	Moved   []movedView
	Advice  []string
	Unknown []pointView
	Tests   []pair
	Sat     []satRow
	Corners []movementsView
	Rule    string
}

// movedView is one movement with what it means.
type movedView struct {
	Shape                          string
	Verdict                        checks.Verdict
	Label, Sentence, Meaning, Next string
}

// satRow says which transducer sat on a corner in both tests.
type satRow struct{ Corner, Before, After, BeforeTemp, AfterTemp, Mass string }

type movementsView struct {
	Name string
	Plot *componentPlot
	Rows []movementRow
}

type movementRow struct {
	What, Before, After, Change, Chance, Limit, Unit string
	Shape, Word                                      string
	Verdict                                          checks.Verdict
}

// CompareHTML writes a comparison as one HTML file that needs nothing beside it and prints to A4 and Letter. The same
// comparison gives the same bytes.
func CompareHTML(w io.Writer, c *compare.Comparison) error {
	vehicle := c.After.Setup.Vehicle
	if other := c.Before.Setup.Vehicle; other != vehicle {
		vehicle = other + " and " + vehicle
	}
	foot := "SHA-256 of the setups: " + cutTo(c.Before.Setup.SHA256, 16) + ", " + cutTo(c.After.Setup.SHA256, 16)
	s, err := newSheet("What moved between two function tests", vehicle, vehicle+" · "+day(c.Before.First)+" to "+day(c.After.First), "PC-", c.Program, foot, c.After.First, c)
	if err != nil {
		return err
	}
	s.W.Components = "Change of the zero in parts of its limit"
	v := comparisonView{sheet: s, Remarks: c.Remarks, Advice: c.Advice, Rule: movementRule(c)}
	line, verdict := movementLine(c)
	head, counts, _ := strings.Cut(line, " · ")
	_, v.Word, _ = strings.Cut(head, " ")
	v.Verdict, v.Counts, v.Shape = verdict, counts, verdict.String()
	if strings.HasPrefix(head, "▲") {
		v.Shape = "moved"
	}
	for _, m := range moves(c) {
		v.Moved = append(v.Moved, movedView{
			Shape: movementShape(m), Verdict: movementVerdict(m), Label: printable(strings.TrimSpace(m.Subject + " " + m.Check + " " + m.Channel)),
			Sentence: printable(m.Sentence), Meaning: printable(m.Meaning), Next: printable(m.Next),
		})
	}
	for _, p := range unknownMoves(c) {
		v.Unknown = append(v.Unknown, pointView{Label: printable(p.label()), Sentence: printable(p.sentence), Next: printable(p.next)})
	}
	v.tests(c)
	v.sat(c)
	corners, others := movementNames(c)
	for _, name := range slices.Concat(corners, others) {
		v.Corners = append(v.Corners, movementsOf(c, name))
	}
	return execute(w, "compare.tmpl", &v)
}

func day(t daemon.Instant) string {
	if t == 0 {
		return "time not known"
	}
	return time.Unix(0, int64(t)).UTC().Format("2006-01-02 15:04")
}

// movementShape is the name of the symbol of a state.
func movementShape(m *compare.Movement) string {
	if m.State == compare.Moved && m.Size == compare.Within {
		return "moved"
	}
	return movementVerdict(m).String()
}

func (v *comparisonView) tests(c *compare.Comparison) {
	for _, t := range []struct {
		name string
		test *compare.Test
	}{{"Before", &c.Before}, {"After", &c.After}} {
		when := "time not known"
		if t.test.First != 0 {
			when = clock(t.test.First) + " to " + clock(t.test.Last)
		}
		v.Tests = append(v.Tests, pair{t.name, printable(fmt.Sprintf("%s · %s · %s, judged by %s: %s",
			t.test.File, when, t.test.Setup.Vehicle, t.test.Setup.File, t.test.Verdict))})
	}
}

// sat lists the corners of both tests.
func (v *comparisonView) sat(c *compare.Comparison) {
	find := func(t *compare.Test, corner string) *daemon.Transducer {
		i := slices.IndexFunc(t.Transducers, func(d daemon.Transducer) bool { return d.Corner == corner })
		if i < 0 {
			return nil
		}
		return &t.Transducers[i]
	}
	var corners []string
	for _, t := range slices.Concat(c.Before.Transducers, c.After.Transducers) {
		if !slices.Contains(corners, t.Corner) {
			corners = append(corners, t.Corner)
		}
	}
	for _, corner := range corners {
		a, b := find(&c.Before, corner), find(&c.After, corner)
		row := satRow{Corner: printable(corner), Before: serialText(a), After: serialText(b), BeforeTemp: temperatureText(a), AfterTemp: temperatureText(b), Mass: "–"}
		switch {
		case a != nil && b != nil && a.WheelMassKg != b.WheelMassKg:
			row.Mass = significant(a.WheelMassKg, 4) + ", then " + significant(b.WheelMassKg, 4)
		case b != nil && b.WheelMassKg > 0:
			row.Mass = significant(b.WheelMassKg, 4)
		}
		v.Sat = append(v.Sat, row)
	}
}

func serialText(t *daemon.Transducer) string {
	switch {
	case t == nil || t.Serial == nil:
		return "–"
	case t.SerialFrom == daemon.SerialSetup:
		return strconv.FormatUint(*t.Serial, 10) + " (as written)"
	}
	return strconv.FormatUint(*t.Serial, 10)
}

func temperatureText(t *daemon.Transducer) string {
	if t == nil || t.LowestTempC == nil || t.HighestTempC == nil {
		return "–"
	}
	return fixed(*t.LowestTempC, 0) + " to " + fixed(*t.HighestTempC, 0)
}

// movementsOf returns all changes of one subject.
func movementsOf(c *compare.Comparison, name string) movementsView {
	v := movementsView{Name: printable(name)}
	for i := range c.Movements {
		m := &c.Movements[i]
		if m.Subject != name {
			continue
		}
		u := changeUnit(m)
		row := movementRow{
			What: strings.TrimSpace(m.Check + " " + m.Channel), Change: changeText(m), Unit: printable(u.name), Before: "–", After: "–", Chance: "–", Limit: "–",
			Shape: movementShape(m), Verdict: movementVerdict(m),
		}
		_, row.Word, _ = strings.Cut(movementSign(m), " ")
		row.Word = strings.ToLower(row.Word)
		row.Before, row.After = reading(m.Before, u), reading(m.After, u)
		if m.Chance != nil {
			row.Chance = fixed(*m.Chance*u.factor, places(*m.Chance*u.factor, 2))
		}
		if m.Limit != nil {
			row.Limit = bound(*m.Limit, u)
		}
		v.Rows = append(v.Rows, row)
	}
	v.Plot = changePlot(c, name)
	return v
}

func reading(r *compare.Reading, u unit) string {
	if r == nil || r.Value == nil {
		return "–"
	}
	return quantity(*r.Value, r.Uncertainty, u)
}

// changePlot draws the change of each zero in parts of its limit.
func changePlot(c *compare.Comparison, subject string) *componentPlot {
	p := newComponentPlot(subject)
	for i, q := range []checks.Quantity{checks.Fx, checks.Fy, checks.Fz, checks.Mx, checks.My, checks.Mz} {
		k := slices.IndexFunc(c.Movements, func(m compare.Movement) bool {
			return m.Check == "zero" && m.Subject == subject && m.Channel == q.String() && m.Change != nil && m.Limit != nil && *m.Limit > 0
		})
		if k < 0 {
			continue
		}
		m := &c.Movements[k]
		short, _, _ := strings.Cut(changeText(m), " ") // the table beside it has the uncertainty
		p.add(i, q.String(), short+" "+printable(m.Unit), *m.Change / *m.Limit, known(m.Uncertainty) / *m.Limit, movementVerdict(m))
	}
	if len(p.Rows) == 0 {
		return nil
	}
	return p
}
