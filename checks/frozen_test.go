package checks

import (
	"math"
	"testing"
)

func TestFrozen(t *testing.T) {
	hold := func(from, to int) func(int, float64) float64 { // sample numbers
		held := math.NaN()
		return func(k int, v float64) float64 {
			if k < from || k >= to {
				return v
			}
			if math.IsNaN(held) {
				held = v
			}
			return held
		}
	}
	const ever = math.MaxInt
	coarse := rawStep(Fz, 400)
	judgeSignals(t, "frozen", []signalCase{
		{name: "clean", verdict: Pass, says: "FR fz changes"},
		{name: "from the start", spoil: alter(Fz, hold(0, ever)), verdict: Fail, says: "(2000 samples), since its first frame: a strain gauge", value: 10, near: 0.02},
		{name: "at zero from the start", spoil: alter(Fz, func(int, float64) float64 { return 0 }), verdict: Fail, says: "FR fz has stood at 0.0 N for 10.0 s"},
		{name: "later", spoil: alter(My, hold(1000, ever)), channel: "my", verdict: Fail, says: ", since 5.0 s after the start", value: 5, near: 0.02},
		{name: "recovered", spoil: alter(Fx, hold(400, 1000)), channel: "fx", verdict: Fail, says: " for 3.0 s (600 samples), 2.0 s after the start, and then went on", value: 3, near: 0.02},
		{name: "a little more than 2 s", spoil: alter(Fz, hold(400, 810)), verdict: Fail, says: "for 2.1 s (410 samples)"},
		{name: "a little less than 2 s", spoil: alter(Fz, hold(400, 795)), verdict: Pass},
		{name: "too early", spoil: alter(Fz, hold(0, ever)), do: func(r *rig) { r.run(1.5) }, verdict: Inconclusive, says: "has sent 300 samples; 100 in 2 s are the least"},
		{name: "2 s but few samples", spoil: several(atRate(20), alter(Fz, hold(40, 120))), verdict: Pass},
		{name: "many samples in less than 2 s", spoil: several(atRate(10_000), alter(Fz, hold(1000, 20_000))), do: func(r *rig) { r.run(3) }, verdict: Pass},
		{name: "many samples in more than 2 s", spoil: several(atRate(10_000), alter(Fz, hold(1000, 22_000))), do: func(r *rig) { r.run(3) }, verdict: Fail},
		{name: "silence is not standing still", spoil: func(r *rig) {
			start := r.at
			r.drop = func(m int) bool { return m == 2 && r.at-start > 3e9 && r.at-start < 8e9 }
		}, verdict: Pass},
		{name: "repeats half of the time", spoil: rawStep(Fz, 10), do: func(r *rig) { r.run(60) }, verdict: Pass},
		{name: "repeats half of the time, then frozen", spoil: several(rawStep(Fz, 10), alter(Fz, hold(1000, ever))), do: func(r *rig) { r.run(15) }, verdict: Fail},
		{name: "step too coarse, at rest", spoil: coarse, verdict: Inconclusive, says: "raw step of 400.0 N is too coarse"},
		{name: "step too coarse, lifted", spoil: coarse, do: func(r *rig) { r.run(5); r.lift(); r.run(5) }, verdict: Pass, says: "too coarse"},
		{name: "coarse, and does not show the weight turn", spoil: several(rawStep(Fz, 100), alter(Fz, hold(0, ever))), do: func(r *rig) { r.brief(0, 1) }, verdict: Fail, says: "since its first frame"},
		{name: "coarse, but those like it show noise", spoil: several(rawStep(Fx, 4), rawStep(Fy, 4), rawStep(Fz, 4), alter(Fz, hold(0, ever))), verdict: Fail},
		{name: "no number", spoil: alter(Fz, func(int, float64) float64 { return math.NaN() }), verdict: Inconclusive, says: "has sent no number yet", also: []string{"range fz"}},
		{name: "at the end of its range", spoil: several(alter(Fz, func(int, float64) float64 { return 1e6 }), rawEnds(-20_000, 20_000)), verdict: Inconclusive, says: "at the end of its range throughout", also: []string{"clipped fz"}},
		{name: "not fitted", spoil: func(r *rig) { r.setup.Corners[1].Channels[Fy] = None }, channel: "fy", verdict: Absent},
	})
}
