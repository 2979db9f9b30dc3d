package fit

import (
	"math"
	"slices"
)

// MADToSD turns the median absolute deviation of normal values into their
// standard deviation: 1/Φ⁻¹(¾).
const MADToSD = 1.482602218505602

// Median returns the median, of an even number the mean of the middle two. It
// copies x. It is NaN without values or if one is NaN.
func Median(x []float64) float64 { return sortedMedian(slices.Clone(x)) }

// MAD returns the median and the median absolute deviation from it, which
// times [MADToSD] estimates the standard deviation whatever a few outliers
// say. Both are NaN without values or if one is NaN.
func MAD(x []float64) (median, mad float64) {
	d := slices.Clone(x)
	median = sortedMedian(d)
	for i := range d {
		d[i] = math.Abs(d[i] - median)
	}
	return median, sortedMedian(d)
}

func sortedMedian(x []float64) float64 {
	slices.Sort(x) // NaN first
	n := len(x)
	switch {
	case n == 0 || math.IsNaN(x[0]):
		return math.NaN()
	case n%2 == 1:
		return x[n/2]
	}
	return x[n/2-1]/2 + x[n/2]/2
}

// Median5 is a running median of five: it tells a single odd sample from its
// neighbours. The zero value is empty.
type Median5 struct {
	last [5]float64 // ring
	n    int64
}

// Add adds a value. From the fifth on, ok is true and it returns the median of
// the last five and the middle one of them in time, two values ago.
func (m *Median5) Add(x float64) (median, middle float64, ok bool) {
	m.last[m.n%5] = x
	m.n++
	if m.n < 5 {
		return 0, 0, false
	}
	a, b, c, d, e := m.last[0], m.last[1], m.last[2], m.last[3], m.last[4]
	a, b = min(a, b), max(a, b)
	c, d = min(c, d), max(c, d)
	a, c = max(a, c), min(b, d) // the smallest and the largest of four cannot be the median
	a, c = min(a, c), max(a, c)
	return max(a, min(c, e)), m.last[(m.n+2)%5], true
}
