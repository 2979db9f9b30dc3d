package checks

import (
	"slices"
	"testing"
)

// BenchmarkYard feeds a second of four wheels, two sensor bars and a ground speed sensor, again and again:
// one message in six is of an optical sensor.
func BenchmarkYard(b *testing.B) {
	for _, phase := range []struct {
		name  string
		speed float64
	}{{"rest", 0}, {"rolling", 5}} {
		b.Run(phase.name, func(b *testing.B) {
			y := newYard(1, "FL", "FR", "RL", "RR")
			y.stand(5)
			y.roll(3, phase.speed, 0)
			var second []recorded
			from := y.at
			y.send = func(at int64, message int, samples []Sample) {
				second = append(second, recorded{at - from, message, slices.Clone(samples)})
				if message == 0 {
					if y.n++; y.n%2 == 0 {
						y.sendOptics(at)
					}
				}
			}
			y.hear = func(at int64, message int, samples []Sample) {
				second = append(second, recorded{at - from, message, slices.Clone(samples)})
			}
			y.roll(1, phase.speed, 0)
			b.ReportAllocs()
			i, base := 0, y.at
			for b.Loop() {
				m := &second[i]
				y.judge.Message(base+m.after, m.message, 8, false, m.samples)
				if i++; i == len(second) {
					i, base = 0, base+1e9
				}
			}
		})
	}
}

// BenchmarkYardResult asks after ten minutes of road with curves: all windows that are kept are full.
func BenchmarkYardResult(b *testing.B) {
	y := newYard(1, "FL", "FR", "RL", "RR", "ML", "MR", "BL", "BR")
	y.rateHz = 50
	y.stand(20)
	for range 40 {
		y.roll(12, 5, 0)
		y.roll(3, 4, 0.03)
	}
	b.ReportAllocs()
	for b.Loop() {
		if find(y.judge.Result(), "agreement", "FL", "").Verdict != Pass {
			b.Fatal("not a pass")
		}
	}
}
