package checks

import (
	"math"
	"testing"
)

func TestDropout(t *testing.T) {
	some := func(q Quantity, n int, v float64) func(*yard) {
		return func(y *yard) { y.some(q, n, v); y.stand(20) }
	}
	// Limit: 2 %. One in n of one of three heights is one in 3·n of the distances; both bars lose theirs alike, so the
	// second one is left whole.
	whole := func(do func(*yard)) func(*yard) {
		return func(y *yard) {
			for q := range y.setup.Optics[1].Channels {
				y.setup.Optics[1].Channels[q] = None
			}
			do(y)
		}
	}
	var cases []opticCase
	for _, c := range []opticCase{
		{name: "none", do: func(y *yard) { y.stand(20) }, want: Pass, value: 0},
		{name: "one in 75", do: some(HeightInner, 25, math.NaN()), want: Pass, value: 1. / 75},
		{name: "one in 51", do: some(HeightInner, 17, math.NaN()), want: Inconclusive, value: 1. / 51, near: 0.002},
		{name: "one in 25", do: some(HeightInner, 8, math.NaN()), want: Fail, value: 1. / 24},
		{name: "at the end of the raw range", do: some(HeightOuter, 4, math.Inf(1)), want: Fail, value: 1. / 12},
		{name: "heights of nothing", do: some(HeightThird, 4, 0), want: Fail, value: 1. / 12},
		{name: "named as none", do: func(y *yard) {
			y.setup.Channels[y.optic("bar FL").Channels[HeightInner]].Named = []NamedValue{{Value: 0.65, Text: "not available"}}
			y.some(HeightInner, 4, 0.65)
			y.stand(20)
		}, want: Fail, value: 1. / 12},
		{name: "all", do: func(y *yard) {
			y.spoil = func(corner int, _ Quantity, v float64) float64 {
				if corner < 0 {
					return math.NaN()
				}
				return v
			}
			y.optic("road").Channels = NoChannels()
			y.stand(8)
		}, want: Fail, value: 1},
		{name: "only its own camber", do: some(Camber, 2, math.NaN()), want: Pass, value: 0},
		{name: "in the drive", do: func(y *yard) { y.some(HeightInner, 4, math.NaN()); y.roll(8, 3, 0) }, want: Fail, value: 1. / 12},
		{name: "while it hangs", do: func(y *yard) {
			y.stand(6)
			y.lift()
			y.run(1)
			y.invalid(HeightInner, math.NaN())
			y.run(6)
		}, want: Pass, value: 0},
		{name: "two seconds", do: func(y *yard) { y.stand(2.4) }, want: Inconclusive, value: 0},
		{name: "nothing fitted", do: func(y *yard) { y.optic("bar FL").Channels = NoChannels(); y.stand(6) }, want: Absent, value: math.NaN()},
	} {
		c.do = whole(c.do)
		cases = append(cases, c)
	}
	judgeOptics(t, "dropout", "bar FL", "", cases)
	judgeOptics(t, "dropout", "road", "", []opticCase{
		{name: "one in ten", do: some(SpeedX, 5, math.Inf(1)), want: Fail, value: 0.1},
		{name: "one in eighty", do: some(SpeedY, 40, math.NaN()), want: Pass, value: 1. / 80},
		{name: "its own slip only", do: some(Slip, 2, math.NaN()), want: Pass, value: 0},
	})
}
