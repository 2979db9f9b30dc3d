package web

import (
	"math"
	"net/url"
	"strings"

	"plumbline/checks"
)

// The drawing of a strip, in its user units: the last minute from left to right.
const (
	stripLeft, stripRight = 62.0, 712.0
	stripTop, stripBase   = 10.0, 190.0
)

// stripView is one channel in the last minute.
type stripView struct {
	Label, Unit  string
	Choices      []choice
	Known        bool   // there is something to draw
	Band         string // path: from the lowest to the highest value of each column
	Width        string // of a column
	Line         string // path of the means, broken at gaps
	Gaps         []gap
	Rows         []stripTick // round values
	Times        []stripTick // s before now
	Limits       []stripTick
	LimitText    string // empty: there are none
	Low, High    string // of all that is drawn
	Alt          string
	Window       bool // Mean and Noise are known
	Mean, Noise  string
	Rate, Silent string
}

// choice is a channel that can be chosen.
type choice struct {
	Label, Href string
	Current     bool
}

// gap is a time in which nothing came though it should have.
type gap struct{ X, Width string }

// stripTick is a line across or up the drawing.
type stripTick struct{ Text, At string }

// strip draws one of some channels. wanted is its quantity as the address names it; where there is none of that name
// the first is drawn that tells most.
func (c *composer) strip(ch *checks.Channels, wanted, path string, limits func(checks.Quantity) (low, high float64, ok bool)) stripView {
	v := stripView{}
	chosen := checks.Quantities
	for _, q := range []checks.Quantity{checks.Fz, checks.HeightOuter, checks.SpeedX} {
		if ch[q] != checks.None && chosen == checks.Quantities {
			chosen = q
		}
	}
	for q := range checks.Quantities {
		if ch[q] == checks.None || !drawn(q) {
			continue
		}
		if chosen == checks.Quantities || q.String() == wanted {
			chosen = q
		}
	}
	if chosen == checks.Quantities {
		return v
	}
	for q := range checks.Quantities {
		if ch[q] != checks.None && drawn(q) {
			v.Choices = append(v.Choices, choice{c.t("quantity." + q.String()), c.channelHref(path, q), q == chosen})
		}
	}
	state := &c.m.snapshot.Now.Channels[ch[chosen]]
	u := readable(unitOf(chosen))
	v.Label, v.Unit = c.t("quantity."+chosen.String()), u.name
	c.draw(&v, state, chosen, u, limits)
	return v
}

// drawn tells whether a quantity has a strip.
func drawn(q checks.Quantity) bool {
	switch q {
	case checks.Status, checks.Serial, checks.Counter:
		return false
	default:
		return true
	}
}

func (c *composer) channelHref(path string, q checks.Quantity) string {
	query := url.Values{"channel": {q.String()}}
	if c.query != "" {
		query.Set("lang", c.lang)
	}
	return path + "?" + query.Encode() + "#strip"
}

// minute lays the columns of the last minute out, oldest first, the one under way left out.
func minute(s *checks.ChannelState, now int64) []checks.Column {
	out := make([]checks.Column, checks.StripColumns)
	first := now/checks.ColumnNs - checks.StripColumns
	for _, b := range s.Strip {
		for i := range b.Columns {
			if at := b.First + int64(i) - first; at >= 0 && at < checks.StripColumns {
				out[at] = b.Columns[i]
			}
		}
	}
	return out
}

