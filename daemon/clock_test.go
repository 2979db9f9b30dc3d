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

// TestClockSetAhead: a step that was told is no time that passed, whichever side of it speaks first, and one that
// nobody told, or that another source comes from, is told apart.
func TestClockSetAhead(t *testing.T) {
	const s, ms = int64(1e9), int64(1e6)
	for _, test := range []struct {
		name     string
		do       func(c *clock, frame, idle func(at int64))
		ticks    []int64
		warnings int
	}{
		{"told on the old clock", func(c *clock, frame, _ func(int64)) {
			c.set(1800*s, 10*s)
			frame(1810*s + 5*ms)
			frame(1810*s + 105*ms)
		}, []int64{1810*s + 100*ms}, 0},
		{"told on the new clock", func(c *clock, frame, _ func(int64)) {
			c.set(1800*s, 1810*s)
			frame(1810*s + 5*ms)
			frame(1810*s + 105*ms)
		}, []int64{1810*s + 100*ms}, 0},
		{"by half a second, and the grid goes on", func(c *clock, frame, _ func(int64)) {
			c.set(500*ms, 10*s)
			frame(10*s + 505*ms)
			frame(10*s + 605*ms)
			frame(10*s + 705*ms)
		}, []int64{10*s + 600*ms, 10*s + 700*ms}, 0},
		{"another source still delivers what was before", func(c *clock, frame, _ func(int64)) {
			c.set(1800*s, 10*s)
			frame(1810*s + 5*ms)
			frame(10*s + 3*ms)
			frame(1810*s + 105*ms)
		}, []int64{1810*s + 100*ms}, 0},
		{"and back by as much, which is told", func(c *clock, frame, _ func(int64)) {
			c.set(1800*s, 10*s)
			frame(1810*s + 5*ms)
			c.set(-1800*s, 10*s+10*ms)
			frame(10*s + 105*ms)
		}, []int64{10*s + 100*ms}, 0},
		{"silence goes on", func(c *clock, frame, idle func(int64)) {
			c.set(1800*s, 10*s)
			idle(1810*s + 50*ms)
			idle(1810*s + 110*ms)
			frame(1810*s + 120*ms)
		}, []int64{1810*s + 50*ms, 1810*s + 100*ms}, 0},
		{"told late", func(c *clock, frame, _ func(int64)) {
			frame(4010 * s) // more than an hour
			c.set(4000*s, 4010*s)
			frame(4010*s + 100*ms)
			frame(4021 * s)
			frame(6022 * s)
		}, nil, 1},
	} {
		t.Run(test.name, func(t *testing.T) {
			var (
				c     clock
				ticks []int64
				n     uint64
			)
			tick := func(at int64) { ticks = append(ticks, at) }
			frame := func(at int64) { n++; c.frame(at, n, tick) }
			frame(10 * s)
			test.do(&c, frame, func(at int64) { c.idle(at, tick) })
			if test.ticks == nil { // many
				if got := ticks[len(ticks)-1]; len(ticks) < longSilence || got != 6022*s {
					t.Errorf("got %d ticks up to %d", len(ticks), got)
				}
			} else if diff := cmp.Diff(ticks, test.ticks); diff != "" {
				t.Errorf("ticks, got before want:\n%s", diff)
			}
			if got := c.warnings(); len(got) != test.warnings {
				t.Errorf("got warnings %q, want %d", got, test.warnings)
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
