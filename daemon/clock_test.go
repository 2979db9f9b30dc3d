package daemon

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestClock(t *testing.T) {
	const ms, s, hour = int64(1e6), int64(1e9), int64(3600e9)
	tests := []struct {
		name     string
		at       []int64
		ticks    []int64
		warnings []string
	}{
		{"nothing", nil, nil, nil},
		{"within one step of the grid", []int64{10 * ms, 90 * ms}, nil, nil},
		{"on the grid", []int64{0, 100 * ms}, []int64{100 * ms}, nil},
		{"over several", []int64{10 * ms, 350 * ms}, []int64{100 * ms, 200 * ms, 300 * ms}, nil},
		{"a little back is no step", []int64{10 * ms, 120 * ms, 80 * ms, 210 * ms}, []int64{100 * ms, 200 * ms}, nil},
		{
			"back",
			[]int64{10 * s, 10*s + 100*ms, 4 * s, 4*s + 100*ms},
			[]int64{10*s + 100*ms, 4*s + 100*ms},
			[]string{"time stamps step back by 6.100 s at frame 3 (1970-01-01T00:00:04.000000000Z): what was being measured there began anew"},
		},
		{
			"back twice",
			[]int64{10 * s, 4 * s, 2 * s},
			nil,
			[]string{"time stamps step back by 6.000 s at frame 2 (1970-01-01T00:00:04.000000000Z), and 2 times in all: what was being measured there began anew"},
		},
		{
			"forward",
			[]int64{0, hour + 1},
			[]int64{hour + 1},
			[]string{"time stamps step forward by 3600.000 s at frame 2 (1970-01-01T01:00:00.000000001Z): what was being measured there began anew"},
		},
		{"before 1970", []int64{-150 * ms, -10 * ms}, []int64{-100 * ms}, nil},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var (
				c     clock
				ticks []int64
			)
			for i, at := range test.at {
				c.frame(at, uint64(i+1), func(at int64) { ticks = append(ticks, at) })
			}
			if diff := cmp.Diff(ticks, test.ticks); diff != "" {
				t.Errorf("ticks, got before want:\n%s", diff)
			}
			if diff := cmp.Diff(c.warnings(), test.warnings); diff != "" {
				t.Errorf("warnings, got before want:\n%s", diff)
			}
		})
	}
}

// TestClockLongSilence: an hour of silence does not cost an hour of ticks, and
// the last grid point before the next frame is always told.
func TestClockLongSilence(t *testing.T) {
	var c clock
	n, last := 0, int64(0)
	tick := func(at int64) { n++; last = at }
	c.frame(0, 1, tick)
	c.frame(3599e9+1, 2, tick)
	if want := longSilence + 1; n != want || last != 3599e9 {
		t.Errorf("got %d ticks up to %d, want %d up to %d", n, last, want, int64(3599e9))
	}
	c.frame(3599e9+2e8, 3, tick)
	if last != 3599e9+2e8 {
		t.Errorf("the grid did not go on: last tick %d", last)
	}
}

// TestClockExtremes: no time stamp makes the clock loop or overflow.
func TestClockExtremes(t *testing.T) {
	var c clock
	n := 0
	for i, at := range []int64{math.MinInt64, math.MaxInt64, math.MinInt64, 0, math.MaxInt64 - 1, math.MaxInt64, 5} {
		c.frame(at, uint64(i+1), func(int64) { n++ })
	}
	if n > 3*longSilence {
		t.Errorf("got %d ticks", n)
	}
	if c.back.count != 2 || c.ahead.count != 3 {
		t.Errorf("got %d steps back and %d ahead, want 2 and 3", c.back.count, c.ahead.count)
	}
}
