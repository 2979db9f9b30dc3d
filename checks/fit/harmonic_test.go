package fit

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// near reports whether two numbers agree within an absolute tolerance.
func near(got, want, tol float64) bool { return math.Abs(got-want) <= tol }

// samples returns one channel over the angles of a wheel turned unevenly by
// hand.
func samples(n int, turns, offset, cos, sin, noise float64, rng *rand.Rand) (theta, y []float64) {
	for i := range n {
		u := float64(i) / float64(n)
		th := 2 * math.Pi * turns * (u + 0.08*math.Sin(2*math.Pi*u*3))
		theta = append(theta, th)
		y = append(y, offset+cos*math.Cos(th)+sin*math.Sin(th)+noise*rng.NormFloat64())
	}
	return theta, y
}

func sums(theta, y []float64) (*Gram, *Moments) {
	var g Gram
	var m Moments
	for i, th := range theta {
		s, c := math.Sincos(th)
		g.Add(c, s)
		m.Add(y[i], c, s)
	}
	return &g, &m
}

// The fit of IEEE Std 1057 is by definition the least squares solution on
// [1, cos, sin]; gonum solves the same by QR on all samples.
func TestSolveAgainstQR(t *testing.T) {
	tests := []struct {
		name                               string
		n                                  int
		turns, offset, cos, sin, noise, tt float64 // tt: tolerance, of the range
	}{
		{"three turns", 3000, 3, 35, -330, 12, 4, 1e-13},
		{"half a turn", 400, 0.5, 35, -330, 12, 4, 1e-12},
		{"large constant", 3000, 3, 1e7, 5, -2, 0.1, 1e-9}, // 1e7 itself has steps of 2e-9
		{"noise only", 500, 1, 0, 0, 0, 25, 1e-13},
		{"four samples", 4, 0.8, 1, 2, 3, 0.1, 1e-12},
		{"no noise", 100, 2, 1, 2, 3, 0, 1e-13},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			theta, y := samples(tt.n, tt.turns, tt.offset, tt.cos, tt.sin, tt.noise, rand.New(rand.NewPCG(1, 2)))
			g, m := sums(theta, y)
			got, ok := g.Solve(m)
			if !ok {
				t.Fatalf("not solved, coverage %g", g.Coverage())
			}
			a := mat.NewDense(tt.n, 3, nil)
			for i, th := range theta {
				a.SetRow(i, []float64{1, math.Cos(th), math.Sin(th)})
			}
			var qr mat.QR
			qr.Factorize(a)
			var want mat.VecDense
			if err := qr.SolveVecTo(&want, false, mat.NewVecDense(tt.n, y)); err != nil {
				t.Fatal(err)
			}
			var rss float64
			for i, th := range theta {
				r := y[i] - want.AtVec(0) - want.AtVec(1)*math.Cos(th) - want.AtVec(2)*math.Sin(th)
				rss += r * r
			}
			tol := tt.tt * max(1, math.Abs(tt.cos), tt.noise) * 10
			if !near(got.Mean, want.AtVec(0), tol) || !near(got.Cos, want.AtVec(1), tol) || !near(got.Sin, want.AtVec(2), tol) {
				t.Errorf("got %.15g %.15g %.15g, want %.15g", got.Mean, got.Cos, got.Sin, want.RawVector().Data)
			}
			// What the sums lose: see Solve.
			if sd := math.Sqrt(rss / float64(tt.n-3)); !near(got.ResidualSD, sd, 1e-8*sd+2e-8*math.Abs(tt.cos)) {
				t.Errorf("residual %.12g, want %.12g", got.ResidualSD, sd)
			}
			if got.N != int64(tt.n) {
				t.Errorf("N = %d, want %d", got.N, tt.n)
			}
		})
	}
}

func TestCoverage(t *testing.T) {
	// Analytic, over an arc of half width h: var(cos) = ½ + sin2h/(4h) − (sin h/h)².
	for _, tt := range []struct {
		name string
		deg  float64
		want float64
		ok   bool
	}{
		{"whole turn", 360, 1, true},
		{"two turns", 720, 1, true},
		{"half a turn", 180, 0.189, true},
		{"just enough", 152, 0.107, true},
		{"just too little", 145, 0.090, false},
		{"a quarter", 90, 0.0154, false},
		{"standstill", 0, 0, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for _, start := range []float64{0, 1, -2} { // does not depend on where the arc lies
				theta := make([]float64, 10000)
				for i := range theta {
					theta[i] = start + tt.deg*math.Pi/180*(float64(i)+0.5)/float64(len(theta))
				}
				g, m := sums(theta, theta)
				if got := g.Coverage(); !near(got, tt.want, 6e-4) {
					t.Errorf("from %g: coverage = %g, want %g", start, got, tt.want)
				}
				if _, ok := g.Solve(m); ok != tt.ok {
					t.Errorf("from %g: ok = %t, want %t", start, ok, tt.ok)
				}
			}
		})
	}
	if got := new(Gram).Coverage(); got != 0 {
		t.Errorf("empty: coverage = %g, want 0", got)
	}
}

