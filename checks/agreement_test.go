package checks

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestAgreement(t *testing.T) {
	factors := func(f ...float64) func(*yard) {
		return func(y *yard) {
			for i := range f {
				y.radius[i] *= f[i]
			}
		}
	}
	straight := func(y *yard) { y.roll(10, 3, 0) }
	without := func(y *yard) { y.optic("road").Channels = NoChannels() }
	both := func(fs ...func(*yard)) func(*yard) {
		return func(y *yard) {
			for _, f := range fs {
				f(y)
			}
		}
	}
	// Limit: 1 %. A radius 2 % larger turns 1 − 1/1.02 = 1.96 % less often.
	for _, c := range []struct {
		name  string
		n     int
		with  func(*yard)
		roll  func(*yard)
		open  []string // of agreement and radius
		value float64  // of FL
		says  string
	}{
		{"alike", 4, factors(1, 1, 1, 1), straight, nil, 0, "0.0"},
		{"a little unlike", 4, factors(1.003, 0.998, 1.001, 0.997), straight, nil, -0.0035, ""},
		{"half the limit", 4, factors(1.005), straight, nil, -0.005, "% less"},
		{"twice the limit", 4, factors(1.0204), straight, []string{"agreement FL fail"}, -0.02, "FL turns 2.0"},
		{"twice the limit, smaller", 4, factors(0.98), straight, []string{"agreement FL fail"}, 0.0204, "more often than FR, RL and RR"},
		{"at the limit", 4, factors(1.0101), straight, []string{"agreement FL inconclusive"}, -0.01, "too close"},
		{"three wheels", 3, factors(1.0204), straight, []string{"agreement FL fail"}, -0.02, ""},
		{"eight wheels, three off", 8, factors(1.03, 1, 0.97, 1, 1.04), straight, []string{"agreement FL fail", "agreement RL fail", "agreement ML fail"}, -0.029, ""},
		// Half of them off: nobody can say which half.
		{"both front wheels off", 4, factors(1.03, 1.03), straight, []string{"agreement FL inconclusive", "agreement FR inconclusive", "agreement RL inconclusive", "agreement RR inconclusive"}, -0.0148, "nothing tells which"},
		{"one of two", 2, factors(1.03), straight, []string{"agreement FL inconclusive", "agreement FR inconclusive"}, -0.0291, "FL and FR do not agree, and nothing tells which is off"},
		{"one of two, beyond its tyre", 2, factors(1.08), straight, []string{"radius FL fail", "agreement FL fail", "agreement FR inconclusive"}, -0.074, ""},
		{"one of two, no tyre", 2, both(factors(1.08), func(y *yard) { y.setup.Corners[0].Tyre, y.setup.Corners[1].Tyre = "", "" }), straight, []string{"agreement FL inconclusive", "agreement FR inconclusive"}, -0.074, ""},
		{"other tyres behind", 4, func(y *yard) {
			for i := 2; i < 4; i++ {
				y.setup.Corners[i].Tyre = "225/55 R16"
				y.radius[i] *= tyre{225, 55, 16}.radiusM() / yardRadiusM
			}
		}, straight, nil, 0, "than FR over the same distance"},
		{"curves left out", 4, factors(1), func(y *yard) {
			y.roll(8, 3, 0)
			y.roll(6, 3, 0.05)
			y.roll(6, 3, -0.08)
			y.roll(6, 3, 0.02)
			y.roll(6, 3, 0)
		}, nil, 0, ""},
		{"curves to one side are more", 4, factors(1.0204), func(y *yard) {
			y.roll(6, 3, 0)
			for k := range 8 {
				y.roll(4, 3, 0.01+0.01*float64(k))
			}
		}, []string{"agreement FL fail"}, -0.02, ""},
		{"only in a circle", 4, factors(1), func(y *yard) { y.roll(12, 3, 0.05) }, nil, 0, ""},
		{"only in a circle, and one off", 4, factors(1.04), func(y *yard) { y.roll(12, 3, 0.05) }, []string{"agreement FL fail"}, -0.038, ""},
		{"two wheels in a circle only", 2, factors(1), func(y *yard) { y.roll(12, 3, 0.05) }, []string{"agreement FL inconclusive", "agreement FR inconclusive"}, -0.077, "nothing tells"},
		{"speeding up", 4, factors(1), func(y *yard) {
			for k := range 50 {
				y.roll(0.2, 1+0.1*float64(k), 0)
			}
		}, []string{"radius FL inconclusive", "radius FR inconclusive", "radius RL inconclusive", "radius RR inconclusive", "agreement FL inconclusive", "agreement FR inconclusive", "agreement RL inconclusive", "agreement RR inconclusive", "agreement road inconclusive"}, math.NaN(), "0 seconds"},
		{"back", 4, factors(1.0204), func(y *yard) { y.roll(10, -3, 0) }, []string{"agreement FL fail"}, -0.02, ""},
		{"an angle that stands still", 4, func(y *yard) {
			y.spoil = func(corner int, q Quantity, v float64) float64 {
				if corner == 1 && q == Angle {
					return 1
				}
				return v
			}
		}, straight, []string{"radius FR inconclusive", "agreement FR inconclusive"}, 0, ""},
		{"an encoder of few counts", 4, func(y *yard) { y.setup.Corners[0].AngleCounts, y.wheels[0].counts = 128, 128 }, straight, nil, 0, ""},
		{"alone with the ground speed", 1, factors(1), func(y *yard) { y.roll(8, 2, 0); y.roll(8, 5, 0) }, nil, 0, "when it is faster"},
		{"alone at one speed", 1, factors(1), func(y *yard) { y.roll(2.4, 2, 0) }, []string{"radius FL inconclusive", "agreement FL inconclusive"}, math.NaN(), "3 of each"},
		{"alone, slips when it is faster", 1, factors(1), func(y *yard) {
			y.roll(8, 2, 0)
			y.radius[0] /= 1.03
			y.roll(8, 5, 0)
		}, []string{"agreement FL fail"}, 0.03, "3.0"},
		{"alone without ground speed", 1, without, straight, nil, math.NaN(), "neither another wheel"},
		{"no angle", 4, func(y *yard) { y.setup.Corners[0].Channels[Angle] = None }, straight, nil, math.NaN(), "has no angle"},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(9, []string{"FL", "FR", "RL", "RR", "ML", "MR", "BL", "BR"}[:c.n]...)
			c.with(y)
			y.stand(4)
			c.roll(y)
			got := y.judged(t)
			if diff := cmp.Diff(only(got, "radius", "agreement"), c.open); diff != "" {
				t.Errorf("what is open (−got +want):\n%s", diff)
			}
			f := find(got, "agreement", "FL", "")
			if f.Value.Known == math.IsNaN(c.value) || f.Value.Known && math.Abs(f.Value.Value-c.value) > 0.0015 {
				t.Errorf("value %+v, want %v: %s", f.Value, c.value, f.Sentence)
			}
			if !contains(f.Sentence, c.says) {
				t.Errorf("says %q, want %q in it", f.Sentence, c.says)
			}
		})
	}
}

