package fit

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
)

func TestWrap(t *testing.T) {
	below := math.Nextafter(math.Pi, 0)
	above := math.Nextafter(math.Pi, 4)
	for _, tt := range []struct {
		name               string
		in, want, positive float64
	}{
		{"zero", 0, 0, 0},
		{"pi", math.Pi, math.Pi, math.Pi},
		{"minus pi", -math.Pi, math.Pi, math.Pi},
		{"just below pi", below, below, below},
		{"just above pi", above, above - 2*math.Pi, above},
		{"just above minus pi", -below, -below, 2*math.Pi - below},
		{"just below minus pi", -above, 2*math.Pi - above, 2*math.Pi - above},
		{"a turn", 2 * math.Pi, 0, 0},
		{"minus a turn", -2 * math.Pi, 0, 0},
		{"a turn and a half", 3 * math.Pi, math.Pi, math.Pi},
		{"minus a turn and a half", -3 * math.Pi, math.Pi, math.Pi},
		{"two turns and a half", 5 * math.Pi, math.Pi, math.Pi},
		{"tiny negative", -1e-300, -1e-300, 0},
		{"a million turns", 2e6 * math.Pi, 0, 0}, // or just below a turn
		{"seven", 7, 7 - 2*math.Pi, 7 - 2*math.Pi},
	} {
		t.Run(tt.name, func(t *testing.T) {
			// 3·π and 5·π are not exact, nor then is what is left of them.
			if got := Wrap(tt.in); !near(got, tt.want, roundOff(tt.in)) {
				t.Errorf("Wrap(%.17g) = %.17g, want %.17g", tt.in, got, tt.want)
			}
			if got := WrapPositive(tt.in); !near(got, tt.positive, roundOff(tt.in)) && !near(got, tt.positive+2*math.Pi, roundOff(tt.in)) {
				t.Errorf("WrapPositive(%.17g) = %.17g, want %.17g", tt.in, got, tt.positive)
			}
		})
	}
	for _, x := range []float64{math.Inf(1), math.Inf(-1), math.NaN()} {
		if a, b := Wrap(x), WrapPositive(x); !math.IsNaN(a) || !math.IsNaN(b) {
			t.Errorf("of %g: %g, %g, want NaN", x, a, b)
		}
	}
	if x := WrapPositive(-2 * math.Pi); math.Signbit(x) {
		t.Error("WrapPositive of minus a turn gives −0")
	}
}

// roundOff is the step of float64 at x, where x is a rounded multiple of π.
func roundOff(x float64) float64 {
	if math.Abs(x) <= 2*math.Pi {
		return 0
	}
	return math.Nextafter(math.Abs(x), math.Inf(1)) - math.Abs(x)
}

// The reference takes off turns in exact rational arithmetic.
func TestWrapLarge(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 16))
	full := new(big.Rat).SetFloat64(2 * math.Pi)
	pi := new(big.Rat).SetFloat64(math.Pi)
	minus := new(big.Rat).Neg(pi)
	for range 2000 {
		x := math.Ldexp(rng.Float64()-0.5, rng.IntN(60))
		k := new(big.Rat).Quo(new(big.Rat).SetFloat64(x), full)
		turns := new(big.Int).Div(k.Num(), k.Denom()) // floor
		r := new(big.Rat).SetFloat64(x)
		r.Sub(r, new(big.Rat).Mul(new(big.Rat).SetInt(turns), full))
		for r.Cmp(pi) > 0 {
			r.Sub(r, full)
		}
		for r.Cmp(minus) <= 0 {
			r.Add(r, full)
		}
		want, _ := r.Float64()
		if got := Wrap(x); got != want {
			t.Fatalf("Wrap(%.17g) = %.17g, want %.17g", x, got, want)
		}
		if got := WrapPositive(x); got < 0 || got >= 2*math.Pi || !near(Difference(got, want), 0, 1e-15) {
			t.Fatalf("WrapPositive(%.17g) = %.17g, want %.17g or a turn more", x, got, want)
		}
	}
}

func TestDifference(t *testing.T) {
	const deg = math.Pi / 180
	for _, tt := range []struct{ a, b, want float64 }{
		{10, 350, 20}, {350, 10, -20}, {180, 0, 180}, {0, 180, 180}, {90, 270, 180}, {720, 1, -1}, {179, -179, -2},
	} {
		if got := Difference(tt.a*deg, tt.b*deg) / deg; !near(got, tt.want, 1e-12) {
			t.Errorf("%g − %g = %g, want %g", tt.a, tt.b, got, tt.want)
		}
	}
}

func ExampleDifference() {
	const deg = math.Pi / 180
	fmt.Printf("%.0f° %.0f°\n", Difference(5*deg, 355*deg)/deg, Wrap(-180*deg)/deg)
	// Output: 10° 180°
}
