package checks

import (
	"math"
	"math/rand/v2"
	"testing"
)

const ms = int64(1e6)

func shift(at []int64, by int64) []int64 {
	for i := range at {
		at[i] += by
	}
	return at
}

// stampedBy returns the stamps of a clock of that step, ns.
func stampedBy(at []int64, step int64) []int64 {
	for i := range at {
		at[i] = (at[i] + step - 1) / step * step
	}
	return at
}

// tenth loses every tenth.
func tenth(at []int64) (out []int64) {
	for i := range at {
		if i%10 != 9 {
			out = append(out, at[i])
		}
	}
	return out
}

func TestTiming(t *testing.T) {
	every := func(n int, period int64) []int64 {
		var at []int64
		for k := range n {
			at = append(at, int64(k)*period)
		}
		return at
	}
	bursts := func(n, size int, period int64) []int64 {
		var at []int64
		for k := range n * size {
			at = append(at, int64(k/size)*period)
		}
		return at
	}
	without := func(at []int64, from, to int) []int64 { return append(append([]int64(nil), at[:from]...), at[to:]...) }
	for _, c := range []struct {
		name    string
		nominal float64 // s
		at      []int64
		want    Timing
	}{
		{"nothing", 0, nil, Timing{}},
		{"one", 0, []int64{7}, Timing{Count: 1, First: 7, Last: 7}},
		{"two", 0, []int64{0, 10 * ms}, Timing{Count: 2, Last: 10 * ms, Period: 0.01, Gap: 0.01}},
		{"even", 0.01, every(1001, 10*ms), Timing{Count: 1001, Last: 10_000 * ms, Period: 0.01, Gap: 0.01}},
		// From frame 499 at 4990 ms to frame 505: 60 ms, five frames missing.
		{"five lost", 0.01, without(every(1001, 10*ms), 500, 505), Timing{Count: 996, Last: 10_000 * ms, Period: 0.01, Gap: 0.06, GapAt: 4990 * ms, Lost: 5}},
		{"five lost while learning", 0.01, without(every(1001, 10*ms), 20, 25), Timing{Count: 996, Last: 10_000 * ms, Period: 0.01, Gap: 0.06, GapAt: 190 * ms, Lost: 5}},
		{"half the rate that is described", 0.01, every(1001, 20*ms), Timing{Count: 1001, Last: 20_000 * ms, Period: 0.02, Gap: 0.02}},
		{"twice the rate that is described", 0.01, every(1001, 5*ms), Timing{Count: 1001, Last: 5000 * ms, Period: 0.005, Gap: 0.005}},
		{"late by 40 %", 0.01, append(every(100, 10*ms), 1004*ms), Timing{Count: 101, Last: 1004 * ms, Period: 0.01, Gap: 0.014, GapAt: 990 * ms}},
		{"a step back", 0.01, append(every(100, 10*ms), 980*ms, 990*ms), Timing{Count: 102, Last: 990 * ms, Period: 0.01, Gap: 0.01, StepsBack: 1}},
		{"all at once", 0, make([]int64, 200), Timing{Count: 200}},
		// An adapter with a latency timer of 16 ms delivers 16 frames of a millisecond each at once.
		{"in bursts", 0.001, bursts(200, 16, 16*ms), Timing{Count: 3200, Last: 199 * 16 * ms, Period: 0.001, Gap: 0.016}},
		{"in bursts, one of them missing", 0.001, without(bursts(200, 16, 16*ms), 1600, 1616), Timing{Count: 3184, Last: 199 * 16 * ms, Period: 0.001, Gap: 0.032, GapAt: 99 * 16 * ms, Lost: 16}},
		// Who reads did not run for 3 s: what came meanwhile has one time stamp, and none of it is lost. The period is not that of the burst.
		{"a burst while learning", 0.04, append(append(every(20, 40*ms), shift(make([]int64, 76), 3760*ms)...), shift(every(50, 40*ms), 3800*ms)...), Timing{Count: 146, Last: 5760 * ms, Period: 0.04, Gap: 3, GapAt: 760 * ms}},
		{"a burst while learning, of several readings", 0.04, append(append(every(20, 40*ms), shift(every(45, ms/100), 2564*ms)...), shift(every(50, 40*ms), 2600*ms)...), Timing{Count: 115, Last: 4560 * ms, Period: 0.04, Gap: 1.804, GapAt: 760 * ms}},
		// The line delivers by a clock of its own.
		{"every 4 ms", 0.005, stampedBy(every(1000, 5*ms), 4*ms), Timing{Count: 1000, Last: 4996 * ms, Period: 0.005, Gap: 0.008, GapAt: 0}},
		{"every 16 ms", 0.01, stampedBy(every(999, 10*ms), 16*ms), Timing{Count: 999, Last: 9984 * ms, Period: 0.01, Gap: 0.016}},
		{"every ms, of 5.5 ms, every tenth lost", 0.0055, stampedBy(tenth(every(1000, 5500_000)), ms), Timing{Count: 900, Last: 5489 * ms, Period: 0.006, Gap: 0.011, GapAt: 44 * ms, Lost: 97}}, // two behind stamps that scatter
		{"2 % faster than described, every tenth lost", 0.01, tenth(every(1000, 9800_000)), Timing{Count: 900, Last: 9780_400_000, Period: 0.0098, Gap: 0.0196, GapAt: 78_400_000, Lost: 99}},
		{"8 % faster than described, every tenth lost", 0.01, tenth(every(1000, 9200_000)), Timing{Count: 900, Last: 9181_600_000, Period: 0.0092, Gap: 0.0184, GapAt: 73_600_000, Lost: 99}},
	} {
		t.Run(c.name, func(t *testing.T) {
			tm := Timing{Nominal: c.nominal}
			for _, at := range c.at {
				tm.Message(at)
			}
			got := tm.settle()
			if got.Count != c.want.Count || got.First != c.want.First || got.Last != c.want.Last || got.Lost != c.want.Lost || got.StepsBack != c.want.StepsBack ||
				math.Abs(got.Period-c.want.Period) > 1e-12 || math.Abs(got.Gap-c.want.Gap) > 1e-12 || got.Gap > c.want.Period*1.2 && got.GapAt != c.want.GapAt {
				t.Errorf("got  %+v\nwant %+v", got, c.want)
			}
			if again := tm.settle(); again.Count != got.Count || again.Lost != got.Lost {
				t.Error("settling changed what was settled")
			}
		})
	}
}