func (c *composer) draw(v *stripView, s *checks.ChannelState, q checks.Quantity, u unit, limits func(checks.Quantity) (low, high float64, ok bool)) {
	columns := minute(s, c.m.snapshot.Now.At)
	low, high := math.Inf(1), math.Inf(-1)
	for i := range columns {
		if k := &columns[i]; k.Samples > 0 {
			low, high = math.Min(low, float64(k.Low)), math.Max(high, float64(k.High))
		}
	}
	if low > high {
		return
	}
	v.Known = true
	show := func(x float64) string { return decimals(c.lang, x*u.factor, u.places) }
	v.Low, v.High = show(low), show(high)
	bottom, top := low*u.factor, high*u.factor
	if least, most, ok := limits(q); ok {
		bottom, top = math.Min(bottom, least*u.factor), math.Max(top, most*u.factor)
		v.LimitText = show(least) + " … " + show(most) + " " + u.name
		v.Limits = []stripTick{{show(least), coordinate(least * u.factor)}, {show(most), coordinate(most * u.factor)}}
	}
	step := roundStep((top - bottom) / 4)
	if least := math.Pow(10, -float64(u.places)); step < least {
		step = least
	}
	margin := math.Max((top-bottom)*0.06, step/2)
	bottom, top = bottom-margin, top+margin
	y := func(x float64) float64 { return stripBase - (x-bottom)/(top-bottom)*(stripBase-stripTop) }
	width := (stripRight - stripLeft) / checks.StripColumns
	x := func(i int) float64 { return stripLeft + (float64(i)+0.5)*width }
	for i := range v.Limits {
		least, most, _ := limits(q)
		v.Limits[i].At = coordinate(y([]float64{least, most}[i] * u.factor))
	}
	for n := math.Ceil(bottom / step); n*step <= top; n++ {
		v.Rows = append(v.Rows, stripTick{decimals(c.lang, n*step, places(step)), coordinate(y(n * step))})
	}
	for t := 60; t >= 0; t -= 10 {
		text := decimals(c.lang, -float64(t), 0)
		if t == 0 {
			text = c.t("strip.now")
		}
		v.Times = append(v.Times, stripTick{text, coordinate(stripRight - float64(t)/60*(stripRight-stripLeft))})
	}
	v.Width = coordinate(width)
	v.lines(columns, missing(s.RateHz), x, func(k float32) string { return coordinate(y(float64(k) * u.factor)) }, width)
	v.Alt = c.t("strip.alt", v.Label, v.Low, v.High+" "+u.name)
	if w := &s.Ten; w.Samples > 0 {
		v.Window = true
		v.Mean = decimals(c.lang, w.Mean*u.factor, u.places+1) + " " + u.name
		v.Noise = noise(c.lang, w, u)
	}
}

// missing is how many columns in a row without a value are a gap, of a message that comes at some rate: a slow one
// does not come in each.
func missing(rateHz float64) int {
	if rateHz <= 0 {
		return 5
	}
	return 1 + int(math.Ceil(3e9/rateHz/float64(checks.ColumnNs)))
}

// lines draws the columns and finds the gaps between them.
func (v *stripView) lines(columns []checks.Column, missing int, x func(int) float64, y func(float32) string, width float64) {
	var band, line strings.Builder
	last := -1
	for i := range columns {
		k := &columns[i]
		if k.Samples == 0 {
			continue
		}
		at := coordinate(x(i))
		band.WriteString("M" + at + " " + y(k.Low) + "V" + y(k.High))
		if last < 0 || i-last > missing {
			line.WriteString("M" + at + " " + y(k.Mean) + "h0")
		} else {
			line.WriteString("L" + at + " " + y(k.Mean))
		}
		if last >= 0 && i-last > missing {
			v.gap(last, i, x, width)
		}
		last = i
	}
	if len(columns)-last > missing {
		v.gap(last, len(columns), x, width)
	}
	v.Band, v.Line = band.String(), line.String()
}

// gap keeps what lies between two columns.
func (v *stripView) gap(after, before int, x func(int) float64, width float64) {
	from := x(after) + width/2
	v.Gaps = append(v.Gaps, gap{coordinate(from), coordinate(x(before) - width/2 - from)})
}

// roundStep is the next round number: 1, 2 or 5 times a power of ten.
func roundStep(v float64) float64 {
	if v <= 0 || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0
	}
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= v*(1-1e-9) {
			return m * p
		}
	}
	return 10 * p
}

// places is how many decimals a round step needs.
func places(step float64) int { return max(0, -int(math.Floor(math.Log10(step)+1e-9))) }

// noise writes the noise of a window with two significant digits.
func noise(lang string, w *checks.Window, u unit) string {
	if w.Samples < 3 {
		return ""
	}
	n := w.Noise * u.factor
	return strings.TrimSpace(decimals(lang, n, digits(n, 2)) + " " + u.name)
}

// cornerLimits are the limits that a live value of a corner has; what is judged from turns has none.
func cornerLimits(l *checks.Limits) func(checks.Quantity) (low, high float64, ok bool) {
	return func(q checks.Quantity) (low, high float64, ok bool) {
		switch q {
		case checks.Supply:
			return l.SupplyV[0], l.SupplyV[1], true
		case checks.Temperature:
			return l.TemperatureC[0], l.TemperatureC[1], true
		default:
			return 0, 0, false
		}
	}
}

// opticLimits are the same of an optical sensor: its heights at rest on the ground.
func opticLimits(o *checks.Optic) func(checks.Quantity) (low, high float64, ok bool) {
	return func(q checks.Quantity) (low, high float64, ok bool) {
		switch q {
		case checks.HeightOuter, checks.HeightInner, checks.HeightThird:
			return o.ClearanceM - o.ClearanceToleranceM, o.ClearanceM + o.ClearanceToleranceM, o.ClearanceM > 0
		default:
			return 0, 0, false
		}
	}
}
