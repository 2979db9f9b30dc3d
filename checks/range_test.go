package checks

import (
	"math"
	"testing"
)

// The load of the rig is 6,000 N: a standing wheel carries 2.2 · 6,000 + 1,000 = 14,200 N, a rolling one 36,000 N.
func TestInRange(t *testing.T) {
	at := func(from, n int, value float64) func(*rig) { // sample numbers
		return alter(Fz, func(k int, v float64) float64 {
			if k >= from && k < from+n {
				return value
			}
			return v
		})
	}
	channel := func(change func(*Channel)) func(*rig) {
		return func(r *rig) { change(&r.setup.Channels[r.setup.Corners[1].Channels[Fz]]) }
	}
	stated := func(low, high float64) func(*rig) {
		return channel(func(c *Channel) { c.Min, c.Max = low, high })
	}
	named := channel(func(c *Channel) { c.Named = []NamedValue{{0, "not available"}, {32767, "error"}} })
	rolling := func(r *rig) {
		r.run(5)
		for _, w := range r.wheels {
			w.omega = 30
		}
		r.run(5)
	}
	judgeSignals(t, "range", []signalCase{
		{name: "clean", verdict: Pass, says: "as a wheel can"},
		{name: "one glitch", spoil: at(1000, 1, 20_000), verdict: Fail, says: "FR fz read 20000.0 N, more than a wheel of this load can carry, 1 time, 5.0 s after the start", value: 20_000, near: 0.5},
		{name: "loose contact", spoil: at(1000, 60, -31_000), verdict: Fail, says: "−31000.0 N, more than a wheel of this load can carry, 60 times, from 5.0 s after the start to 5.3 s", value: -31_000, near: 0.5},
		{name: "below what it can carry", spoil: at(1000, 60, 14_190), verdict: Pass},
		{name: "above what it can carry", spoil: at(1000, 60, 14_210), verdict: Fail},
		{name: "rolling it can carry more", spoil: at(1600, 3, 35_900), do: rolling, verdict: Pass},
		{name: "but not that", spoil: at(1600, 3, 36_100), do: rolling, verdict: Fail},
		{name: "moments at half a metre", spoil: alter(Mz, func(k int, v float64) float64 {
			if k == 500 {
				return 7200
			}
			return v
		}), channel: "mz", verdict: Fail, says: "7200.00 N·m, more"},
		{name: "1000 times too large", spoil: alter(Fz, func(_ int, v float64) float64 { return 1000 * v }), do: func(r *rig) { r.wheels[1].theta = 0.1; r.run(10) }, verdict: Fail, says: "2000 times, from 0.0 s", also: []string{"noise fz"}},
		{name: "load not known", spoil: several(func(r *rig) { r.setup.Corners[1].LoadN = 0 }, at(1000, 60, 31_000)), verdict: Pass},
		{name: "one NaN", spoil: at(1000, 1, math.NaN()), verdict: Fail, says: "sent what is not a number 1 time, 5.0 s after the start"},
		{name: "NaN throughout", spoil: at(0, math.MaxInt/2, math.NaN()), verdict: Fail, says: "2000 times, from 0.0 s after the start to 10.0 s"},
		{name: "infinite", spoil: at(1000, 5, math.Inf(-1)), verdict: Fail, says: "5 times"},
		{name: "named value", spoil: several(named, at(1000, 5, 32767)), verdict: Fail, says: "sent \"error\" 5 times, from 5.0 s after the start to 5.0 s"},
		{name: "named value inside the range", spoil: several(named, at(1000, 5, 0)), verdict: Fail, says: "sent \"not available\" 5 times"},
		{name: "named value while it is switched on", spoil: several(named, at(0, 300, 0)), verdict: Pass, says: "had no value at first, for 1.5 s"},
		{name: "named value for long", spoil: several(named, at(0, 1100, 0)), verdict: Fail, says: "1100 times", also: []string{"frozen fz"}},
		{name: "switched on just now", spoil: several(named, at(0, 300, 0)), do: func(r *rig) { r.run(4) }, verdict: Fail},
		{name: "beyond what is stated", spoil: several(stated(-8000, 8000), at(1000, 1, 8001)), verdict: Fail, says: "beyond the 8000.1 N that its description states, 1 time", value: 8001, near: 0.5},
		{name: "below what is stated", spoil: several(stated(-8000, 8000), at(1000, 1, -8001)), verdict: Fail, says: "beyond the −8000.1 N", value: -8001, near: 0.5},
		{name: "at what is stated", spoil: several(stated(-8000, 8000), at(1000, 9, 8000)), verdict: Pass},
		{name: "stated as wide as the raw range", spoil: several(stated(-1e5, 1e5), at(1000, 9, 14_000)), verdict: Pass},
		{name: "a named value is a NaN to nobody else", spoil: several(named, at(1000, 5, 32767)), channel: "fx", verdict: Pass, also: []string{"range fz"}},
		{name: "nothing", do: func(r *rig) { r.start() }, verdict: Inconclusive, says: "nothing has come from FR fz yet"},
		{name: "not fitted", spoil: func(r *rig) { r.setup.Corners[1].Channels[Fy] = None }, channel: "fy", verdict: Absent},
	})
}
