package checks

import (
	"math"
	"math/cmplx"
	"testing"
)

// turnOnce gives a Turn what a wheel reads at n even steps of a turn, and one more.
func turnOnce(n int, dir float64, of func(theta float64) (fx, fz float64)) *Turn {
	var t Turn
	for k := range n + 1 {
		theta := dir * float64(k) * 2 * math.Pi / float64(n)
		sin, cos := math.Sincos(theta)
		r := Row{At: int64(k) * 10 * ms, Have: 1<<Fx | 1<<Fz | 1<<Fy, New: 1<<Fx | 1<<Fz}
		r.V[Fx], r.V[Fz] = of(theta)
		r.V[Fy] = 7
		t.add(&r, theta, cos, sin, true)
	}
	return &t
}

// The formulas of a lifted wheel, solved from one turn: f_r = o + g₊·exp(iθ) + g₋·exp(−iθ) with
// g₊ = −i·m·g·exp(−iδ), m·g = 245, and what comes of it by hand.
func TestTurnSequences(t *testing.T) {
	const weight = 245.0
	for _, c := range []struct {
		name        string
		f           func(theta float64) complex128
		zero        complex128
		plus, minus complex128
		delta       float64 // −arg(i·g₊)
	}{
		// θ is the transmitted angle, θ − δ the true one.
		{"clean", func(a float64) complex128 { return -1i * weight * cmplx.Exp(complex(0, a)) }, 0, -245i, 0, 0},
		{"zero", func(a float64) complex128 { return 30 - 40i - 1i*weight*cmplx.Exp(complex(0, a)) }, 30 - 40i, -245i, 0, 0},
		// exp(−0.1i) = 0.99500 − 0.09983i; −245i times that is −24.459 − 243.776i.
		{"angle 0.1 rad ahead", func(a float64) complex128 { return -1i * weight * cmplx.Exp(complex(0, a-0.1)) }, 0, complex(-24.4592, -243.7760), 0, 0.1},
		{"angle 0.1 rad behind", func(a float64) complex128 { return -1i * weight * cmplx.Exp(complex(0, a+0.1)) }, 0, complex(24.4592, -243.7760), 0, -0.1},
		// ε·conj(−245i·exp(iθ)) = ε·245i·exp(−iθ): 0.04 gives 9.8i, 0.04i gives −9.8.
		{"ε real", func(a float64) complex128 {
			f := -1i * weight * cmplx.Exp(complex(0, a))
			return f + 0.04*cmplx.Conj(f)
		}, 0, -245i, 9.8i, 0},
		{"ε imaginary", func(a float64) complex128 {
			f := -1i * weight * cmplx.Exp(complex(0, a))
			return f + 0.04i*cmplx.Conj(f)
		}, 0, -245i, -9.8, 0},
		{"counts backward", func(a float64) complex128 { return -1i * weight * cmplx.Exp(complex(0, -a)) }, 0, 0, -245i, math.NaN()},
	} {
		for _, dir := range []float64{1, -1} {
			t.Run(c.name, func(t *testing.T) {
				tr := turnOnce(40, dir, func(theta float64) (float64, float64) { f := c.f(theta); return real(f), imag(f) })
				list := tr.all()
				if len(list) != 1 || list[0].Dir != int8(dir) || list[0].Samples != 40 || tr.Done[0]+tr.Done[1] != 1 {
					t.Fatalf("%d turns %+v, want one of 40 samples", len(list), list)
				}
				r := list[0]
				zero := complex(r.Constant[Fx], r.Constant[Fz])
				if cmplx.Abs(zero-c.zero) > 1e-9 || cmplx.Abs(r.Plus-c.plus) > 1e-3 || cmplx.Abs(r.Minus-c.minus) > 1e-3 {
					t.Errorf("zero %v, g₊ %v, g₋ %v, want %v, %v, %v", zero, r.Plus, r.Minus, c.zero, c.plus, c.minus)
				}
				if r.Number != dir {
					t.Errorf("number %v, want %v", r.Number, dir)
				}
				if got := -cmplx.Phase(1i * r.Plus); !math.IsNaN(c.delta) && math.Abs(got-c.delta) > 1e-9 {
					t.Errorf("δ = %v, want %v", got, c.delta)
				}
				if math.Abs(r.Constant[Fy]-7) > 1e-9 {
					t.Errorf("fy = %v, want 7", r.Constant[Fy])
				}
				// 40 steps of 10 ms: 2π in 0.4 s.
				if math.Abs(r.Omega-dir*2*math.Pi/0.4) > 1e-9 {
					t.Errorf("ω = %v, want %v", r.Omega, dir*2*math.Pi/0.4)
				}
			})
		}
	}
}

func TestTurnKeepsTheNewest(t *testing.T) {
	var tr Turn
	at := int64(0)
	for k := range 100*20 + 1 {
		theta := float64(k) * 2 * math.Pi / 20
		sin, cos := math.Sincos(theta)
		at += 10 * ms
		r := Row{At: at, Have: 1<<Fx | 1<<Fz}
		r.V[Fx] = float64(k / 20)
		tr.add(&r, theta, cos, sin, true)
	}
	if tr.Done[0] != 100 || len(tr.Forward) != kept || len(tr.Back) != 0 {
		t.Fatalf("%d done, %d kept, want 100 and %d", tr.Done[0], len(tr.Forward), kept)
	}
	if got := tr.Forward[kept-1].Constant[Fx]; math.Abs(got-99) > 1e-9 {
		t.Errorf("the newest has %v, want 99", got)
	}
	if got := tr.Forward[0].Number; got != 100-kept+1 {
		t.Errorf("the oldest is number %v, want %d", got, 100-kept+1)
	}
}

// A component that misses samples has none in that turn, the others stay.
func TestTurnWithGapsInOneComponent(t *testing.T) {
	var tr Turn
	for k := range 41 {
		theta := float64(k) * 2 * math.Pi / 40
		sin, cos := math.Sincos(theta)
		r := Row{At: int64(k) * 10 * ms, Have: 1<<Fx | 1<<Fz | 1<<My}
		if k == 20 {
			r.Have &^= 1 << My
		}
		tr.add(&r, theta, cos, sin, true)
	}
	if list := tr.all(); len(list) != 1 || list[0].Have != 1<<Fx|1<<Fz {
		t.Errorf("%+v, want fx and fz only", list)
	}
}

func TestTurnProgress(t *testing.T) {
	var tr Turn
	for k := range 57 { // 1.4 turns in steps of 1/40
		theta := float64(k) * 2 * math.Pi / 40
		sin, cos := math.Sincos(theta)
		tr.add(&Row{At: int64(k) * 10 * ms, Have: 1 << Fx}, theta, cos, sin, true)
	}
	if f, b := tr.progress(+1), tr.progress(-1); math.Abs(f-1.4) > 1e-9 || b != 0 {
		t.Errorf("%v forward, %v back, want 1.4 and 0", f, b)
	}
	tr.stop()
	if f := tr.progress(+1); f != 1 {
		t.Errorf("after a stop %v, want 1", f)
	}
}
