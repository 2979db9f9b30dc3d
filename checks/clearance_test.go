package checks

import (
	"math"
	"testing"
)

func TestClearance(t *testing.T) {
	// Limit: 0.20 m ± 0.03 m.
	at := func(height float64) func(*yard) {
		return func(y *yard) {
			b := y.bars[0]
			b.outer, b.inner, b.third = height-0.003, height+0.003, height
			y.stand(6)
		}
	}
	judgeOptics(t, "clearance", "bar FL", "", []opticCase{
		{name: "as it should be", do: at(0.2), want: Pass, value: 0.2},
		{name: "half the tolerance", do: at(0.215), want: Pass, value: 0.215},
		{name: "just within", do: at(0.2298), want: Pass, value: 0.2298},
		{name: "just beyond", do: at(0.2302), want: Fail, value: 0.2302, says: []string{"230.2", "not 200.0 mm ± 30.0 mm"}},
		{name: "at the limit", do: at(0.23), want: Inconclusive, value: 0.23, says: []string{"too close"}},
		{name: "twice", do: at(0.26), want: Fail, value: 0.26},
		{name: "twice too low", do: at(0.14), want: Fail, value: 0.14},
		{name: "far", do: at(0.6), want: Fail, value: 0.6},
		{name: "one lens off", do: func(y *yard) { y.bars[0].outer += 0.3; y.stand(6) }, want: Fail, value: 0.3, also: []string{"camber bar FL fail"}}, // 0.2 + 0.3/3
		{name: "two seconds", do: func(y *yard) { y.stand(2.4) }, want: Inconclusive, value: 0.2, says: []string{"3 are the least"}},
		{name: "lifted", do: func(y *yard) { y.begin(); y.lift(); y.run(8) }, want: Inconclusive, value: math.NaN()},
		{name: "rolling", do: func(y *yard) { y.roll(8, 3, 0) }, want: Inconclusive, value: math.NaN()},
		{name: "rises with the wheel", do: func(y *yard) {
			y.stand(5)
			y.lift()
			y.bars[0].outer, y.bars[0].inner, y.bars[0].third = 0.4, 0.4, 0.4
			y.run(10)
		}, want: Pass, value: 0.2},
		{name: "sees nothing", do: func(y *yard) { y.invalid(HeightInner, math.NaN()); y.stand(6) }, want: Inconclusive, value: math.NaN(), says: []string{"has measured for 0 seconds"}, also: []string{"dropout bar FL fail", "dropout bar FR fail"}},
		{name: "no heights", do: func(y *yard) {
			for _, q := range []Quantity{HeightOuter, HeightInner, HeightThird} {
				y.optic("bar FL").Channels[q] = None
			}
			y.stand(6)
		}, want: Absent, value: math.NaN()},
		{name: "no clearance", do: func(y *yard) { y.optic("bar FL").ClearanceM = 0; y.stand(6) }, want: Absent, value: math.NaN()},
		{name: "board for three seconds", do: func(y *yard) {
			y.stand(4)
			y.bars[0].outer, y.bars[0].inner, y.bars[0].third = 0.1, 0.1, 0.1
			y.run(3)
			y.bars[0].outer, y.bars[0].inner, y.bars[0].third = 0.2, 0.2, 0.2
			y.run(3)
		}, want: Pass, value: 0.2},
	})
}
