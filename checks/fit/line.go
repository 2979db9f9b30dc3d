package fit

import (
	"fmt"
	"math"
)

// LineFit is a fitted y = Intercept + Slope·x with standard uncertainties
// from the scatter about the line (JCGM 100:2008, H.3.2).
type LineFit struct {
	Intercept, Slope   float64
	UIntercept, USlope float64
	Correlation        float64 // of intercept and slope, −1…1
	ResidualSD         float64 // over N − 2
	N                  int

	meanX, meanY, sxx float64
}

// Line fits a straight line by least squares, every point with the same
// weight. It needs at least 3 points with two different x, all finite.
func Line(x, y []float64) (LineFit, error) {
	if len(x) != len(y) {
		return LineFit{}, fmt.Errorf("fit: line: %d values of x, %d of y", len(x), len(y))
	}
	if len(x) < 3 {
		return LineFit{}, fmt.Errorf("fit: line: %d points, at least 3 are needed", len(x))
	}
	for i := range x {
		if !finite(x[i]) || !finite(y[i]) {
			return LineFit{}, fmt.Errorf("fit: line: point %d is (%g, %g), not finite", i, x[i], y[i])
		}
	}
	n := float64(len(x))
	f := LineFit{N: len(x), meanX: mean(x), meanY: mean(y)}
	var sxy, sumxx float64
	for i := range x {
		dx := x[i] - f.meanX
		f.sxx += float64(dx * dx)
		sxy += float64(dx * (y[i] - f.meanY))
		sumxx += float64(x[i] * x[i])
	}
	if f.sxx <= float64(1e-28*sumxx) { // rounding alone leaves about 1e-32
		return LineFit{}, fmt.Errorf("fit: line: all %d points at x = %g, no slope", len(x), f.meanX)
	}
	f.Slope = sxy / f.sxx
	f.Intercept = f.meanY - float64(f.Slope*f.meanX)
	var rss float64
	for i := range x {
		r := y[i] - f.meanY - float64(f.Slope*(x[i]-f.meanX))
		rss += float64(r * r)
	}
	f.ResidualSD = math.Sqrt(rss / (n - 2))
	f.USlope = f.ResidualSD / math.Sqrt(f.sxx)
	f.UIntercept = float64(f.USlope * math.Sqrt(sumxx/n))
	f.Correlation = -f.meanX / math.Sqrt(sumxx/n)
	return f, nil
}

// DOF returns the degrees of freedom of the uncertainties, N − 2.
func (f LineFit) DOF() float64 { return float64(f.N - 2) }

// At returns the line at x and its standard uncertainty there.
func (f LineFit) At(x float64) (y, u float64) {
	d := x - f.meanX
	return f.meanY + float64(f.Slope*d), float64(f.ResidualSD * math.Sqrt(1/float64(f.N)+float64(d*d)/f.sxx))
}

// mean takes the mean in two passes, the second for what the first rounded.
func mean(x []float64) float64 {
	n := float64(len(x))
	var sum, rest float64
	for _, v := range x {
		sum += v
	}
	m := sum / n
	for _, v := range x {
		rest += v - m
	}
	return m + rest/n
}
