package report

import (
	"io"
	"strings"

	"plumbline/daemon"
	"plumbline/daemon/history"
)

// historyView is a history as the template shows it.
type historyView struct {
	sheet
	Head        string
	Problems    []string
	Transducers []transducerView
	Rule        string
}

type transducerView struct {
	Head    string
	Remarks []string
	Chart   *chart
	Several bool // tests, so that there are trends to be shown
	Trends  []trendRow
	Columns []string
	Tests   []testRow
}

// testRow is one test of a transducer.
type testRow struct {
	At, Vehicle, Corner, Temperature string
	Values                           []string
}

// HistoryHTML writes a history as one HTML file that needs nothing beside it and prints to A4 and Letter. The same history
// gives the same bytes.
func HistoryHTML(w io.Writer, h *history.History) error {
	var last daemon.Instant
	for i := range h.Transducers {
		if n := len(h.Transducers[i].Points); n > 0 {
			last = max(last, h.Transducers[i].Points[n-1].At)
		}
	}
	s, err := newSheet("Transducers over time", h.Folder, historyHead(h), "PH-", h.Program, h.Folder, last, h)
	if err != nil {
		return err
	}
	v := historyView{sheet: s, Head: printable(historyHead(h)), Rule: historyRule}
	for _, p := range h.Problems {
		v.Problems = append(v.Problems, printable(p.File+" could not be used: "+p.Text))
	}
	for i := range h.Transducers {
		v.Transducers = append(v.Transducers, viewOf(&h.Transducers[i]))
	}
	return execute(w, "history.tmpl", &v)
}

func viewOf(d *history.Transducer) transducerView {
	v := transducerView{Head: transducerHead(d), Chart: chartOf(d), Several: len(d.Points) > 1}
	for _, r := range d.Remarks {
		v.Remarks = append(v.Remarks, printable(r))
	}
	for i := range d.Trends {
		v.Trends = append(v.Trends, trendRowOf(&d.Trends[i]))
	}
	quantities := shownQuantities(d, false)
	for i := range quantities {
		v.Columns = append(v.Columns, strings.TrimSpace(quantities[i].Check+" "+quantities[i].Channel)+", "+quantities[i].unit.name)
	}
	for i := range d.Points {
		p := &d.Points[i]
		row := testRow{At: day(p.At), Vehicle: printable(p.Vehicle), Corner: printable(p.Corner), Temperature: pointTemperature(p)}
		for k := range quantities {
			text := "–"
			if x, ok := p.Of(quantities[k].Check, quantities[k].Channel); ok {
				text = quantity(x.Value, &x.Uncertainty, quantities[k].unit)
			}
			row.Values = append(row.Values, text)
		}
		v.Tests = append(v.Tests, row)
	}
	return v
}
