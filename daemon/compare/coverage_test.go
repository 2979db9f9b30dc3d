package compare

import (
	"flag"
	"math"
	"testing"

	"plumbline/bus/simulated"
)

// full has the two tests below try as many pairs as the claims are made for: go test ./daemon/compare -pairs 500.
var full = flag.Int("pairs", 0, "simulated pairs of tests; 0: fewer, for a quick run")

func pairs(quick int) int {
	switch {
	case *full > 0:
		return *full
	case raceDetector:
		return quick / 4
	}
	return quick
}

// least is what a count of n with a chance of p each is above in 999 of 1000 cases.
func least(p float64, n int) float64 {
	return float64(n)*p - 3.1*math.Sqrt(float64(n)*p*(1-p))
}

// TestKnownShift: a zero that moved by 40 N between two tests is said to have moved, by 40 N within
// the uncertainty in 95 % of the pairs. The simulation's physics share nothing with the checks.
func TestKnownShift(t *testing.T) {
	const shiftN = 40
	y, n := newYard(t, 1), pairs(100)
	channels := []string{"fx", "fy", "fz"}
	covered, squares := make([]int, len(channels)), make([]float64, len(channels))
	for i := range n {
		c := compared(y.test(t, uint64(2*i+1), nil), y.test(t, uint64(2*i+2), func(_ int, f *simulated.Flaws) {
			for k := range channels {
				f.Zero[k] += shiftN
			}
		}))
		if got := c.ExitCode(false); got != 1 {
			t.Fatalf("pair %d: exit code %d, want 1", i, got)
		}
		for k, channel := range channels {
			m := named(t, c, "zero/FL/"+channel)
			if m.State != Moved {
				t.Fatalf("pair %d: %s: %s, want moved", i, m.Name(), m.Sentence)
			}
			off := *m.Change - shiftN
			if math.Abs(off) <= *m.Uncertainty {
				covered[k]++
			}
			squares[k] += off * off * 4 / (*m.Uncertainty * *m.Uncertainty)
		}
	}
	for k, channel := range channels {
		ratio := math.Sqrt(squares[k] / float64(n))
		t.Logf("%s: in %d of %d pairs 40 N lies within the uncertainty; error ÷ half of it: %.2f RMS", channel, covered[k], n, ratio)
		if float64(covered[k]) < least(0.95, n) {
			t.Errorf("%s: in %d of %d pairs 40 N lies within the uncertainty, want 95 %%", channel, covered[k], n)
		}
		if ratio < 0.5 || ratio > 1.3 {
			t.Errorf("%s: errors are %.2f times half the uncertainty, want about 1", channel, ratio)
		}
	}
}

// TestNoShift: where nothing moved nothing is said to have moved, in 95 % of whole comparisons, and each change is
// within its own uncertainty in 95 % of cases.
func TestNoShift(t *testing.T) {
	y, n := newYard(t, 4), pairs(20)
	alarms, singles, compared1, covered := 0, 0, 0, 0
	for i := range n {
		c := compared(y.test(t, uint64(2*i+1001), nil), y.test(t, uint64(2*i+1002), nil))
		any1 := false
		for k := range c.Movements {
			m := &c.Movements[k]
			if m.Change == nil {
				continue
			}
			compared1++
			if math.Abs(*m.Change) <= *m.Uncertainty {
				covered++
			}
			if m.State == Moved {
				any1 = true
				singles++
				t.Logf("pair %d: %s", i, m.Sentence)
			}
		}
		if any1 {
			alarms++
		}
		if c.Chance.Compared < 40 {
			t.Fatalf("pair %d: %d quantities are compared, want 40 at least", i, c.Chance.Compared)
		}
	}
	t.Logf("%d of %d comparisons of %d quantities raise an alarm (%d single ones); by 95 %% alone %d of %d changes would",
		alarms, n, compared1/n, singles, compared1-covered, compared1)
	if float64(n-alarms) < least(1-family, n) {
		t.Errorf("%d of %d comparisons raise an alarm, want 5 %% at most", alarms, n)
	}
	if share := float64(covered) / float64(compared1); share < 0.94 {
		t.Errorf("%.1f %% of changes lie within their uncertainty, want 95", 100*share)
	}
}
