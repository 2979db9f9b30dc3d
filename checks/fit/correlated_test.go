package fit

import (
	"math"
	"testing"
)

// TestCorrelated holds the law of propagation against the examples of JCGM 100:2008.
func TestCorrelated(t *testing.T) {
	// H.2, table H.2: V 4.9990 V, I 19.6610 mA, φ 1.044 46 rad, measured together five times.
	const volt, milliampere, phi = 4.9990, 19.6610, 1.04446
	u := []float64{0.0032, 0.0095, 0.00075}
	table := map[[2]int]float64{{0, 1}: -0.36, {0, 2}: 0.86, {1, 2}: -0.65}
	r := func(i, j int) float64 { return table[[2]int{i, j}] }
	z := 1000 * volt / milliampere
	x, res := z*math.Sin(phi), z*math.Cos(phi)
	ten, one := make([]float64, 10), make([]float64, 10)
	for i := range ten {
		ten[i], one[i] = 0.1, 1
	}
	tests := []struct {
		name      string
		c, u      []float64
		r         func(i, j int) float64
		want      float64
		tolerance float64 // of the published inputs, which are rounded to two digits
	}{
		{"JCGM 100 H.2, table H.3: R = 127.732 Ω", []float64{res / volt, -res / milliampere, -x}, u, r, 0.071, 0.0015},
		{"JCGM 100 H.2, table H.3: X = 219.847 Ω", []float64{x / volt, -x / milliampere, res}, u, r, 0.295, 0.0015},
		{"JCGM 100 H.2, table H.3: Z = 254.260 Ω", []float64{z / volt, -z / milliampere, 0}, u, r, 0.236, 0.0015},
		{"JCGM 100 5.2.2: ten resistors by one standard", one, ten, func(int, int) float64 { return 1 }, 1, 1e-12},
		{"JCGM 100 5.2.2: the same taken as independent", one, ten, func(int, int) float64 { return 0 }, 0.32, 0.005},
		{"a difference of what both share", []float64{1, -1}, []float64{0.3, 0.3}, func(int, int) float64 { return 1 }, 0, 1e-15},
		{"a difference of independent ones", []float64{1, -1}, []float64{3, 4}, func(int, int) float64 { return 0 }, 5, 1e-15},
	}
	for _, test := range tests {
		if got := Correlated(test.c, test.u, test.r); math.Abs(got-test.want) > test.tolerance {
			t.Errorf("%s: got %v, want %v within %v", test.name, got, test.want, test.tolerance)
		}
	}
	if math.Abs(res-127.732) > 0.01 || math.Abs(x-219.847) > 0.01 || math.Abs(z-254.260) > 0.01 {
		t.Errorf("got R %v, X %v, Z %v", res, x, z)
	}
	for name, got := range map[string]float64{
		"lengths differ": Correlated([]float64{1}, nil, nil),
		"NaN":            Correlated([]float64{1}, []float64{math.NaN()}, nil),
		"infinite":       Correlated([]float64{1}, []float64{math.Inf(1)}, nil),
	} {
		if !math.IsNaN(got) {
			t.Errorf("%s: got %v, want NaN", name, got)
		}
	}
}