func TestSolveRefuses(t *testing.T) {
	build := func(y ...float64) (*Gram, *Moments) {
		theta := make([]float64, len(y))
		for i := range theta {
			theta[i] = 2 * math.Pi * float64(i) / float64(len(y))
		}
		return sums(theta, y)
	}
	if g, m := build(1, 2, 3, 5); true {
		if _, ok := g.Solve(m); !ok {
			t.Fatal("four good values: refused")
		}
	}
	tests := []struct {
		name string
		y    []float64
	}{
		{"nothing", nil},
		{"three values", []float64{1, 2, 3}},
		{"NaN", []float64{1, math.NaN(), 3, 4, 5}},
		{"NaN first", []float64{math.NaN(), 1, 3, 4, 5}},
		{"infinite", []float64{1, math.Inf(1), 3, 4, 5}},
		{"overflow", []float64{1, 1e200, 3, 4, 5}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			g, m := build(tt.y...)
			if f, ok := g.Solve(m); ok || f != (Sine{}) {
				t.Errorf("got %+v, %t, want refused", f, ok)
			}
		})
	}
	t.Run("missing sample", func(t *testing.T) {
		g, m := build(1, 2, 3, 4, 5)
		g.Add(1, 0)
		if _, ok := g.Solve(m); ok {
			t.Error("ok for 5 values at 6 angles")
		}
	})
	t.Run("NaN angle", func(t *testing.T) {
		g, m := build(1, 2, 3, 4, 5)
		g.Add(math.NaN(), 0)
		m.Add(1, math.NaN(), 0)
		if _, ok := g.Solve(m); ok {
			t.Error("ok with an angle that is NaN")
		}
	})
}

// A lifted wheel that is turned: measurement model, section 3.1.
func TestSequences(t *testing.T) {
	const mg, delta = 34.0 * 9.80665, 0.02
	offset := complex(40, -25)
	for _, tt := range []struct {
		name               string
		positive, negative complex128
	}{
		{"angle off by delta", complex(0, -mg) * cmplx.Rect(1, -delta), 0},
		{"sensitivity mismatch", complex(0, -mg), complex(3, 2)},
		{"angle counts the other way", 0, complex(0, -mg)},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var g Gram
			var mx, mz Moments
			for i := range 400 {
				s, c := math.Sincos(float64(i) * 0.05)
				e := complex(c, s)
				f := offset + tt.positive*e + tt.negative*cmplx.Conj(e)
				g.Add(c, s)
				mx.Add(real(f), c, s)
				mz.Add(imag(f), c, s)
			}
			x, okX := g.Solve(&mx)
			z, okZ := g.Solve(&mz)
			if !okX || !okZ {
				t.Fatal("not solved")
			}
			zero, positive, negative := Sequences(x, z)
			for _, v := range []struct {
				name      string
				got, want complex128
			}{{"zero", zero, offset}, {"positive", positive, tt.positive}, {"negative", negative, tt.negative}} {
				if cmplx.Abs(v.got-v.want) > 1e-10 {
					t.Errorf("%s = %v, want %v", v.name, v.got, v.want)
				}
			}
			s, c := math.Sincos(1)
			if got, want := x.At(c, s), real(offset+tt.positive*complex(c, s)+tt.negative*complex(c, -s)); !near(got, want, 1e-9) {
				t.Errorf("At = %g, want %g", got, want)
			}
		})
	}
}

func ExampleGram_Solve() {
	var g Gram
	var m Moments
	for deg := range 360 {
		s, c := math.Sincos(float64(deg) * math.Pi / 180)
		g.Add(c, s)
		m.Add(40-333*c, c, s) // an offset of 40 N and a weight of 333 N
	}
	f, ok := g.Solve(&m)
	fmt.Printf("%t %.3f %.3f %.3f\n", ok, f.Mean, f.Cos, math.Abs(f.Sin))
	// Output: true 40.000 -333.000 0.000
}
