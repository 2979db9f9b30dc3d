package checks

import (
	"math"
	"testing"
)

func TestLap(t *testing.T) {
	join := func(parts ...[]float64) []float64 {
		var out []float64
		for _, p := range parts {
			out = append(out, p...)
		}
		return out
	}
	for _, c := range []struct {
		name  string
		turns []float64 // unwrapped
		done  int
		dir   int8
		runs  int32
		part  float64
	}{
		{"not quite one", sweep(0, 0.99, 99), 0, 1, 1, 0.99},
		{"two and a bit", sweep(0.3, 2.5, 1000), 2, 1, 1, 0.2},
		{"back", sweep(0.3, -1.9, 1000), 2, -1, 1, 0.2},
		// 0.2 rad are 0.032 of a turn: a wobble of 0.02 changes nothing.
		{"wobble", join(sweep(0, 0.5, 100), sweep(0.5, 0.48, 5), sweep(0.48, 1.1, 100)), 1, 1, 1, 0.1},
		{"falls back", join(sweep(0, 0.9, 100), sweep(0.9, 0.8, 20), sweep(0.8, 1.7, 200)), 0, 1, 2, 0},
		{"turned round", join(sweep(0, 1.5, 200), sweep(1.5, 0.2, 200)), 2, -1, 2, 0.27},
	} {
		t.Run(c.name, func(t *testing.T) {
			var l lap
			done := 0
			for k, x := range c.turns {
				if l.add(int64(k), x*2*math.Pi, true) == lapDone {
					done++
				}
			}
			if c.name == "falls back" {
				if done != 0 || l.run < c.runs {
					t.Errorf("%d done in %d runs, want none, and begun anew", done, l.run)
				}
				return
			}
			part, dir := l.part()
			if done != c.done || dir != c.dir || l.run != c.runs || math.Abs(part-c.part) > 0.011 {
				t.Errorf("%d done, direction %d, run %d, part %.3f, want %d, %d, %d, %.3f", done, dir, l.run, part, c.done, c.dir, c.runs, c.part)
			}
		})
	}
}

func TestLapStops(t *testing.T) {
	var l lap
	for k, x := range sweep(0, 0.9, 100) {
		l.add(int64(k), x*2*math.Pi, true)
	}
	if e := l.add(200, 0.9*2*math.Pi, false); e != lapOff {
		t.Errorf("a wheel that stands: %v, want off", e)
	}
	if part, dir := l.part(); part != 0 || dir != 0 {
		t.Errorf("part %v, direction %d of no lap", part, dir)
	}
	if e := l.add(300, 0.9*2*math.Pi, true); e != lapBegun {
		t.Errorf("going on: %v, want a new lap", e)
	}
	for k, x := range sweep(0.9, 1.2, 50) {
		if l.add(int64(400+k), x*2*math.Pi, true) == lapDone {
			t.Fatal("a pause was turned over")
		}
	}
}
