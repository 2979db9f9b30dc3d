package checks

import "math"

// Bounds of the buckets of a Histogram.
const (
	HistogramSchema  = 2   // 2^HistogramSchema buckets to a doubling, as Prometheus counts it: each 19 % wide
	HistogramLow     = -20 // what is below 2^HistogramLow in size counts as zero
	HistogramHigh    = 20  // what is above 2^HistogramHigh counts in the last bucket
	HistogramBuckets = (HistogramHigh - HistogramLow) << HistogramSchema
)

// Histogram counts values by their size, for who looks. Its memory is fixed; a copy is independent of it.
//
// Bucket i of either sign holds the values whose size is above 2^(HistogramLow + i/4) and up to
// 2^(HistogramLow + (i+1)/4): those of the native histograms of Prometheus.
type Histogram struct {
	Count    uint64
	Sum      float64 // of the values, in their unit
	Zero     uint64  // of size up to 2^HistogramLow
	Positive [HistogramBuckets]uint32
	Negative [HistogramBuckets]uint32
}

// Add counts a value. What is not finite is left out.
func (h *Histogram) Add(v float64) {
	if v-v != 0 {
		return
	}
	h.Count++
	h.Sum += v
	i := histogramBucket(math.Abs(v))
	switch {
	case i < 0:
		h.Zero++
	case v > 0:
		h.Positive[i]++
	default:
		h.Negative[i]++
	}
}

// histogramBucket returns the bucket of a size; -1: it counts as zero.
func histogramBucket(size float64) int {
	if size <= 1.0/(1<<-HistogramLow) {
		return -1
	}
	part, exponent := math.Frexp(size) // part in [0.5, 1)
	i := (exponent - 1 - HistogramLow) << HistogramSchema
	switch {
	case part > 0.8408964152537146: // 2^(−1/4)
		i += 3
	case part > 0.7071067811865476: // 2^(−1/2)
		i += 2
	case part > 0.5946035575013605: // 2^(−3/4)
		i++
	case part > 0.5:
	default: // a bound belongs to the bucket below it
		i--
	}
	return min(i, HistogramBuckets-1)
}