// What the message keeps counts, unless that is the description within a tenth.
func TestTimingInUse(t *testing.T) {
	for _, c := range []struct{ nominal, period, want float64 }{
		{0, 0, 0}, {0.01, 0, 0.01}, {0, 0.02, 0.02}, {0.01, 0.0105, 0.01}, {0.01, 0.0095, 0.01}, {0.01, 0.012, 0.012}, {0.01, 0.005, 0.005},
	} {
		tm := Timing{Nominal: c.nominal, Period: c.period}
		if got := tm.InUse(); got != c.want {
			t.Errorf("described %v, kept %v: %v in use, want %v", c.nominal, c.period, got, c.want)
		}
	}
}

func TestTimingCounter(t *testing.T) {
	for _, c := range []struct {
		name              string
		modulus           float64
		values            func(k int) float64
		off, jumps, count int64
	}{
		{"by 1", 16, func(k int) float64 { return float64(k % 16) }, 0, 0, 199},
		{"by 5", 1000, func(k int) float64 { return float64(5 * k % 1000) }, 0, 0, 199},
		// Once 3 numbers are left out.
		{"three missing", 256, func(k int) float64 {
			if k >= 150 {
				k += 3
			}
			return float64(k % 256)
		}, 3, 0, 199},
		{"three missing, by 5", 1000, func(k int) float64 {
			if k >= 150 {
				k += 3
			}
			return float64(5 * k % 1000)
		}, 3, 0, 199},
		{"half a step", 1000, func(k int) float64 {
			v := 4 * k
			if k >= 150 {
				v += 2
			}
			return float64(v % 1000)
		}, 0, 1, 199},
		{"one number twice", 256, func(k int) float64 {
			if k >= 150 {
				k--
			}
			return float64(k % 256)
		}, 0, 1, 199},
		{"no counter", 0, func(k int) float64 { return float64(k) }, 0, 0, 0},
		{"not a number", 16, func(int) float64 { return math.NaN() }, 0, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			tm := Timing{modulus: c.modulus}
			for k := range 200 {
				at := int64(k) * 10 * ms
				tm.Message(at)
				tm.CounterValue(at, c.values(k))
			}
			got := tm.settle()
			if got.CounterOff != c.off || got.Jumps != c.jumps || got.Counted != c.count {
				t.Errorf("%d missing, %d jumps of %d, want %d, %d of %d", got.CounterOff, got.Jumps, got.Counted, c.off, c.jumps, c.count)
			}
		})
	}
}

// After a silence in which a counter of 16 may have gone round, it tells nothing.
func TestTimingCounterAfterAGap(t *testing.T) {
	tm := Timing{modulus: 16}
	at := int64(0)
	for k := range 300 {
		if at += 10 * ms; k == 200 {
			at += 1000 * ms // a hundred frames
		}
		tm.Message(at)
		tm.CounterValue(at, float64(k%16))
	}
	if got := tm.settle(); got.CounterOff != 0 || got.Jumps != 0 || got.Lost != 100 {
		t.Errorf("%d missing by the counter, %d by the time stamps, %d jumps, want 0, 100, 0", got.CounterOff, got.Lost, got.Jumps)
	}
}

// TestTimingCountsWhatIsLost: of frames that are lost at random, with stamps that scatter, coarse ones and a rate that is not the one
// described, as many are counted as lost as were, within a fifteenth and three.
func TestTimingCountsWhatIsLost(t *testing.T) {
	const n, period = 20_000, 5 * ms
	for _, lost := range []float64{0, 0.005, 0.01, 0.02, 0.1, 0.3} {
		for _, scatter := range []int64{0, ms / 4, 3 * ms / 2} { // late by up to so much, ns
			for _, step := range []int64{1, ms} {
				for _, nominal := range []float64{0, 0.0046, 0.005, 0.0054} {
					random := rand.New(rand.NewPCG(1, 2))
					tm := Timing{Nominal: nominal}
					missing, last := int64(0), int64(0)
					for i := range n {
						at := int64(i)*period + int64(random.Float64()*float64(scatter))
						at = (at + step - 1) / step * step
						if i > 0 && i < n-100 && random.Float64() < lost {
							missing++
							continue
						}
						last = max(last, at)
						tm.Message(last)
					}
					settled := tm.settle()
					if off := settled.Lost - missing; max(off, -off) > 3+missing/15 {
						t.Errorf("%g lost, late by up to %d µs, stamped every %d ns, %g s described: %d counted, %d were lost", lost, scatter/1000, step, nominal, settled.Lost, missing)
					}
				}
			}
		}
	}
}
