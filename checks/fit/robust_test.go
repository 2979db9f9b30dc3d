package fit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestMedian(t *testing.T) {
	for _, tt := range []struct {
		name        string
		x           []float64
		median, mad float64
	}{
		{"odd", []float64{3, 1, 2}, 2, 1},
		{"even", []float64{4, 1, 3, 2}, 2.5, 1},
		{"outlier", []float64{1, 1, 2, 2, 4, 6, 900}, 2, 1},
		{"one", []float64{7}, 7, 0},
		{"huge", []float64{1e308, 1.5e308}, 1.25e308, 0.25e308},
		{"none", nil, math.NaN(), math.NaN()},
		{"NaN", []float64{1, 2, math.NaN()}, math.NaN(), math.NaN()},
	} {
		t.Run(tt.name, func(t *testing.T) {
			same := func(a, b float64) bool { return near(a, b, 1e-12*math.Abs(b)) || math.IsNaN(a) && math.IsNaN(b) }
			before := slices.Clone(tt.x)
			median, mad := MAD(tt.x)
			if !same(Median(tt.x), tt.median) || !same(median, tt.median) || !same(mad, tt.mad) {
				t.Errorf("median %g and %g, deviation %g, want %g and %g", Median(tt.x), median, mad, tt.median, tt.mad)
			}
			if fmt.Sprint(before) != fmt.Sprint(tt.x) {
				t.Errorf("input changed to %v", tt.x)
			}
		})
	}
}

func TestMADToSD(t *testing.T) {
	if got := MADToSD * math.Sqrt2 * math.Erfinv(0.5); !near(got, 1, 1e-15) {
		t.Errorf("MADToSD·Φ⁻¹(¾) = %.17g, want 1", got)
	}
}

func ExampleMAD() {
	median, mad := MAD([]float64{9.9, 10.1, 10.0, 10.2, 250})
	fmt.Printf("%.1f ± %.2f\n", median, MADToSD*mad)
	// Output: 10.1 ± 0.15
}

// A plain sort, written down again, has the same median and the same deviation.
func TestMADAgainstSort(t *testing.T) {
	rng := rand.New(rand.NewPCG(19, 20))
	middle := func(x []float64) float64 {
		x = slices.Sorted(slices.Values(x))
		if n := len(x); n%2 == 0 {
			return (x[n/2-1] + x[n/2]) / 2
		}
		return x[len(x)/2]
	}
	for n := 1; n < 200; n++ {
		x := make([]float64, n)
		for i := range x {
			x[i] = math.Round(20*rng.NormFloat64()) / 4 // with ties
		}
		median := middle(x)
		off := make([]float64, n)
		for i := range x {
			off[i] = math.Abs(x[i] - median)
		}
		got, mad := MAD(x)
		if got != median || mad != middle(off) {
			t.Fatalf("of %d values: %v, %v, want %v, %v", n, got, mad, median, middle(off))
		}
	}
}
