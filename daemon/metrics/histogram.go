package metrics

import (
	"math"

	dto "github.com/prometheus/client_model/go"

	"plumbline/checks"
)

// counts makes a histogram for Prometheus: a native one, for who asks in a format that has them, and beside
// it the buckets that end at bounds for all others. Both hold the same values.
func counts(h *checks.Histogram, bounds []int) *dto.Histogram {
	schema, threshold := int32(checks.HistogramSchema), math.Ldexp(1, checks.HistogramLow)
	count, sum, zero := h.Count, h.Sum, h.Zero
	out := &dto.Histogram{
		SampleCount: &count, SampleSum: &sum,
		Schema: &schema, ZeroThreshold: &threshold, ZeroCount: &zero,
	}
	out.PositiveSpan, out.PositiveDelta = spans(&h.Positive)
	out.NegativeSpan, out.NegativeDelta = spans(&h.Negative)
	upTo := zero
	for i := range h.Negative {
		upTo += uint64(h.Negative[i])
	}
	next := 0
	for _, index := range bounds {
		for end := index - checks.HistogramLow<<checks.HistogramSchema; next < end; next++ {
			upTo += uint64(h.Positive[next])
		}
		bound, cumulative := math.Exp2(float64(index)/(1<<checks.HistogramSchema)), upTo
		out.Bucket = append(out.Bucket, &dto.Bucket{UpperBound: &bound, CumulativeCount: &cumulative})
	}
	return out
}

// doublings are the indexes of buckets that end at powers of 2.
func doublings(exponents ...int) []int {
	for i := range exponents {
		exponents[i] <<= checks.HistogramSchema
	}
	return exponents
}

// every are the indexes of all buckets between two powers of 2.
func every(from, to int) []int {
	var out []int
	for i := from << checks.HistogramSchema; i <= to<<checks.HistogramSchema; i++ {
		out = append(out, i)
	}
	return out
}

// spans writes buckets as native histograms do: runs of them with the gaps between, and
// each count as its difference from the one before.
func spans(buckets *[checks.HistogramBuckets]uint32) (runs []*dto.BucketSpan, deltas []int64) {
	const first = checks.HistogramLow<<checks.HistogramSchema + 1 // index of buckets[0]; index 0 ends at 1
	before, last := int64(0), 0
	for i, n := range buckets {
		if n == 0 {
			continue
		}
		switch {
		case len(runs) > 0 && i == last+1:
			*runs[len(runs)-1].Length++
		default:
			offset, length := int32(i+first), uint32(1)
			if len(runs) > 0 {
				offset = int32(i - last - 1)
			}
			runs = append(runs, &dto.BucketSpan{Offset: &offset, Length: &length})
		}
		deltas = append(deltas, int64(n)-before)
		before, last = int64(n), i
	}
	return runs, deltas
}
