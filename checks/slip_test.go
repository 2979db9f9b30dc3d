package checks

import (
	"math"
	"testing"
)

func TestSlip(t *testing.T) {
	mounted := func(deg float64) func(*yard) {
		return func(y *yard) { y.road.mount = deg * degree; y.stand(5); y.roll(10, 3, 0) }
	}
	// Limit: 1°.
	judgeOptics(t, "slip", "road", "", []opticCase{
		{name: "straight", do: mounted(0), want: Pass, value: 0},
		{name: "half the limit", do: mounted(0.5), want: Pass, value: 0.5 * degree},
		{name: "just within", do: mounted(-0.9), want: Pass, value: -0.9 * degree},
		{name: "at the limit", do: mounted(1), want: Inconclusive, value: degree},
		{name: "just beyond", do: mounted(1.1), want: Fail, value: 1.1 * degree},
		{name: "twice", do: mounted(2), want: Fail, value: 2 * degree, next: "by −2.0"},
		{name: "twice, to the right", do: mounted(-2), want: Fail, value: -2 * degree},
		{name: "a quarter round", do: mounted(90), want: Fail, value: math.Pi / 2},
		{name: "half round", do: mounted(179.9), want: Fail, value: 179.9 * degree, next: "the other way round"},
		{name: "rolling back", do: func(y *yard) { y.road.mount = 2 * degree; y.stand(5); y.roll(10, -3, 0) }, want: Fail, value: 2 * degree},
		{name: "zero of the speeds", do: func(y *yard) { y.road.rest = [2]float64{0.3, 0.05}; y.stand(6); y.roll(10, 2, 0) }, want: Pass, value: 0, near: 0.002, also: []string{"rest-speed road speed_x fail"}},
		// A curve of 20 m radius 1.3 m before the axle: atan(1.3/20) = 3.7°.
		{name: "curves left out", do: func(y *yard) { y.stand(5); y.roll(8, 3, 0); y.roll(8, 3, 0.05); y.roll(6, 3, 0) }, want: Pass, value: 0},
		{name: "curves to one side are more", do: func(y *yard) {
			y.stand(5)
			y.roll(7, 3, 0)
			for k := range 8 {
				y.roll(4, 3, 0.02+0.01*float64(k))
			}
		}, want: Pass, value: 0},
		{name: "too slow", do: func(y *yard) { y.stand(5); y.roll(10, 0.8, 0) }, want: Inconclusive, value: math.NaN(), says: []string{"1 m/s or more for 0 seconds"}},
		{name: "two seconds", do: func(y *yard) { y.stand(5); y.roll(2.4, 3, 0) }, want: Inconclusive, value: 0, near: 0.002},
		{name: "its own slip off", do: func(y *yard) { y.road.ownSlip = 2 * degree; y.stand(5); y.roll(10, 3, 0) }, want: Fail, value: 2 * degree, says: []string{"slip signal"}},
		{name: "its own slip a little off", do: func(y *yard) { y.road.ownSlip = 0.8 * degree; y.stand(5); y.roll(10, 3, 0) }, want: Pass, value: 0},
		{name: "only its own slip", do: func(y *yard) {
			y.optic("road").Channels[SpeedY] = None
			y.road.mount = 2 * degree
			y.stand(5)
			y.roll(10, 3, 0)
		}, want: Fail, value: 2 * degree},
		{name: "nothing sideways", do: func(y *yard) {
			y.optic("road").Channels[SpeedY], y.optic("road").Channels[Slip] = None, None
			y.stand(5)
			y.roll(10, 3, 0)
		}, want: Absent, value: math.NaN()},
		{name: "no number", do: func(y *yard) { y.stand(5); y.invalid(SpeedX, math.NaN()); y.roll(1, 3, 0) }, want: Inconclusive, value: math.NaN(), also: []string{"dropout road fail"}},
	})
}
