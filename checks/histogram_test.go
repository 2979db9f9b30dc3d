package checks

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Each value lies within the bounds of its bucket, as they are defined; bounds and their neighbours included.
func TestHistogramBucket(t *testing.T) {
	bound := func(i int) float64 { return math.Exp2(HistogramLow + float64(i)/(1<<HistogramSchema)) }
	values := []float64{0, 1e-300, 1e-7, 1, 7900, 1e6, math.Nextafter(1, 0), math.Nextafter(1, 2)}
	for e := HistogramLow; e < HistogramHigh; e++ {
		values = append(values, math.Ldexp(1, e), math.Nextafter(math.Ldexp(1, e), 0), math.Nextafter(math.Ldexp(1, e), math.Inf(1)))
	}
	random := rand.New(rand.NewPCG(3, 4))
	for range 10_000 {
		values = append(values, math.Exp2(HistogramLow+(HistogramHigh-HistogramLow)*random.Float64()))
	}
	for _, v := range values {
		i := histogramBucket(v)
		if i < 0 {
			if v > bound(0) {
				t.Errorf("%v counts as zero", v)
			}
			continue
		}
		if low, high := bound(i), bound(i+1); v <= low*(1-1e-15) || v > high*(1+1e-15) {
			t.Errorf("%v: bucket %d from %v to %v", v, i, low, high)
		}
	}
	if got := histogramBucket(1e300); got != HistogramBuckets-1 {
		t.Errorf("what is too large: bucket %d, want the last", got)
	}
}

func TestHistogramAdd(t *testing.T) {
	var h Histogram
	for _, v := range []float64{1, -1, 0, 3, 3, math.NaN(), math.Inf(1), math.Inf(-1)} {
		h.Add(v)
	}
	positive, negative := uint32(0), uint32(0)
	for i := range h.Positive {
		positive += h.Positive[i]
		negative += h.Negative[i]
	}
	if h.Count != 5 || h.Sum != 6 || h.Zero != 1 || positive != 3 || negative != 1 {
		t.Errorf("got %d values, sum %v, %d zero, %d above, %d below", h.Count, h.Sum, h.Zero, positive, negative)
	}
}
