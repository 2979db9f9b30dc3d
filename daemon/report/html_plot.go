package report

import (
	"fmt"
	"math"
	"math/cmplx"
	"strconv"

	"plumbline/checks"
	"plumbline/daemon"
)

// The pictures are plain SVG. All have the same size, so that they stand side by
// side; lengths are in its units.
const (
	plotLeft  = 40.0 // a plane is square: 192 by 192
	plotRight = 232.0
	plotTop   = 8.0
	plotBase  = 200.0
	plotLabel = 214.0
)

// frame is a square plane of two quantities with the same scale.
type frame struct {
	half float64 // N, from the middle to the edge
}

func (f frame) x(v float64) string {
	return length(plotLeft + (v/f.half+1)/2*(plotRight-plotLeft))
}

func (f frame) y(v float64) string {
	return length(plotBase - (v/f.half+1)/2*(plotBase-plotTop))
}

func (f frame) radius(v float64) string { return length(v / f.half / 2 * (plotRight - plotLeft)) }

func length(v float64) string { return strconv.FormatFloat(v+0, 'f', 2, 64) }

type at struct{ X, Y string }

type tick struct{ Text, X, Y string }

// ticks returns marks at round numbers, at most three on a side of zero, and fewer
// where the numbers are long.
func (v *view) ticks(f frame) []tick {
	most := 3.0
	if f.half >= 1e4 {
		most = 1.5
	}
	step := math.Pow(10, math.Floor(math.Log10(f.half)))
	for _, m := range []float64{0.2, 0.5, 1, 2, 5, 10} {
		if f.half/(step*m) <= most {
			step *= m
			break
		}
	}
	var out []tick
	for n := math.Ceil(-f.half / step); n*step <= f.half; n++ {
		out = append(out, tick{v.number(fixed(roundTo(n*step, 6), -1)), f.x(n * step), f.y(n * step)})
	}
	return out
}

// planePlot is the radial force of one turn in rotating axes, fx to the right, fz up.
type planePlot struct {
	Ticks    []tick
	X0, Y0   string // no force
	Points   []at
	CX, CY   string // centre of the circles
	R        string // of the fitted circle; empty: none fits
	Expected string // radius of m·g; empty: not known
	WX, WY   string // where the weight points at angle 0
	Note     string
	Title    string
}

// planePlot draws the newest turn. fits says that a circle was fitted and believed;
// else the points stand alone, with the circle that they should lie on about no force.
func (v *view) planePlot(c *checks.CornerState, corner *checks.Corner, fits bool) *planePlot {
	const standardGravity = 9.80665 // m/s², CGPM 1901
	weight, expected := cmplx.Abs(c.Weight), corner.WheelMassKg*standardGravity
	fits = fits && c.Turns > 0 && sound(real(c.Zero), imag(c.Zero), weight)
	centre, reach := complex(0, 0), expected
	if fits {
		centre, reach = c.Zero, cmplx.Abs(c.Zero)+max(weight, expected)
	}
	for _, p := range c.Points {
		if sound(p.Fx, p.Fz) {
			reach = max(reach, math.Abs(p.Fx), math.Abs(p.Fz))
		}
	}
	if reach == 0 || len(c.Points) == 0 {
		return nil
	}
	f := frame{1.1 * reach}
	p := &planePlot{
		Ticks: v.ticks(f), X0: f.x(0), Y0: f.y(0), CX: f.x(real(centre)), CY: f.y(imag(centre)), Note: v.W.NoFit, Title: printable(corner.Name),
	}
	if fits {
		tip := c.Zero + c.Weight
		p.R, p.WX, p.WY = f.radius(weight), f.x(real(tip)), f.y(imag(tip))
		p.Note = v.W.PlaneNote + " " + fmt.Sprintf(v.W.Circle, v.number(significant(weight, 4)))
	}
	if expected > 0 {
		p.Expected = f.radius(expected)
	}
	for _, q := range c.Points {
		if sound(q.Fx, q.Fz) {
			p.Points = append(p.Points, at{f.x(q.Fx), f.y(q.Fz)})
		}
	}
	return p
}

