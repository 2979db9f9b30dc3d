package checks

import (
	"math"
	"testing"
)

// Whatever comes, a result keeps its rules, and what is no evidence passes nothing of the ground and the optics.
func TestDegenerateYard(t *testing.T) {
	every := func(v float64) func(*yard) {
		return func(y *yard) {
			y.spoil = func(int, Quantity, float64) float64 { return v }
			y.stand(6)
			y.roll(6, 3, 0)
		}
	}
	drive := func(y *yard) { y.stand(6); y.roll(8, 3, 0); y.stand(3) }
	for _, c := range []struct {
		name   string
		do     func(*yard)
		passes bool // the clean yard's verdicts may come
	}{
		{"as it should be", drive, true},
		{"nothing", func(y *yard) { y.begin() }, false},
		{"no numbers", every(math.NaN()), false},
		{"infinite", every(math.Inf(1)), false},
		{"all zero", every(0), false},
		{"huge", every(1e300), false},
		{"1 Hz", func(y *yard) { y.rateHz = 1; y.stand(60); y.roll(60, 3, 0) }, true},
		{"10 kHz", func(y *yard) { y.rateHz = 10000; y.stand(5); y.roll(5, 3, 0) }, true},
		{"six months of gap", func(y *yard) { drive(y); y.at += 183 * 86400e9; drive(y) }, true},
		{"clock steps back", func(y *yard) { drive(y); y.at -= 3600e9; drive(y) }, true},
		{"optics before wheels", func(y *yard) {
			y.drop = func(message int) bool { return message < 8 && message != 0 && y.n < 500 }
			drive(y)
		}, true},
		{"no corner has an angle", func(y *yard) {
			for i := range y.setup.Corners {
				y.setup.Corners[i].Channels[Angle] = None
			}
			drive(y)
		}, true},
		{"no corner has forces", func(y *yard) {
			for i := range y.setup.Corners {
				for q := range Quantity(components) {
					y.setup.Corners[i].Channels[q] = None
				}
			}
			drive(y)
		}, true},
		{"optics without channels", func(y *yard) {
			for i := range y.setup.Optics {
				y.setup.Optics[i].Channels = NoChannels()
			}
			drive(y)
		}, true},
		{"ground speed alone", func(y *yard) { y.setup.Corners[0].Channels = NoChannels(); drive(y) }, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(1, "FL", "FR", "RL", "RR")
			c.do(y)
			got := y.judged(t)
			for _, f := range got.Findings {
				switch f.Check {
				case "radius", "agreement", "clearance", "camber", "rest-speed", "slip":
					if f.Verdict == Pass && !c.passes {
						t.Errorf("%s %s passes: %s", f.Check, f.Subject, f.Sentence)
					}
					if f.Verdict == Fail && c.name != "huge" {
						t.Errorf("%s %s fails: %s", f.Check, f.Subject, f.Sentence)
					}
				}
			}
		})
	}
}
