package fit

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// JCGM 100:2008, Table G.2, as reprinted in NIST TN 1297, Table B.1.
func TestStudentTable(t *testing.T) {
	k := func(k float64) float64 { return math.Erf(k / math.Sqrt2) } // the columns 68.27, 95.45 and 99.73 %
	columns := []float64{k(1), 0.90, 0.95, k(2), 0.99, k(3)}
	inf := math.Inf(1)
	table := []struct {
		dof  float64
		want [6]float64
		tol  float64
	}{
		{1, [6]float64{1.84, 6.31, 12.71, 13.97, 63.66, 235.80}, 5e-3},
		{2, [6]float64{1.32, 2.92, 4.30, 4.53, 9.92, 19.21}, 5e-3},
		{3, [6]float64{1.20, 2.35, 3.18, 3.31, 5.84, 9.22}, 5e-3},
		{4, [6]float64{1.14, 2.13, 2.78, 2.87, 4.60, 6.62}, 5e-3},
		{5, [6]float64{1.11, 2.02, 2.57, 2.65, 4.03, 5.51}, 5e-3},
		{6, [6]float64{1.09, 1.94, 2.45, 2.52, 3.71, 4.90}, 5e-3},
		{7, [6]float64{1.08, 1.89, 2.36, 2.43, 3.50, 4.53}, 5e-3},
		{8, [6]float64{1.07, 1.86, 2.31, 2.37, 3.36, 4.28}, 5e-3},
		{9, [6]float64{1.06, 1.83, 2.26, 2.32, 3.25, 4.09}, 5e-3},
		{10, [6]float64{1.05, 1.81, 2.23, 2.28, 3.17, 3.96}, 5e-3},
		{11, [6]float64{1.05, 1.80, 2.20, 2.25, 3.11, 3.85}, 5e-3},
		{12, [6]float64{1.04, 1.78, 2.18, 2.23, 3.05, 3.76}, 5e-3},
		{13, [6]float64{1.04, 1.77, 2.16, 2.21, 3.01, 3.69}, 5e-3},
		{14, [6]float64{1.04, 1.76, 2.14, 2.20, 2.98, 3.64}, 5e-3},
		{15, [6]float64{1.03, 1.75, 2.13, 2.18, 2.95, 3.59}, 5e-3},
		{16, [6]float64{1.03, 1.75, 2.12, 2.17, 2.92, 3.54}, 5e-3},
		{17, [6]float64{1.03, 1.74, 2.11, 2.16, 2.90, 3.51}, 5e-3},
		{18, [6]float64{1.03, 1.73, 2.10, 2.15, 2.88, 3.48}, 5e-3},
		{19, [6]float64{1.03, 1.73, 2.09, 2.14, 2.86, 3.45}, 5e-3},
		{20, [6]float64{1.03, 1.72, 2.09, 2.13, 2.85, 3.42}, 5e-3},
		{25, [6]float64{1.02, 1.71, 2.06, 2.11, 2.79, 3.33}, 5e-3},
		{30, [6]float64{1.02, 1.70, 2.04, 2.09, 2.75, 3.27}, 5e-3},
		{35, [6]float64{1.01, 1.70, 2.03, 2.07, 2.72, 3.23}, 1.05e-2}, // 90 %: 1.6896, printed 1.70
		{40, [6]float64{1.01, 1.68, 2.02, 2.06, 2.70, 3.20}, 5e-3},
		{45, [6]float64{1.01, 1.68, 2.01, 2.06, 2.69, 3.18}, 5e-3},
		{50, [6]float64{1.01, 1.68, 2.01, 2.05, 2.68, 3.16}, 5e-3},
		{100, [6]float64{1.005, 1.660, 1.984, 2.025, 2.626, 3.077}, 5e-4},
		{inf, [6]float64{1.000, 1.645, 1.960, 2.000, 2.576, 3.000}, 5e-4},
	}
	for _, row := range table {
		for j, p := range columns {
			if got := StudentT(p, row.dof); !near(got, row.want[j], 1.001*row.tol+1e-9) {
				t.Errorf("p %.4f, %g degrees of freedom: %.4f, want %.3f", p, row.dof, got, row.want[j])
			}
		}
	}
}

// gonum inverts the distribution by another way; closed forms for 1 and 2.
func TestStudentAgainstGonum(t *testing.T) {
	for _, dof := range []float64{1, 1.01, 1.5, 2, 2.7, 3, 4.4, 9, 16.7, 42.5, 99, 100, 333, 5000, 9999, 1e4} {
		for _, p := range []float64{0.001, 0.1, 0.5, 0.6827, 0.9, 0.95, 0.99, 0.9999} {
			got := StudentT(p, dof)
			dist := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}
			if cdf := 2*dist.CDF(got) - 1; !near(cdf, p, 1e-9) {
				t.Errorf("%g degrees of freedom: t(%g) = %.10g covers %.10g", dof, p, got, cdf)
			}
		}
	}
	for _, p := range []float64{0.01, 0.5, 0.95, 0.999, 1 - 1e-9} {
		if got, want := StudentT(p, 1), 1/math.Tan(math.Pi*(1-p)/2); math.Abs(got-want) > 1e-9+1e-8*want {
			t.Errorf("1 degree of freedom: t(%g) = %.12g, want %.12g", p, got, want)
		}
		if got, want := StudentT(p, 2), p*math.Sqrt(2/((1-p)*(1+p))); math.Abs(got-want) > 1e-9+1e-8*want {
			t.Errorf("2 degrees of freedom: t(%g) = %.12g, want %.12g", p, got, want)
		}
	}
}

func TestT95(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, tt := range []struct{ dof, want float64 }{
		{1, 12.706204736}, // tan(0.475π)
		{inf, 1.959963985},
		{1e7, 1.959964222}, // z + (z³ + z)/(4·dof)
		{0.99, inf},
		{0, inf},
		{-3, inf},
		{nan, nan},
	} {
		if got := T95(tt.dof); got != tt.want && !(math.IsNaN(got) && math.IsNaN(tt.want)) {
			t.Errorf("T95(%g) = %.12g, want %.12g", tt.dof, got, tt.want)
		}
	}
	last := inf
	for dof := 1.0; dof < 1e6; dof *= 1.01 { // falls without a step where methods change
		got := T95(dof)
		if got > last || got < 1.9599639 {
			t.Fatalf("T95(%g) = %.12g after %.12g", dof, got, last)
		}
		last = got
	}
	for _, tt := range []struct{ p, want float64 }{{0, 0}, {1, inf}, {-0.1, nan}, {1.1, nan}, {nan, nan}} {
		if got := StudentT(tt.p, 5); got != tt.want && !(math.IsNaN(got) && math.IsNaN(tt.want)) {
			t.Errorf("StudentT(%g, 5) = %g, want %g", tt.p, got, tt.want)
		}
	}
}

// At 300 degrees of freedom the series leaves out 2e-10 and its last term is
// worth 1e-7.
func TestCornishFisher(t *testing.T) {
	z := math.Sqrt2 * math.Erfinv(0.95)
	if got, want := cornishFisher(z, 300), newtonT(2, 0.05, 300); !near(got, want, 1e-9) {
		t.Errorf("series %.12f, inversion %.12f", got, want)
	}
}

func ExampleT95() {
	fmt.Printf("%.3f %.3f %.3f\n", T95(2), T95(16.7), T95(math.Inf(1)))
	// Output: 4.303 2.113 1.960
}
