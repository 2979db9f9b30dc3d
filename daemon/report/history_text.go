package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/history"
)

// historyRule says how a drift is told from chance.
const historyRule = "A drift is the slope of a straight line through all tests, with its 95 % uncertainty, from three tests on; * marks one that is more than chance does " +
	"among all that are shown (5 % for all together). A jump between two tests that no drift explains, such as a taring, is taken out and told apart."

// HistoryText writes a history for people: each transducer with its tests, then what they show.
func HistoryText(w io.Writer, h *history.History, style Style) error {
	var out strings.Builder
	t := historyText{&out, style, h}
	t.write()
	if _, err := io.WriteString(w, out.String()); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

type historyText struct {
	*strings.Builder
	style Style
	h     *history.History
}

func (t historyText) wrapped(text string, at int) {
	wrap(t.Builder, t.style.plain(printable(text)), at, t.style.width())
}

// historyHead says how much was read.
func historyHead(h *history.History) string {
	head := fmt.Sprintf("%s: %s of %s", h.Folder, plural(h.Tests, "test", "tests"), plural(len(h.Transducers), "transducer", "transducers"))
	if h.Again > 0 {
		head += fmt.Sprintf(", %s held twice", plural(h.Again, "test", "tests"))
	}
	if h.Other > 0 {
		head += fmt.Sprintf(", %s of another kind", plural(h.Other, "JSON file", "JSON files"))
	}
	if h.Unnumbered > 0 {
		head += fmt.Sprintf(", %s without a serial number", plural(h.Unnumbered, "corner", "corners"))
	}
	return head
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

func (t historyText) write() {
	t.wrapped(historyHead(t.h), 0)
	for _, p := range t.h.Problems {
		t.WriteString(t.style.paint(t.style.plain("✗ "), checks.Fail))
		t.wrapped(p.File+" could not be used: "+p.Text, 2)
	}
	if len(t.h.Transducers) == 0 {
		t.WriteByte('\n')
		t.wrapped("No transducer with a serial number was found. Results are written by plumbline replay --format json; the serial number comes from the electronics or from serial: in the setup.", 0)
		return
	}
	for i := range t.h.Transducers {
		t.transducer(&t.h.Transducers[i])
	}
	t.WriteByte('\n')
	t.wrapped(historyRule, 0)
}

func (t historyText) transducer(d *history.Transducer) {
	t.WriteString("\n" + t.style.bold(t.style.plain(transducerHead(d))) + "\n")
	for _, r := range d.Remarks {
		t.WriteString("! ")
		t.wrapped(r, 2)
	}
	shown := shownQuantities(d, true)
	// the tests stand below each other, the quantities side by side
	tab := &table{indent: 2, right: []bool{false, false, false, true}}
	head := words("tested, UTC", "vehicle", "at", "°C")
	for _, q := range shown {
		head = append(head, field{text: q.head()})
		tab.right = append(tab.right, true)
	}
	tab.add(head...)
	for i := range d.Points {
		p := &d.Points[i]
		row := words(day(p.At), printable(p.Vehicle), printable(p.Corner), pointTemperature(p))
		for _, q := range shown {
			row = append(row, field{text: q.text(p)})
		}
		tab.add(row...)
	}
	tab.write(t.Builder, t.style)
	if len(d.Points) < 2 {
		return
	}
	t.WriteByte('\n')
	tab = &table{indent: 2, right: []bool{false, true, true, true}}
	tab.add(words("", "tests", "drift per month", "scatter", "jumps")...)
	for i := range d.Trends {
		r := trendRowOf(&d.Trends[i])
		f := field{text: r.Drift}
		if d.Trends[i].Drifts {
			f.state = new(checks.Inconclusive)
		}
		tab.add(field{text: r.What}, field{text: r.Tests}, f, field{text: r.Scatter}, field{text: r.Jumps})
	}
	tab.write(t.Builder, t.style)
}

func transducerHead(d *history.Transducer) string {
	head := "Transducer " + strconv.FormatUint(d.Serial, 10) + " · " + plural(len(d.Points), "test", "tests")
	if n := len(d.Points); n > 0 {
		head += ", " + date(d.Points[0].At)
		if n > 1 {
			head += " to " + date(d.Points[n-1].At)
		}
	}
	return head
}

func date(t daemon.Instant) string { return time.Unix(0, int64(t)).UTC().Format(time.DateOnly) }

func pointTemperature(p *history.Point) string {
	if p.TemperatureC == nil {
		return "–"
	}
	return fixed(*p.TemperatureC, 0)
}

// shown is a quantity of a history as a person reads it.
type shown struct {
	history.Quantity
	unit   unit
	places int
}

// shownQuantities lists what a transducer has values of; of the text's columns only zero and weight, which fit side by side.
func shownQuantities(d *history.Transducer, narrow bool) []shown {
	var out []shown
	for i := range d.Trends {
		r := &d.Trends[i]
		if narrow && r.Check != "zero" && r.Check != "weight" {
			continue
		}
		s := shown{Quantity: history.Quantity{Check: r.Check, Channel: r.Channel}, unit: historyUnit(r.Check, r.Unit), places: 2}
		if r.Unit == "N" {
			s.places = 1
		}
		if r.Check == "weight" {
			s.places = 2
		}
		out = append(out, s)
	}
	return out
}

// historyUnit is the unit in which a person reads a quantity over months.
func historyUnit(check, si string) unit {
	if check == "weight" || check == "axes" {
		return unit{"%", 100}
	}
	return readable(si)
}

// head is the head of a column; the units of the zeros stand with the trends, so that all columns fit side by side.
func (s *shown) head() string {
	if s.Check == "zero" {
		return "zero " + s.Channel
	}
	return s.Check + ", " + s.unit.name
}

// text is the value without its uncertainty, which the other formats have.
func (s *shown) text(p *history.Point) string {
	v, ok := p.Of(s.Check, s.Channel)
	if !ok {
		return "–"
	}
	return fixed(v.Value*s.unit.factor, s.places)
}

// trendRow is a trend in words.
type trendRow struct{ What, Tests, Drift, Scatter, Jumps string }

func trendRowOf(r *history.Trend) trendRow {
	u := historyUnit(r.Check, r.Unit)
	row := trendRow{
		What: strings.TrimSpace(r.Check+" "+r.Channel) + ", " + u.name, Tests: strconv.Itoa(r.Tests), Drift: "–", Scatter: "–",
	}
	if r.PerMonth != nil {
		row.Drift = plus(*r.PerMonth) + quantity(*r.PerMonth, r.Uncertainty, u)
		if r.Drifts {
			row.Drift = "* " + row.Drift
		}
		row.Scatter = significant(*r.Scatter*u.factor, 2)
	}
	if s := r.Step; s != nil && r.PerMonth == nil { // of two tests no line is known, but what lies between them
		row.Jumps = plus(s.Change) + quantity(s.Change, &s.Uncertainty, u) + " from " + date(s.From) + " to " + date(s.To)
	}
	var jumps []string
	for _, j := range r.Jumps {
		jumps = append(jumps, plus(j.Change)+significant(j.Change*u.factor, 3)+" between "+date(j.From)+" and "+date(j.To))
	}
	if len(jumps) > 0 {
		row.Jumps = strings.Join(jumps, ", ")
	}
	return row
}

func plus(v float64) string {
	if v > 0 {
		return "+"
	}
	return ""
}
