package checks

import (
	"math"
	"testing"
)

// Whatever all channels of a vehicle send, each check gives a verdict or says why it has none, from the first frame to the last, and
// what is no evidence passes nothing that is read from values.
func TestDegenerate(t *testing.T) {
	all := func(value func(ch *Channel) (float64, State)) func(*yard) {
		return func(y *yard) {
			y.change = func(samples []Sample) {
				for i := range samples {
					samples[i].Value, samples[i].State = value(&y.setup.Channels[samples[i].Channel])
				}
			}
		}
	}
	constant := func(v float64) func(*yard) {
		return all(func(*Channel) (float64, State) { return v, Inside })
	}
	for _, c := range []struct {
		name   string
		spoil  func(*yard)
		step   func(y *yard, part int) // between the parts of a test
		passes bool                    // checks of values may pass: only the time is odd
	}{
		{name: "NaN", spoil: constant(math.NaN())},
		{name: "infinite", spoil: constant(math.Inf(1))},
		{name: "all zeros", spoil: constant(0)},
		{name: "all at the highest raw value", spoil: all(func(ch *Channel) (float64, State) { return ch.High, AtHigh })},
		{name: "all at the lowest raw value", spoil: all(func(ch *Channel) (float64, State) { return ch.Low, AtLow })},
		{name: "from one raw end to the other", spoil: func(y *yard) {
			k := 0
			all(func(ch *Channel) (float64, State) {
				if k++; k%2 == 0 {
					return ch.High, AtHigh
				}
				return ch.Low, AtLow
			})(y)
		}},
		{name: "forces appear late", passes: true, spoil: func(y *yard) {
			start := y.at
			y.drop = func(m int) bool { return m == 2 && y.at-start < 9e9 }
		}},
		{name: "an angle appears late", passes: true, spoil: func(y *yard) {
			start := y.at
			y.drop = func(m int) bool { return m == 3 && y.at-start < 9e9 }
		}},
		{name: "one channel has no value at first", passes: true, spoil: func(y *yard) {
			start := y.at
			y.spoil = func(corner int, q Quantity, v float64) float64 {
				if corner == 1 && q == Fz && y.at-start < 9e9 {
					return math.NaN()
				}
				return v
			}
		}},
		{name: "the clock steps back each time", passes: true, step: func(y *yard, _ int) { y.at -= 3600e9 }},
		{name: "the clock steps back a little", passes: true, step: func(y *yard, _ int) { y.at -= 70e6 }},
		{name: "1 Hz", passes: true, spoil: func(y *yard) { y.rateHz = 1 }},
		{name: "10 kHz", passes: true, spoil: func(y *yard) { y.rateHz, y.stagger = 10_000, 10_000 }},
		{name: "six months of gap", passes: true, step: func(y *yard, part int) {
			if part == 2 {
				y.at += 183 * 86400e9
			}
		}},
	} {
		for _, frame := range []ForceFrame{Rotating, Fixed} {
			t.Run(c.name, func(t *testing.T) {
				t.Parallel()
				y := newYard(1, "FL", "FR")
				if frame == Fixed {
					y.resolved()
				}
				if c.spoil != nil {
					c.spoil(y)
				}
				short := 1.0
				if y.rateHz > 1000 {
					short = 0.3
				}
				for part, do := range []func(){
					func() { y.stand(5 * short) },
					func() { y.lift(); y.run(2 * short) },
					func() { y.turn(1, 3.3*short, 5, 2); y.turn(1, 3.3*short, -5, 2) },
					func() { y.down(); y.stand(4 * short) },
					func() { y.roll(5*short, 3, 0); y.stand(2 * short) },
				} {
					do()
					if c.step != nil {
						c.step(y, part)
					}
					y.judge.Advance(y.at)
					got := y.judged(t)
					for _, f := range got.Findings {
						if f.Verdict == Pass && !c.passes && fromValues(f.Check) {
							t.Errorf("part %d: %s %s %s passes: %s", part, f.Check, f.Subject, f.Channel, f.Sentence)
						}
						if f.Verdict == Fail && f.Check == "drift" {
							t.Errorf("part %d: %s %s: %s", part, f.Subject, f.Channel, f.Sentence)
						}
					}
				}
			})
		}
	}
}

// fromValues names the checks that say what values are worth.
func fromValues(check string) bool {
	switch check {
	case "alive", "bus", "identity", "placement", // of plugs
		"angle-jumps", "angle-stuck", "coupling", "clipped", "status", "spikes", // nothing of the kind was seen
		"supply", "temperature", "dropout", "drift", "range", "rest-speed": // 0 is a value
		return false
	}
	return true
}
