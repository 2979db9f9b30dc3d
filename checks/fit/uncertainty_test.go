package fit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

func TestCombine(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	tests := []struct {
		name         string
		parts        []Part
		u, dof       float64
		tolU, tolDOF float64
	}{
		// JCGM 100:2008, G.4.3: a product of three, relative uncertainties in
		// per cent from 10, 5 and 15 readings. The example from memory; SciPy 1.10.1 gives 1.0295 and 18.999.
		{"G.4.3", []Part{{0.25, 9}, {0.57, 4}, {0.82, 14}}, 1.03, 19.0, 5e-3, 5e-2},
		// JCGM 100:2008, H.1, end gauge, nm: u_c = 32 of 25, d of 5.8, 3.9 and 6.7 with 24, 5 and 8 degrees of freedom,
		// 2.9 and 16.6, as the documentation of GTC (github.com/MSLNZ/GTC, docs/API/GUM_H1.rst) works it out. The 16 degrees of
		// freedom after rounding down 16.7 from memory; the sums agree.
		{"H.1", []Part{{25, 18}, {9.7, 25.6}, {2.9, 50}, {16.6, 2}}, 32, 16.7, 0.5, 0.5},
		{"one", []Part{{3, 7}}, 3, 7, 0, 1e-14},
		{"two alike", []Part{{3, 7}, {3, 7}}, 3 * math.Sqrt2, 14, 1e-15, 1e-14},
		{"type B only", []Part{TypeB(3), TypeB(4)}, 5, inf, 1e-15, 0},
		{"nothing known of one", []Part{{3, 0}, TypeB(4)}, 5, 0, 1e-15, 0},
		{"zero does not count", []Part{{0, 0}, {2, 5}}, 2, 5, 0, 1e-14},
		{"all zero", []Part{{0, 0}}, 0, inf, 0, 0},
		{"none", nil, 0, inf, 0, 0},
		{"small", []Part{{3e-200, 7}, TypeB(4e-200)}, 5e-200, 7 * 625.0 / 81, 1e-214, 1e-12},
		{"NaN", []Part{{nan, 7}, {3, 7}}, nan, nan, 0, 0},
		{"NaN degrees", []Part{{1, nan}}, nan, nan, 0, 0},
		{"negative", []Part{{-1, 7}}, nan, nan, 0, 0},
		{"infinite", []Part{{inf, 7}}, nan, nan, 0, 0},
	}
	same := func(got, want, tol float64) bool {
		return got == want || near(got, want, tol) || math.IsNaN(got) && math.IsNaN(want)
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			u, dof := Combine(tt.parts...)
			if !same(u, tt.u, tt.tolU) || !same(dof, tt.dof, tt.tolDOF) {
				t.Errorf("got %g, %g, want %g, %g", u, dof, tt.u, tt.dof)
			}
		})
	}
}

func TestExpanded(t *testing.T) {
	for _, tt := range []struct {
		name      string
		parts     []Part
		want, tol float64
	}{
		{"G.4.3, U95 in per cent", []Part{{0.25, 9}, {0.57, 4}, {0.82, 14}}, 2.2, 0.05}, // the example from memory; SciPy 1.10.1 gives 2.155
		{"type B", []Part{TypeB(1)}, 1.959964, 1e-6},
		{"two readings", []Part{{1, 1}}, 12.7062, 1e-4},
		{"nothing known", []Part{{1, 0}}, math.Inf(1), 0},
		{"exact", nil, 0, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := Expanded(tt.parts...); got != tt.want && !near(got, tt.want, tt.tol) {
				t.Errorf("got %g, want %g", got, tt.want)
			}
		})
	}
	if got := Expanded(Part{U: math.NaN()}); !math.IsNaN(got) {
		t.Errorf("NaN: got %g", got)
	}
}

// Coverage by simulation: the interval holds the true value about as often as
// it claims, for few readings and for readings with a rectangular part.
func TestExpandedCoverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	const trials = 20000 // standard deviation of the share 0.15 %
	for _, tt := range []struct {
		name    string
		n       int
		a       float64 // half width of the rectangular part; the readings have sd 1
		low, up float64
	}{
		{"3 readings", 3, 0, 0.944, 0.956},
		{"10 readings", 10, 0, 0.944, 0.956},
		{"5 readings, rounded", 5, 0.5, 0.938, 0.975},
		{"20 readings, mostly rounding", 20, 2, 0.95, 1}, // a rectangle has no tails
	} {
		t.Run(tt.name, func(t *testing.T) {
			held := 0
			for range trials {
				var b Welford
				for range tt.n {
					b.Add(rng.NormFloat64())
				}
				bias := tt.a * (2*rng.Float64() - 1)
				if math.Abs(b.Mean()+bias) <= Expanded(ofMean(&b), TypeB(Rectangular(tt.a))) {
					held++
				}
			}
			if share := float64(held) / trials; share < tt.low || share > tt.up {
				t.Errorf("held in %.2f %%, want %.1f to %.1f", 100*share, 100*tt.low, 100*tt.up)
			}
		})
	}
}

// ofMean is the standard uncertainty of the mean of independent readings (JCGM 100:2008, 4.2.3).
func ofMean(w *Welford) Part {
	n := float64(w.N())
	return Part{U: w.SD() / math.Sqrt(n), DOF: n - 1}
}

func TestRectangular(t *testing.T) {
	if got, want := Rectangular(0.5), 0.288675134594813; !near(got, want, 1e-15) { // 1/√12
		t.Errorf("got %.15g, want %.15g", got, want)
	}
}

func ExampleExpanded() {
	var zero Welford // N, one per revolution
	for _, x := range []float64{41.2, 39.8, 40.5} {
		zero.Add(x)
	}
	step := TypeB(Rectangular(0.5)) // half a raw step of 1 N
	fmt.Printf("%.1f ± %.1f N\n", zero.Mean(), Expanded(ofMean(&zero), step))
	// Output: 40.5 ± 1.3 N
}
