package checks

import (
	"math"
	"testing"
)

func TestSpikes(t *testing.T) {
	// spiking lets every so many-th sample of FR fz jump; the rig sends 200 a second.
	spiking := func(every int, size float64) func(*rig) {
		return alter(Fz, func(k int, v float64) float64 {
			if k%every == every/2 {
				return v + size
			}
			return v
		})
	}
	minute := func(r *rig) { r.run(60) }
	judgeSignals(t, "spikes", []signalCase{
		{name: "clean", verdict: Pass, says: "no single sample far off in 8 s", value: 0, near: 1e-9},
		{name: "sixty a minute", spoil: spiking(200, 1500), do: minute, verdict: Fail, says: " a minute, more than 5.0", value: 60, near: 2},
		{name: "sixty a minute down", spoil: spiking(200, -300), do: minute, verdict: Fail, value: 60, near: 2},
		{name: "ten a minute", spoil: spiking(1200, 1500), do: func(r *rig) { r.run(180) }, verdict: Fail, value: 10, near: 0.5},
		{name: "five a minute", spoil: spiking(2400, 1500), do: func(r *rig) { r.run(180) }, verdict: Inconclusive, says: "too close to the limit of 5.0", value: 5, near: 0.5},
		{name: "two a minute", spoil: spiking(6000, 1500), do: func(r *rig) { r.run(300) }, verdict: Pass, says: "had 10 single samples far off, by up to 15", value: 2, near: 0.2},
		{name: "two in all", spoil: spiking(6000, 1500), do: func(r *rig) { r.run(65) }, verdict: Pass, says: "had 2 single samples"},
		{name: "two in a short time", spoil: spiking(400, 1500), do: func(r *rig) { r.run(5.9) }, verdict: Inconclusive, says: "too few to tell a rate"},
		{name: "smaller than noise of ten times its size", spoil: spiking(200, 30), do: minute, verdict: Pass, says: "no single sample"},
		{name: "too short", do: func(r *rig) { r.run(4) }, verdict: Inconclusive, says: "5 s are the least"},
		{name: "turned by hand", spoil: spiking(200, 1000), do: func(r *rig) { r.brief(0, 1) }, verdict: Fail},
		{name: "not judged rolling", spoil: alter(Fz, func(k int, v float64) float64 {
			if k > 2000 && k%200 == 0 {
				return v + 3000
			}
			return v
		}), do: func(r *rig) {
			r.run(10)
			for _, w := range r.wheels {
				w.omega = 3
			}
			r.run(30)
		}, verdict: Pass},
		{name: "two channels share it", spoil: func(r *rig) {
			k := -1
			r.spoil = func(corner int, q Quantity, v float64) float64 {
				if corner != 1 {
					return v
				}
				if q == Fx {
					k++
				}
				if q == Fx && k%800 == 300 || q == Fz && k%800 == 700 {
					return v + 900
				}
				return v
			}
		}, do: minute, verdict: Fail, says: "had 15 single samples far off", value: 30, near: 2, also: []string{"spikes fx"}},
		{name: "a step", spoil: alter(Fz, func(k int, v float64) float64 { return v + 500*float64(k/400%2) }), do: minute, verdict: Pass, says: "no single sample"},
		{name: "gaps are none", spoil: func(r *rig) {
			k := 0
			alter(Fz, func(_ int, v float64) float64 { k++; return v + 500*float64(k/400%2) })(r)
			r.drop = func(m int) bool { return m == 2 && k%400 < 40 }
		}, do: minute, verdict: Pass, says: "no single sample"},
		{name: "what cannot be is range", spoil: spiking(200, 40_000), do: minute, verdict: Pass, also: []string{"range fz"}},
		{name: "NaN is none", spoil: alter(Fz, func(k int, v float64) float64 {
			if k%100 == 7 {
				return math.NaN()
			}
			return v
		}), verdict: Pass, also: []string{"range fz"}},
		{name: "frozen", spoil: alter(Fz, func(int, float64) float64 { return 3000 }), verdict: Inconclusive, says: "stands still", also: []string{"frozen fz"}},
		{name: "1000 Hz", spoil: several(atRate(1000), spiking(1000, 500)), do: minute, verdict: Fail, value: 60, near: 2},
		{name: "10 Hz", spoil: atRate(10), do: minute, verdict: Inconclusive, says: "too seldom"},
		{name: "no angle anywhere", spoil: func(r *rig) {
			r.setup.Corners[0].Channels[Angle], r.setup.Corners[1].Channels[Angle] = None, None
		}, verdict: Absent},
		{name: "not fitted", spoil: func(r *rig) { r.setup.Corners[1].Channels[Fy] = None }, channel: "fy", verdict: Absent},
	})
}
