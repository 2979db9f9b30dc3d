package checks

import (
	"math"
	"testing"
)

func TestValidSample(t *testing.T) {
	none := []NamedValue{{Value: 0.5, Text: "not available"}}
	for _, c := range []struct {
		name string
		q    Quantity
		s    Sample
		want bool
	}{
		{"height", HeightOuter, Sample{Value: 0.2}, true},
		{"not a number", HeightOuter, Sample{Value: math.NaN()}, false},
		{"infinite", SpeedX, Sample{Value: math.Inf(-1)}, false},
		{"highest raw value", HeightInner, Sample{Value: 0.65535, State: AtHigh}, false},
		{"lowest raw value", HeightInner, Sample{Value: 0.1, State: AtLow}, false},
		{"height of nothing", HeightThird, Sample{Value: 0}, false},
		{"height below the ground", HeightThird, Sample{Value: -0.01}, false},
		{"named as none", HeightOuter, Sample{Value: 0.5}, false},
		{"standstill of an unsigned speed", SpeedX, Sample{Value: 0, State: AtLow}, true},
		{"lowest raw value of a signed speed", SpeedX, Sample{Value: -90, State: AtLow}, false},
		{"highest raw value of a speed", SpeedY, Sample{Value: 90, State: AtHigh}, false},
		{"back", SpeedX, Sample{Value: -1}, true},
		{"camber of zero", Camber, Sample{Value: 0}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := c.s.valid(c.q, none); got != c.want {
				t.Errorf("valid = %v, want %v", got, c.want)
			}
		})
	}
}

// What is held under a bar for a moment is no rest and no dropout; what stays is.
func TestRestSeconds(t *testing.T) {
	for _, c := range []struct {
		name     string
		do       func(*yard)
		low, top int64 // seconds kept
		height   float64
	}{
		{"stands", func(y *yard) { y.stand(10) }, 8, 9, 0.2},
		{"rolls", func(y *yard) { y.roll(10, 2, 0) }, 0, 0, math.NaN()},
		{"hangs", func(y *yard) { y.begin(); y.lift(); y.run(10) }, 0, 0, math.NaN()},
		{"stands, rolls, stands", func(y *yard) { y.stand(5); y.roll(5, 2, 0); y.stand(5) }, 5, 8, 0.2},
		{"board for three seconds", func(y *yard) {
			y.stand(5)
			y.bars[0].outer, y.bars[0].inner = y.bars[0].outer-0.03, y.bars[0].inner-0.03
			y.run(3)
			y.bars[0].outer, y.bars[0].inner = y.bars[0].outer+0.03, y.bars[0].inner+0.03
			y.run(5)
		}, 7, 9, 0.2},
		{"board that stays", func(y *yard) {
			y.stand(5)
			y.bars[0].outer, y.bars[0].inner, y.bars[0].third = y.bars[0].outer-0.03, y.bars[0].inner-0.03, y.bars[0].third-0.03
			y.run(65 + 70)
		}, 64, 200, 0.17},
		{"goes up and down", func(y *yard) {
			y.begin()
			for range 40 {
				y.bars[0].outer += 0.01
				y.run(0.25)
				y.bars[0].outer -= 0.01
				y.run(0.25)
			}
		}, 0, 0, math.NaN()},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(3, "FL", "FR")
			c.do(y)
			o := &y.judge.optics[0]
			if o.restN < c.low || o.restN > c.top {
				t.Errorf("%d seconds at rest, want %d to %d", o.restN, c.low, c.top)
			}
			w := o.atRest(o.height)
			if got := w.Mean(); math.Abs(got-c.height) > 1e-3 || got-got != c.height-c.height && !math.IsNaN(c.height) {
				t.Errorf("height %v, want %v", got, c.height)
			}
		})
	}
}

func TestOpticsAllocateNothing(t *testing.T) {
	y := newYard(1, "FL", "FR")
	y.stand(3)
	y.roll(2, 2, 0)
	o := y.optic("bar FL")
	row := []Sample{{Channel: o.Channels[HeightOuter], Value: 0.2}, {Channel: o.Channels[HeightInner], Value: 0.2}}
	got := testing.AllocsPerRun(1000, func() {
		y.at += 1e7
		row[0].Value += 1e-5
		y.judge.Message(y.at, 4, 8, false, row)
	})
	if got != 0 {
		t.Errorf("allocations per message = %v, want 0", got)
	}
}
