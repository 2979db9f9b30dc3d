package fit

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestSincos(t *testing.T) {
	angles := []float64{0, math.Pi / 6, math.Pi / 4, math.Pi, -math.Pi / 2, 2 * math.Pi, math.Pi / steps, -math.Pi / steps, 3 * math.Pi / steps, 999_999, -999_999, 1e6, 1e12, 5e-324}
	rng := rand.New(rand.NewPCG(1, 2))
	for _, span := range []float64{1e-3, 1, 10, 1e3, 1e6} {
		for range 20_000 {
			angles = append(angles, span*(2*rng.Float64()-1))
		}
	}
	for _, a := range angles {
		sin, cos := Sincos(a)
		if s, c := math.Sincos(a); math.Abs(sin-s) > 1e-15 || math.Abs(cos-c) > 1e-15 {
			t.Fatalf("of %v rad: got %v, %v, want %v, %v as package math says", a, sin, cos, s, c)
		}
	}
	for _, a := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		if sin, cos := Sincos(a); !math.IsNaN(sin) || !math.IsNaN(cos) {
			t.Errorf("of %v: got %v, %v, want NaN", a, sin, cos)
		}
	}
}

func BenchmarkSincos(b *testing.B) {
	for name, f := range map[string]func(float64) (float64, float64){"table": Sincos, "math": math.Sincos} {
		b.Run(name, func(b *testing.B) {
			var rad, sum float64
			for b.Loop() {
				rad += 0.013
				s, c := f(rad)
				sum += s + c
			}
			if math.IsNaN(sum) {
				b.Fatal("no angle")
			}
		})
	}
}
