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

func TestMedian5(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 18))
	var m Median5
	var x []float64
	for i := range 5000 {
		v := float64(rng.IntN(8)) // with ties
		x = append(x, v)
		median, middle, ok := m.Add(v)
		if ok != (i >= 4) {
			t.Fatalf("value %d: ok = %t", i, ok)
		}
		if ok && (median != Median(x[i-4:]) || middle != x[i-2]) {
			t.Fatalf("value %d: %g, %g, want %g, %g of %v", i, median, middle, Median(x[i-4:]), x[i-2], x[i-4:])
		}
	}
}

func ExampleMAD() {
	median, mad := MAD([]float64{9.9, 10.1, 10.0, 10.2, 250})
	fmt.Printf("%.1f ± %.2f\n", median, MADToSD*mad)
	// Output: 10.1 ± 0.15
}
