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