func TestDensest(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name string
		x    []float64
		half float64
		want float64
	}{
		{"nothing", nil, 1, nan},
		{"no numbers", []float64{nan, nan}, 1, nan},
		{"one", []float64{3}, 1, 3},
		// Curves to one side move mean (3.2) and median (3), but not where the values lie densest.
		{"a minority", []float64{0.1, 2, 0, 3, 4, 5, -0.1, 6, 7, 0.05}, 0.2, 0.05},
		{"not a number among them", []float64{nan, 1, nan, 1.1, 9}, 0.2, 1.1},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := densest(c.x, c.half); got != c.want && !(got != got && c.want != c.want) {
				t.Errorf("densest = %v, want %v", got, c.want)
			}
		})
	}
}

func TestShared(t *testing.T) {
	for _, c := range []struct {
		x           []float64
		bound, want float64
	}{
		{nil, 0, 0},
		{[]float64{0.05}, 0, 0}, // one axle: a tyre or a curve
		{[]float64{0.05, 0.04}, 0.005, 0.04},
		{[]float64{-0.05, -0.06, -0.04}, 0.005, -0.04},
		{[]float64{0.05, -0.04}, 0.005, 0},
		{[]float64{0.05, 0.004}, 0.005, 0},
		{[]float64{0.05, 0}, 0, 0},
	} {
		if got := shared(c.x, c.bound); got != c.want {
			t.Errorf("shared(%v, %v) = %v, want %v", c.x, c.bound, got, c.want)
		}
	}
}
