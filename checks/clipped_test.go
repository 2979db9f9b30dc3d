package checks

import (
	"math"
	"testing"
)

func TestClipped(t *testing.T) {
	at := func(n int, value float64) func(*rig) { // so many samples from 5 s on
		return alter(Fz, func(k int, v float64) float64 {
			if k >= 1000 && k < 1000+n {
				return value
			}
			return v
		})
	}
	judgeSignals(t, "clipped", []signalCase{
		{name: "clean", spoil: rawEnds(-20_000, 20_000), verdict: Pass, says: "inside its range of −20000.0 N to 20000.0 N"},
		{name: "range too small", spoil: rawEnds(-3000, 3000), do: func(r *rig) { r.wheels[1].theta = 0.1; r.run(10) }, verdict: Fail, says: "at the end of its range, 3000.0 N, for 2000 samples, first 0.0 s after the start, at rest on the ground, and it still is", value: 2000, near: 0.5},
		{name: "at the lower end while lifted", spoil: rawEnds(-100, 20_000), do: func(r *rig) { r.wheels[1].theta = 0.1; r.run(5); r.lift(); r.run(5) }, verdict: Fail, says: "−100.0 N, for 1000 samples, first 5.0 s after the start, mostly lifted and at rest, and it still is", also: []string{"clipped fx"}},
		{name: "three samples", spoil: several(at(3, 1e6), rawEnds(-20_000, 20_000)), verdict: Fail, says: "for 3 samples, first 5.0 s after the start, at rest on the ground, last 5.0 s"},
		{name: "two samples", spoil: several(at(2, 1e6), rawEnds(-20_000, 20_000)), verdict: Pass, says: "for 2 samples only, 5.0 s after the start"},
		{name: "floating point", spoil: func(r *rig) {
			ch := &r.setup.Channels[r.setup.Corners[1].Channels[Fz]]
			ch.Low, ch.High = 0, 0
		}, verdict: Pass, says: "floating-point"},
		{name: "no number", spoil: alter(Fz, func(int, float64) float64 { return math.NaN() }), verdict: Inconclusive, also: []string{"range fz"}},
		{name: "not fitted", spoil: func(r *rig) { r.setup.Corners[1].Channels[Fy] = None }, channel: "fy", verdict: Absent},
	})
}
