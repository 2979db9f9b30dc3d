package checks

import (
	"math"
	"testing"
)

// The angle of the heights by hand.
func TestGamma(t *testing.T) {
	for _, c := range []struct {
		name                string
		outer, inner, third float64 // m; 0: not fitted
		baseline, along     float64
		want                float64 // rad
	}{
		{"level", 0.2, 0.2, 0, 0.4, 0, 0},
		{"1 in 40", 0.21, 0.2, 0, 0.4, 0, math.Atan(0.025)},             // (0.21 − 0.20)/0.40
		{"other way", 0.2, 0.21, 0, 0.4, 0, -math.Atan(0.025)},          //
		{"45°", 0.6, 0.2, 0, 0.4, 0, math.Pi / 4},                       // 0.4/0.4
		{"−0.8°", 0.1972073, 0.2027927, 0, 0.4, 0, -0.8 * degree},       // 0.4·tan 0.8° = 5.5854 mm
		{"with a level third", 0.21, 0.2, 0.205, 0.4, 0.25, 0.0249948},  // atan(0.025): a = 0
		{"rolled about the axle", 0.24, 0.2, 0.42, 0.4, 0.2, 0.0705932}, // b = 0.1, a = (0.42 − 0.22)/0.2 = 1: atan(0.1/√2)
		{"third sees nothing", 0.21, 0.2, math.NaN(), 0.4, 0.25, math.Atan(0.025)},
		{"outer sees nothing", math.NaN(), 0.2, 0, 0.4, 0, math.NaN()},
	} {
		t.Run(c.name, func(t *testing.T) {
			set := Optic{BaselineM: c.baseline, BaselineThirdM: c.along, Channels: NoChannels()}
			if c.third != 0 {
				set.Channels[HeightThird] = 0
			}
			o := optic{setup: &set}
			got := o.gamma(&reading{c.outer, c.inner, c.third})
			if math.Abs(got-c.want) > 1e-6 || math.IsNaN(got) != math.IsNaN(c.want) {
				t.Errorf("γ = %v, want %v", got, c.want)
			}
		})
	}
}

func TestCamber(t *testing.T) {
	off := func(deg float64) func(*yard) {
		return func(y *yard) { y.bars[0].camber += deg * degree; y.stand(6) }
	}
	// Limit: 0.5°.
	judgeOptics(t, "camber", "bar FL", "", []opticCase{
		{name: "as the heights say", do: off(0), want: Pass, value: 0},
		{name: "half the limit", do: off(0.25), want: Pass, value: 0.25 * degree},
		{name: "just within", do: off(0.48), want: Pass, value: 0.48 * degree},
		{name: "at the limit", do: off(0.5), want: Inconclusive, value: 0.5 * degree},
		{name: "just beyond", do: off(0.52), want: Fail, value: 0.52 * degree},
		{name: "twice", do: off(1), want: Fail, value: degree, says: []string{"off the −0.80° that its heights give"}},
		{name: "twice, negative", do: off(-1), want: Fail, value: -degree},
		{name: "counts the other way", do: off(1.6), want: Fail, value: 1.6 * degree, says: []string{"it counts the other way"}, next: "sign"},
		{name: "outer and inner exchanged", do: func(y *yard) {
			b := y.bars[0]
			b.outer, b.inner = b.inner, b.outer
			y.stand(6)
		}, want: Fail, value: -1.6 * degree, says: []string{"it counts the other way"}},
		{name: "none of its own", do: func(y *yard) { y.optic("bar FL").Channels[Camber] = None; y.stand(6) }, want: Absent, value: math.NaN(), says: []string{"they give −0.8"}},
		{name: "one height", do: func(y *yard) { y.optic("bar FL").Channels[HeightInner] = None; y.stand(6) }, want: Absent, value: math.NaN()},
		{name: "no baseline", do: func(y *yard) { y.optic("bar FL").BaselineM = 0; y.stand(6) }, want: Absent, value: math.NaN()},
		{name: "two heights", do: func(y *yard) { y.optic("bar FL").Channels[HeightThird] = None; y.stand(6) }, want: Pass, value: 0},
		{name: "own signal is no number", do: func(y *yard) { y.invalid(Camber, math.NaN()); y.stand(6) }, want: Inconclusive, value: math.NaN()},
		{name: "too short", do: func(y *yard) { y.stand(2.4) }, want: Inconclusive, value: 0},
	})
}
