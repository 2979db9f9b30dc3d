package fit

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func TestTailsAgainstGonum(t *testing.T) {
	chi := distuv.ChiSquared{K: 2}
	for _, x := range []float64{0, 0.1, 1, 5.991, 9.21, 13.816, 50} {
		if got, want := ChiSquareTail2(x), chi.Survival(x); !near(got, want, 1e-12) {
			t.Errorf("ChiSquareTail2(%g) = %g, want %g", x, got, want)
		}
	}
	for _, z := range []float64{-3, -1, 0, 0.5, 1.959964, 3, 6} {
		if got, want := NormalTail(z), distuv.UnitNormal.Survival(z); math.Abs(got-want) > 1e-9*want {
			t.Errorf("NormalTail(%g) = %g, want %g", z, got, want)
		}
	}
	if ChiSquareTail2(-1) != 1 || !math.IsNaN(ChiSquareTail2(math.NaN())) || !math.IsNaN(NormalTail(math.NaN())) {
		t.Error("below zero or NaN")
	}
}

// Critical mean resultant lengths of the Rayleigh test, Mardia 1972 as
// reprinted in Davis, Statistics and Data Analysis in Geology, Table A.10.
func TestRayleighTable(t *testing.T) {
	alpha := [4]float64{0.10, 0.05, 0.025, 0.01}
	for _, row := range []struct {
		n int64
		r [4]float64
	}{
		{8, [4]float64{0.535, 0.602, 0.660, 0.725}},
		{10, [4]float64{0.478, 0.540, 0.594, 0.655}},
		{12, [4]float64{0.437, 0.494, 0.544, 0.602}},
		{15, [4]float64{0.391, 0.443, 0.489, 0.542}},
		{17, [4]float64{0.367, 0.417, 0.460, 0.510}},
		{20, [4]float64{0.339, 0.385, 0.425, 0.472}},
		{22, [4]float64{0.323, 0.367, 0.405, 0.451}},
	} {
		for j, r := range row.r {
			if got := RayleighP(row.n, r); math.Abs(got-alpha[j]) > 0.04*alpha[j] {
				t.Errorf("n %d, length %g: p = %.4f, want %g", row.n, r, got, alpha[j])
			}
		}
	}
	for _, tt := range []struct {
		n    int64
		r    float64
		want float64
	}{
		{0, 0.5, math.NaN()},
		{10, -0.1, math.NaN()},
		{10, 1.1, math.NaN()},
		{10, math.NaN(), math.NaN()},
		{10, 0, 1},
		{1_000_000, 1, 0},
	} {
		if got := RayleighP(tt.n, tt.r); got != tt.want && !(math.IsNaN(got) && math.IsNaN(tt.want)) {
			t.Errorf("RayleighP(%d, %g) = %g, want %g", tt.n, tt.r, got, tt.want)
		}
	}
	for n := range int64(50) { // a probability, whatever the series does
		for r := 0.0; r <= 1; r += 0.01 {
			if p := RayleighP(n+1, r); !(p >= 0 && p <= 1) {
				t.Fatalf("RayleighP(%d, %g) = %g", n+1, r, p)
			}
		}
	}
}

// Upper critical values of χ² with 2 degrees of freedom, NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.4.
func TestChiSquareTable(t *testing.T) {
	for _, row := range []struct{ alpha, critical float64 }{
		{0.10, 4.605}, {0.05, 5.991}, {0.025, 7.378}, {0.01, 9.210}, {0.001, 13.816},
	} {
		if got := ChiSquareTail2(row.critical); math.Abs(got-row.alpha) > 5e-4*row.alpha+1e-7 {
			t.Errorf("ChiSquareTail2(%g) = %.6f, want %g", row.critical, got, row.alpha)
		}
	}
}
