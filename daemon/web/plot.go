package web

import (
	"math"
	"math/cmplx"
	"strings"

	"plumbline/checks"
)

// plotHalf is half the side of the drawing, in its user units.
const plotHalf = 200.0

// plot is the radial force of the newest turn in rotating axes: x is Fx, up is Fz. A wheel that hangs free draws a
// circle; its centre is the zero, its radius the weight.
type plot struct {
	Points   string // path of small dots; empty: nothing to draw
	Circle   bool
	X, Y, R  string // of the fitted circle
	Expected string // radius of m·g about nothing; empty: the mass is not known
	Limit    string // radius of the limit of the zero
	NowX     string // where the weight pulls now; empty: not known
	NowY     string
	Grid     []gridLine
	Zero     string // words: centre
	Weight   string // words: radius
	Wanted   string // words: m·g
	Turns    int
}

// gridLine is a circle of round size.
type gridLine struct{ R, Label, Y string }

// g is the standard acceleration of free fall, m/s² (CGPM 1901).
const g = 9.80665

func (c *composer) plot(now *checks.CornerState, k *checks.Corner) plot {
	expected := k.WheelMassKg * g
	largest := math.Max(expected, cmplx.Abs(now.Zero)+cmplx.Abs(now.Weight))
	for _, p := range now.Points {
		largest = math.Max(largest, math.Hypot(p.Fx, p.Fz))
	}
	if largest == 0 || math.IsInf(largest, 0) || math.IsNaN(largest) {
		return plot{}
	}
	scale := plotHalf * 0.88 / largest
	n := func(v float64) string { return coordinate(v * scale) }
	var out plot
	var path strings.Builder
	for _, p := range now.Points {
		path.WriteString("M" + n(p.Fx) + " " + n(-p.Fz) + "h0")
	}
	out.Points = path.String()
	if expected > 0 {
		out.Expected = n(expected)
		out.Wanted = decimals(c.lang, expected, 0) + " N"
	}
	if limit := c.m.snapshot.Setup.Checks.Limits.ZeroForceN; limit > 0 {
		out.Limit = n(limit)
	}
	step := math.Pow(10, math.Floor(math.Log10(largest)))
	if largest/step < 2 {
		step /= 2
	}
	for r := step; r <= largest*1.1; r += step {
		out.Grid = append(out.Grid, gridLine{n(r), decimals(c.lang, r, 0), n(-r)})
	}
	if now.Turns > 0 {
		out.Circle, out.Turns = true, now.Turns
		out.X, out.Y, out.R = n(real(now.Zero)), n(-imag(now.Zero)), n(cmplx.Abs(now.Weight))
		out.Zero = decimals(c.lang, real(now.Zero), 0) + " N, " + decimals(c.lang, imag(now.Zero), 0) + " N"
		out.Weight = decimals(c.lang, cmplx.Abs(now.Weight), 0) + " N"
	}
	if now.Angle && now.Hang == checks.Lifted && now.Turns > 0 {
		pull := now.Zero + now.Weight*cmplx.Exp(complex(0, now.Theta))
		out.NowX, out.NowY = n(real(pull)), n(-imag(pull))
	}
	return out
}
