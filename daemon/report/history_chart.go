package report

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"plumbline/daemon"
	"plumbline/daemon/history"
)

// A chart has a small panel for each quantity, all over the same time: many lines in one picture
// would have to be told apart by colour.
const (
	panelsAcross = 3
	panelWide    = 320.0 // all of it, in the units of the picture
	panelHigh    = 158.0
	panelLeft    = 46.0 // of the plot within its panel
	panelRight   = 308.0
	panelTop     = 20.0
	panelBase    = 132.0
	panelDates   = 145.0
)

type chart struct {
	Title  string
	Box    string // of the whole
	Panels []panel
}

type panel struct {
	At            string // where it stands
	Name, Note    string
	Ticks         []tick
	From, To      string // dates below
	Bars, Line    string // paths
	Trend         string // path; empty: none
	Points        []at
	Mountings     []mounting
	Left, Right   string
	Top, Base     string
	Wide, High    string
	TitleY, DateY string
}

// mounting is where a transducer came to another corner.
type mounting struct{ X, Text string }

// chartOf draws a transducer; nil where there is nothing to draw.
func chartOf(d *history.Transducer) *chart {
	if len(d.Trends) == 0 {
		return nil
	}
	rows := (len(d.Trends) + panelsAcross - 1) / panelsAcross
	c := &chart{
		Title: transducerHead(d), Box: "0 0 " + strconv.Itoa(panelsAcross*panelWide) + " " + length(float64(rows)*panelHigh),
	}
	for i := range d.Trends {
		p := panelOf(d, &d.Trends[i])
		p.At = length(float64(i%panelsAcross)*panelWide) + " " + length(float64(i/panelsAcross)*panelHigh)
		c.Panels = append(c.Panels, p)
	}
	return c
}

// axes turn time and value into places of a panel.
type axes struct {
	first, last daemon.Instant
	low, high   float64
}

func (a *axes) x(t daemon.Instant) float64 {
	if a.last == a.first {
		return (panelLeft + panelRight) / 2
	}
	const inset = 8.0
	return panelLeft + inset + float64(t-a.first)/float64(a.last-a.first)*(panelRight-panelLeft-2*inset)
}

func (a *axes) y(v float64) float64 {
	v = min(max(v, a.low), a.high)
	return panelBase - (v-a.low)/(a.high-a.low)*(panelBase-panelTop)
}

func panelOf(d *history.Transducer, r *history.Trend) panel {
	u := historyUnit(r.Check, r.Unit)
	row := trendRowOf(r)
	a := axes{first: d.Points[0].At, last: d.Points[len(d.Points)-1].At, low: math.Inf(1), high: math.Inf(-1)}
	for i := range d.Points {
		if v, ok := d.Points[i].Of(r.Check, r.Channel); ok {
			a.low, a.high = min(a.low, (v.Value-v.Uncertainty)*u.factor), max(a.high, (v.Value+v.Uncertainty)*u.factor)
		}
	}
	room := 0.12 * (a.high - a.low)
	if room == 0 {
		room = max(math.Abs(a.high)*0.01, 1e-6)
	}
	a.low, a.high = a.low-room, a.high+1.6*room // the corner's name stands above
	p := panel{
		Name: row.What, From: date(a.first), To: date(a.last),
		Left: length(panelLeft), Right: length(panelRight), Top: length(panelTop), Base: length(panelBase),
		Wide: length(panelRight - panelLeft), High: length(panelBase - panelTop), TitleY: length(panelTop - 7), DateY: length(panelDates),
	}
	if p.To == p.From {
		p.To = ""
	}
	if r.PerMonth != nil {
		p.Note = row.Drift + " per month"
		p.Trend = trendPath(r, &a, u.factor)
	}
	step, places := roundStep((a.high - a.low) / 3)
	for n := math.Ceil(a.low / step); n*step <= a.high; n++ {
		p.Ticks = append(p.Ticks, tick{Text: fixed(n*step, places), Y: length(a.y(n * step))})
	}
	p.draw(d, r, &a, u.factor)
	return p
}

// trendPath draws the line in pieces, from jump to jump.
func trendPath(r *history.Trend, a *axes, factor float64) string {
	var path strings.Builder
	from, offset := a.first, *r.Intercept
	piece := func(to daemon.Instant) {
		for i, at := range []daemon.Instant{from, to} {
			months := float64(at-a.first) / history.MonthNs
			path.WriteString([]string{"M", "L"}[i] + length(a.x(at)) + " " + length(a.y((offset+*r.PerMonth*months)*factor)))
		}
	}
	for _, j := range r.Jumps {
		piece(j.From)
		from = j.To
		offset += j.Change
	}
	piece(a.last)
	return path.String()
}

// draw draws the tests: points with their uncertainty, joined, and where the transducer was mounted.
func (p *panel) draw(d *history.Transducer, r *history.Trend, a *axes, factor float64) {
	var bars, line strings.Builder
	place := ""
	for i := range d.Points {
		t := &d.Points[i]
		x := length(a.x(t.At))
		if now := t.Vehicle + " " + t.Corner; now != place {
			p.Mountings = append(p.Mountings, mounting{x, printable(t.Corner)})
			place = now
		}
		v, ok := t.Of(r.Check, r.Channel)
		if !ok {
			continue
		}
		y := length(a.y(v.Value * factor))
		p.Points = append(p.Points, at{x, y})
		bars.WriteString("M" + x + " " + length(a.y((v.Value-v.Uncertainty)*factor)) + "V" + length(a.y((v.Value+v.Uncertainty)*factor)))
		verb := "L"
		if line.Len() == 0 || slices.ContainsFunc(r.Jumps, func(j history.Jump) bool { return j.To == t.At }) {
			verb = "M" // a jump is a gap in the line
		}
		line.WriteString(verb + x + " " + y)
	}
	p.Bars, p.Line = bars.String(), line.String()
}

// roundStep returns a round number of at least v, and how many decimals it has.
func roundStep(v float64) (step float64, places int) {
	exponent := math.Floor(math.Log10(v))
	step = math.Pow(10, exponent+1)
	for _, m := range []float64{1, 2, 5} {
		if s := m * math.Pow(10, exponent); s >= v {
			step = s
			break
		}
	}
	return step, min(max(-int(math.Floor(math.Log10(step)+1e-9)), 0), 9)
}
