package fit

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// Exact 95 % limits of a Poisson mean, half the quantiles 0.025 and 0.975 of χ² with 2n and 2n + 2 degrees of freedom, by SciPy 1.10.1
// (Debian's python3-scipy, stats.chi2.ppf). Garwood's table (Biometrika 28, 1936) has the same, from memory.
func TestPoissonInterval(t *testing.T) {
	for _, row := range []struct {
		n            int64
		lower, upper float64
	}{
		{0, 0, 3.689},
		{1, 0.0253, 5.572},
		{2, 0.242, 7.225},
		{3, 0.619, 8.767},
		{5, 1.623, 11.668},
		{10, 4.795, 18.390},
		{20, 12.217, 30.888},
		{50, 37.11, 65.92},
		{100, 81.36, 121.63},
	} {
		lower, upper := PoissonInterval(row.n)
		if math.Abs(lower-row.lower) > 6e-4*math.Max(1, row.lower) || math.Abs(upper-row.upper) > 6e-4*row.upper {
			t.Errorf("PoissonInterval(%d) = %.4f, %.4f, want %g, %g", row.n, lower, upper, row.lower, row.upper)
		}
	}
	if lower, upper := PoissonInterval(-1); !math.IsNaN(lower) || !math.IsNaN(upper) {
		t.Errorf("of −1: %v, %v", lower, upper)
	}
}

// gonum sums the distribution by another way; no event has e^−mean.
func TestPoissonAtLeast(t *testing.T) {
	for _, mean := range []float64{0.1, 1, 3.75, 20, 400} {
		for _, n := range []int64{1, 2, 5, 20, 450} {
			got, want := PoissonAtLeast(n, mean), 1-distuv.Poisson{Lambda: mean}.CDF(float64(n-1))
			if math.Abs(got-want) > 1e-10 {
				t.Errorf("PoissonAtLeast(%d, %g) = %v, want %v", n, mean, got, want)
			}
		}
		if got, want := PoissonAtLeast(1, mean), -math.Expm1(-mean); math.Abs(got-want) > 1e-12 {
			t.Errorf("PoissonAtLeast(1, %g) = %v, want 1 − e^−mean = %v", mean, got, want)
		}
	}
	if PoissonAtLeast(0, 3) != 1 || PoissonAtLeast(4, 0) != 0 || !math.IsNaN(PoissonAtLeast(4, -1)) || !math.IsNaN(PoissonAtLeast(4, math.NaN())) {
		t.Error("none, nothing expected, below zero or NaN")
	}
}