func sound(values ...float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// zeroPlot is the zero of both radial forces within their limits.
type zeroPlot struct {
	Ticks                 []tick
	X0, Y0                string
	Left, Top, Wide, High string // the square of the limits
	X, Y                  string // the zero
	XLow, XHigh           string // its U
	YLow, YHigh           string
	Verdict               checks.Verdict // the worse of the two
	Title                 string
}

func (v *view) zeroPlot(r *daemon.Result, subject string) *zeroPlot {
	fx, fz := zeroOf(r, subject, "fx"), zeroOf(r, subject, "fz")
	if fx == nil || fz == nil {
		return nil
	}
	ux, uz := known(fx.Uncertainty), known(fz.Uncertainty)
	f := frame{1.15 * max(*fx.Limit, *fz.Limit, math.Abs(*fx.Value)+ux, math.Abs(*fz.Value)+uz)}
	p := &zeroPlot{
		Ticks: v.ticks(f), X0: f.x(0), Y0: f.y(0),
		Left: f.x(-*fx.Limit), Top: f.y(*fz.Limit), Wide: f.radius(2 * *fx.Limit), High: f.radius(2 * *fz.Limit),
		X: f.x(*fx.Value), Y: f.y(*fz.Value),
		XLow: f.x(*fx.Value - ux), XHigh: f.x(*fx.Value + ux), YLow: f.y(*fz.Value - uz), YHigh: f.y(*fz.Value + uz),
		Verdict: fx.Verdict, Title: printable(subject),
	}
	if rank(fz.Verdict, true) > rank(fx.Verdict, true) {
		p.Verdict = fz.Verdict
	}
	return p
}

func known(v *float64) float64 {
	if v == nil {
		return 0
	}
	return *v
}

// zeroOf returns the zero of a component that can be drawn, nil for none.
func zeroOf(r *daemon.Result, subject, channel string) *daemon.Finding {
	for i := range r.Findings {
		f := &r.Findings[i]
		if f.Check == "zero" && f.Subject == subject && f.Channel == channel && f.Value != nil && f.Limit != nil && *f.Limit > 0 {
			return f
		}
	}
	return nil
}

// componentPlot is the zero of each component in parts of its limit.
type componentPlot struct {
	Middle, Low, High string // positions of no load and of both limits
	Top, Base, Label  string
	Rows              []componentRow
	Title             string
}

type componentRow struct {
	Name, Text  string
	Y, TextY    string
	X, From, To string
	Beyond      string // outline of an arrow; empty: the value is in the picture
	Verdict     checks.Verdict
}

// reach is how many limits the picture of the components shows to each side.
const reach = 1.5

const (
	componentLeft  = 26.0
	componentRight = 150.0
)

// componentX is the place of a part of a limit.
func componentX(part float64) float64 {
	return componentLeft + (min(max(part, -reach), reach)/reach+1)/2*(componentRight-componentLeft)
}

func newComponentPlot(subject string) *componentPlot {
	return &componentPlot{
		Middle: length(componentX(0)), Low: length(componentX(-1)), High: length(componentX(1)), Top: length(plotTop), Base: length(plotBase), Label: length(plotLabel),
		Title: printable(subject),
	}
}

// add adds the row of a component, whose value and uncertainty are parts of its limit.
func (p *componentPlot) add(i int, name, text string, part, spread float64, verdict checks.Verdict) {
	const rowHeight = 32.0
	y := plotTop + (float64(i)+0.5)*rowHeight
	row := componentRow{
		Name: name, Text: text, Y: length(y), TextY: length(y + 3.5),
		X: length(componentX(part)), From: length(componentX(part - spread)), To: length(componentX(part + spread)), Verdict: verdict,
	}
	switch {
	case part > reach:
		row.Beyond = arrow(componentRight, y, -1)
	case part < -reach:
		row.Beyond = arrow(componentLeft, y, +1)
	}
	p.Rows = append(p.Rows, row)
}

func (v *view) componentPlot(r *daemon.Result, subject string) *componentPlot {
	p := newComponentPlot(subject)
	for i, q := range []checks.Quantity{checks.Fx, checks.Fy, checks.Fz, checks.Mx, checks.My, checks.Mz} {
		f := zeroOf(r, subject, q.String())
		if f == nil {
			continue
		}
		text := v.number(quantity(*f.Value, f.Uncertainty, unit{factor: 1})) + " " + printable(f.Unit)
		p.add(i, q.String(), text, *f.Value / *f.Limit, known(f.Uncertainty) / *f.Limit, f.Verdict)
	}
	if len(p.Rows) == 0 {
		return nil
	}
	return p
}

// arrow is the outline of a triangle whose tip is at x, y and whose base lies on the side back.
func arrow(x, y, back float64) string {
	base := length(x + back*8)
	return length(x) + "," + length(y) + " " + base + "," + length(y-5) + " " + base + "," + length(y+5)
}
