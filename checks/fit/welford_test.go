package fit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// NIST StRD univariate, NumAcc3 and NumAcc4: one value, then 500 pairs one
// tenth below and above. Mean and standard deviation 0.1 are exact by
// construction. The input itself carries a rounding of half a step of float64.
func TestWelfordNIST(t *testing.T) {
	for _, tt := range []struct {
		name   string
		mean   float64
		digits float64 // of the standard deviation
	}{{"NumAcc3", 1000000.2, 9}, {"NumAcc4", 10000000.2, 8}} {
		t.Run(tt.name, func(t *testing.T) {
			var w Welford
			w.Add(tt.mean)
			for range 500 {
				w.Add(tt.mean - 0.1)
				w.Add(tt.mean + 0.1)
			}
			if n := digits(w.Mean(), tt.mean); n < 14 {
				t.Errorf("mean = %.17g, certified %.17g", w.Mean(), tt.mean)
			}
			if n := digits(w.SD(), 0.1); n < tt.digits {
				t.Errorf("sd = %.17g, certified 0.1: %.1f digits", w.SD(), n)
			}
		})
	}
}

func TestWelfordMissing(t *testing.T) {
	var w Welford
	for _, v := range []float64{w.Mean(), w.Variance(), w.SD(), w.Min(), w.Max()} {
		if !math.IsNaN(v) {
			t.Errorf("empty: got %g, want NaN", v)
		}
	}
	w.Add(3)
	if w.Mean() != 3 || w.Min() != 3 || w.Max() != 3 || !math.IsNaN(w.SD()) {
		t.Errorf("one value: %g, %g…%g, sd %g", w.Mean(), w.Min(), w.Max(), w.SD())
	}
	w.Add(math.NaN())
	w.Add(4)
	for _, v := range []float64{w.Mean(), w.SD(), w.Min(), w.Max()} {
		if !math.IsNaN(v) {
			t.Errorf("with a NaN: got %g, want NaN", v)
		}
	}
}

func TestBivariate(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	const n = 300
	x, y := make([]float64, n), make([]float64, n)
	var whole, a, b Bivariate
	for i := range n {
		x[i] = 1e5 + rng.NormFloat64()
		y[i] = -3e5 + 0.5*(x[i]-1e5) + 2*rng.NormFloat64()
		whole.Add(x[i], y[i])
		if i < 100 {
			a.Add(x[i], y[i])
		} else {
			b.Add(x[i], y[i])
		}
	}
	var empty Bivariate
	a.Merge(&empty)
	a.Merge(&b)
	empty.Merge(&a)

	want := mat.NewSymDense(2, nil) // gonum
	data := mat.NewDense(n, 2, nil)
	data.SetCol(0, x)
	data.SetCol(1, y)
	stat.CovarianceMatrix(want, data, nil)
	for _, got := range []*Bivariate{&whole, &a, &empty} {
		xx, xy, yy := got.Covariance()
		if !near(xx, want.At(0, 0), 1e-9) || !near(xy, want.At(0, 1), 1e-9) || !near(yy, want.At(1, 1), 1e-9) {
			t.Errorf("covariance %g %g %g, want %v", xx, xy, yy, mat.Formatted(want))
		}
		mx, my := got.Mean()
		if !near(mx, stat.Mean(x, nil), 1e-9) || !near(my, stat.Mean(y, nil), 1e-9) || got.N() != n {
			t.Errorf("mean (%g, %g) of %d", mx, my, got.N())
		}
		var chol mat.Cholesky
		chol.Factorize(want)
		d := stat.Mahalanobis(mat.NewVecDense(2, []float64{1e5 + 2, -3e5 - 1}), mat.NewVecDense(2, []float64{mx, my}), &chol)
		if g := got.Distance2(1e5+2, -3e5-1); !near(g, d*d, 1e-7) {
			t.Errorf("distance² %g, want %g", g, d*d)
		}
	}
}

func TestBivariateMissing(t *testing.T) {
	var b Bivariate
	xx, xy, yy := b.Covariance()
	x, y := b.Mean()
	for _, v := range []float64{xx, xy, yy, x, y, b.Distance2(1, 1)} {
		if !math.IsNaN(v) {
			t.Errorf("empty: got %g, want NaN", v)
		}
	}
	for i := range 10 {
		b.Add(float64(i), 3*float64(i)+1)
	}
	if d := b.Distance2(1, 1); !math.IsNaN(d) {
		t.Errorf("on a line: distance² %g, want NaN", d)
	}
}

// Errors that fall evenly on the frames of a wheel that lingers at one angle
// must not look as if they knew the angle: measurement model, section 3.4b.
func TestDistance2UnevenDwell(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	const trials, errors = 2000, 60
	var cry, naive int
	for range trials {
		var all Bivariate
		var bad struct{ n, c, s float64 }
		for i := range 3000 {
			u := float64(i) / 3000
			s, c := math.Sincos(2 * math.Pi * (5*u + 0.12*math.Sin(2*math.Pi*5*u)))
			all.Add(c, s)
			if rng.IntN(3000) < errors {
				bad.n, bad.c, bad.s = bad.n+1, bad.c+c, bad.s+s
			}
		}
		if math.Exp(-bad.n*all.Distance2(bad.c/bad.n, bad.s/bad.n)/2) < 0.05 {
			cry++
		}
		if r := math.Hypot(bad.c, bad.s) / bad.n; math.Exp(-bad.n*r*r) < 0.05 { // first term of its series
			naive++
		}
	}
	if f := float64(cry) / trials; f < 0.03 || f > 0.07 {
		t.Errorf("%.1f %% of random errors found to bunch at p < 5 %%", 100*f)
	}
	if f := float64(naive) / trials; f < 0.3 {
		t.Errorf("the plain Rayleigh test cries wolf in %.1f %% only: the dwell of this test is too even", 100*f)
	}
}

func ExampleWelford() {
	var w Welford
	for _, x := range []float64{2, 4, 4, 4, 5, 5, 7, 9} {
		w.Add(x)
	}
	fmt.Printf("%d: %.3f ± %.3f, %.0f to %.0f\n", w.N(), w.Mean(), w.SD(), w.Min(), w.Max())
	// Output: 8: 5.000 ± 2.138, 2 to 9
}
