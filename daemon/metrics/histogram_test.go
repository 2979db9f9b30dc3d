package metrics

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/prometheus/client_golang/prometheus"
	dto "github.com/prometheus/client_model/go"

	"plumbline/checks"
)

// TestHistogram holds both forms of a histogram against what client_golang makes of the same values.
func TestHistogram(t *testing.T) {
	bounds := append(doublings(-10, 0, 8), every(12, 13)...)
	classic := []float64{1.0 / 1024, 1, 256, 4096, math.Exp2(12.25), math.Exp2(12.5), math.Exp2(12.75), 8192}
	want := prometheus.NewHistogram(prometheus.HistogramOpts{
		Name: "x", Buckets: classic,
		NativeHistogramBucketFactor: 1.19, NativeHistogramZeroThreshold: math.Ldexp(1, checks.HistogramLow),
	})
	var h checks.Histogram
	random := rand.New(rand.NewPCG(5, 6))
	add := func(v float64) { h.Add(v); want.Observe(v) }
	for range 1000 {
		add(8000 * random.NormFloat64())
		add(0.01 * random.ExpFloat64())
	}
	for _, v := range []float64{0, 1, 256, -1e5, 1e-9, 8192} {
		add(v)
	}
	var m dto.Metric
	if err := want.Write(&m); err != nil {
		t.Fatal(err)
	}
	got, exact := counts(&h, bounds), m.GetHistogram()
	if got.GetSchema() != exact.GetSchema() || got.GetZeroThreshold() != exact.GetZeroThreshold() || got.GetZeroCount() != exact.GetZeroCount() || got.GetSampleCount() != exact.GetSampleCount() {
		t.Errorf("got schema %d, zero %v %d, %d values; want %d, %v %d, %d", got.GetSchema(), got.GetZeroThreshold(), got.GetZeroCount(), got.GetSampleCount(),
			exact.GetSchema(), exact.GetZeroThreshold(), exact.GetZeroCount(), exact.GetSampleCount())
	}
	if math.Abs(got.GetSampleSum()-exact.GetSampleSum()) > 1e-6*math.Abs(exact.GetSampleSum()) {
		t.Errorf("sum: got %v, want %v", got.GetSampleSum(), exact.GetSampleSum())
	}
	for _, c := range []struct {
		name      string
		got, want any
	}{
		{"positive", native(got.GetPositiveSpan(), got.GetPositiveDelta()), native(exact.GetPositiveSpan(), exact.GetPositiveDelta())},
		{"negative", native(got.GetNegativeSpan(), got.GetNegativeDelta()), native(exact.GetNegativeSpan(), exact.GetNegativeDelta())},
		{"for all others", cumulative(got), cumulative(exact)},
	} {
		if diff := cmp.Diff(c.got, c.want); diff != "" {
			t.Errorf("%s: got before want:\n%s", c.name, diff)
		}
	}
}

// native returns counts by index; how runs are cut does not matter.
func native(spans []*dto.BucketSpan, deltas []int64) map[int32]int64 {
	out := map[int32]int64{}
	index, n, next := int32(0), int64(0), 0
	for _, s := range spans {
		index += s.GetOffset()
		for range s.GetLength() {
			if n += deltas[next]; n > 0 {
				out[index] = n
			}
			index++
			next++
		}
	}
	return out
}

func cumulative(h *dto.Histogram) map[float64]uint64 {
	out := map[float64]uint64{}
	for _, b := range h.GetBucket() {
		out[b.GetUpperBound()] = b.GetCumulativeCount()
	}
	return out
}
