package checks

import (
	"math"
	"testing"
)

func TestRestSpeed(t *testing.T) {
	rests := func(x, y float64) func(*yard) {
		return func(k *yard) { k.road.rest = [2]float64{x, y}; k.stand(6) }
	}
	// Limit: 0.1 m/s.
	judgeOptics(t, "rest-speed", "road", "speed_x", []opticCase{
		{name: "none", do: rests(0, 0), want: Pass, value: 0, near: 0.003},
		{name: "half the limit", do: rests(0.05, 0), want: Pass, value: 0.05, near: 0.003},
		{name: "just within", do: rests(-0.093, 0), want: Pass, value: -0.093, near: 0.003},
		{name: "at the limit", do: rests(0.1, 0), want: Inconclusive, value: 0.1, near: 0.003},
		{name: "just beyond", do: rests(0.107, 0), want: Fail, value: 0.107, near: 0.003},
		{name: "twice", do: rests(-0.2, 0), want: Fail, value: -0.2, near: 0.003},
		{name: "far", do: rests(5, 0), want: Fail, value: 5, near: 0.003},
		{name: "rolls and stands", do: func(y *yard) { y.stand(5); y.roll(10, 4, 0); y.stand(5) }, want: Pass, value: 0, near: 0.003},
		{name: "rolls slowly", do: func(y *yard) { y.stand(2); y.roll(10, 0.4, 0) }, want: Inconclusive, value: 0, near: 0.003},
		{name: "lifted", do: func(y *yard) { y.begin(); y.lift(); y.run(6) }, want: Inconclusive, value: math.NaN()},
		{name: "no number", do: func(y *yard) { y.invalid(SpeedX, math.NaN()); y.stand(2) }, want: Inconclusive, value: math.NaN()},
		{name: "not fitted", do: func(y *yard) { y.optic("road").Channels[SpeedX] = None; y.stand(6) }, want: Absent, value: math.NaN()},
		// All angles stuck while the vehicle rolls: the forces go round, so it does not rest.
		{name: "stuck angles", do: func(y *yard) {
			y.spoil = func(corner int, q Quantity, v float64) float64 {
				if corner >= 0 && q == Angle {
					return 1
				}
				return v
			}
			y.roll(10, 4, 0)
		}, want: Inconclusive, value: math.NaN()},
		{name: "no wheel tells", do: func(y *yard) {
			for i := range y.setup.Corners {
				y.setup.Corners[i].Channels[Angle] = None
				y.setup.Corners[i].Forces = Fixed
			}
			y.road.rest[0] = 0.3
			y.stand(6)
		}, want: Fail, value: 0.3, near: 0.003},
		{name: "no wheel tells, rolling", do: func(y *yard) {
			for i := range y.setup.Corners {
				y.setup.Corners[i].Channels[Angle] = None
				y.setup.Corners[i].Forces = Fixed
			}
			y.roll(6, 3, 0)
		}, want: Inconclusive, value: math.NaN()},
	})
	judgeOptics(t, "rest-speed", "road", "speed_y", []opticCase{
		{name: "sideways", do: rests(0, -0.2), want: Fail, value: -0.2, near: 0.003},
		{name: "forward only", do: rests(0.08, 0), want: Pass, value: 0, near: 0.003},
	})
}
