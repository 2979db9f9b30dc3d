package checks

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestRadius(t *testing.T) {
	// 205/55 R16: 3.05 · 631.5 mm / 2π = 306.55 mm. Limit: 5 %, 15.3 mm.
	of := func(factor float64) func(*yard) {
		return func(y *yard) { y.radius[0] *= factor; y.stand(5); y.roll(10, 3, 0) }
	}
	r := 0.30655
	judgeOptics(t, "radius", "FL", "", []opticCase{
		{name: "its tyre's", do: of(1), want: Pass, value: r},
		{name: "half the limit", do: of(1.004), want: Pass, value: 1.004 * r},
		{name: "no tyre", do: func(y *yard) { y.setup.Corners[0].Tyre = ""; y.stand(5); y.roll(10, 3, 0) }, want: Absent, value: math.NaN()},
		{name: "a tyre without rolling circumference", do: func(y *yard) { y.setup.Corners[0].Tyre = "205/55 D16"; y.stand(5); y.roll(10, 3, 0) }, want: Absent, value: math.NaN()},
		{name: "no ground speed", do: func(y *yard) { y.optic("road").Channels[SpeedX] = None; y.stand(5); y.roll(10, 3, 0) }, want: Absent, value: math.NaN()},
		{name: "two seconds", do: func(y *yard) { y.stand(5); y.roll(2.4, 3, 0) }, want: Inconclusive, value: r, near: 0.002},
		{name: "zero of the speed", do: func(y *yard) { y.road.rest[0] = 0.09; y.stand(6); y.roll(10, 1.5, 0) }, want: Pass, value: r},
		{name: "sensor a little round", do: func(y *yard) { y.road.mount = 0.9 * degree; y.stand(6); y.roll(10, 3, 0) }, want: Pass, value: r},
		{name: "no number", do: func(y *yard) { y.stand(5); y.invalid(SpeedX, math.NaN()); y.roll(1, 3, 0) }, want: Inconclusive, value: math.NaN(), also: []string{"dropout road fail"}},
		{name: "counts of another encoder", do: func(y *yard) {
			y.stand(5)
			y.roll(10, -3, 0)
		}, want: Pass, value: r},
	})
	// Agreement names the same corner, so these are judged by themselves.
	for _, c := range []struct {
		factor float64
		want   Verdict
	}{{0.96, Pass}, {0.948, Fail}, {0.9, Fail}, {1.04, Pass}, {1.055, Fail}, {1.1, Fail}} {
		y := newYard(5, "FL", "FR", "RL", "RR")
		of(c.factor)(y)
		got := y.judged(t)
		if f := find(got, "radius", "FL", ""); f.Verdict != c.want || math.Abs(f.Value.Value-c.factor*r) > 5e-4 {
			t.Errorf("factor %v: %s %v: %s", c.factor, f.Verdict, f.Value.Value, f.Sentence)
		}
		for _, name := range []string{"FR", "RL", "RR"} {
			if f := find(got, "radius", name, ""); f.Verdict != Pass {
				t.Errorf("factor %v: %s is blamed: %s", c.factor, name, f.Sentence)
			}
		}
	}
}

// Where all wheels are off alike the ground speed or the tyre in the setup is, and no wheel is blamed.
func TestAllWheelsOffAlike(t *testing.T) {
	for _, n := range []int{2, 3, 4} {
		for _, factor := range []float64{0.8, 0.93, 1.08, 1.3} {
			y := newYard(5, []string{"FL", "FR", "RL", "RR"}[:n]...)
			y.road.factor = factor
			y.stand(5)
			y.roll(10, 3, 0)
			got := y.judged(t)
			var want []string
			for _, c := range y.setup.Corners {
				want = append(want, "radius "+c.Name+" inconclusive")
			}
			want = append(want, "agreement road fail")
			if diff := cmp.Diff(only(got, "radius", "agreement"), want); diff != "" {
				t.Errorf("%d wheels, factor %v (−got +want):\n%s", n, factor, diff)
			}
			if f := find(got, "agreement", "road", ""); math.Abs(f.Value.Value-(factor-1)) > 2e-3 {
				t.Errorf("factor %v: value %v", factor, f.Value.Value)
			}
		}
	}
}
