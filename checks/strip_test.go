package checks

import (
	"math"
	"testing"
)

// columns lays the blocks of a strip out by the number of the column.
func columns(blocks []*Block) map[int64]Column {
	out := map[int64]Column{}
	for _, b := range blocks {
		for i, c := range b.Columns {
			if c.Samples > 0 {
				out[b.First+int64(i)] = c
			}
		}
	}
	return out
}

func TestStrip(t *testing.T) {
	const start = int64(1_700_000_000_100_000_000)
	value := func(i int) float64 { return 100 + float64(i%25) }
	for _, tt := range []struct {
		name        string
		seconds     float64
		silent      [2]float64 // s from the start
		want, holes int        // columns, and those missing between the first and the last
	}{
		{name: "a moment", seconds: 0.1, want: 1},
		{name: "half a minute", seconds: 30, want: 121},
		{name: "an hour", seconds: 3600, want: StripColumns + 1},
		{name: "a gap", seconds: 100, silent: [2]float64{70, 75}, want: StripColumns + 1 - 19, holes: 19},
		{name: "a gap that has not ended", seconds: 100, silent: [2]float64{90, 200}, want: 201},
		{name: "silent for more than a minute", seconds: 100, silent: [2]float64{20, 200}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var s strip
			handed := map[*Block]Block{}
			now := start
			for i := 0; float64(i) < tt.seconds*100; i++ { // 100 Hz
				now = start + int64(i)*1e7
				if at := float64(i) / 100; at < tt.silent[0] || at >= tt.silent[1] {
					s.add(now, value(i))
				}
				if i%37 == 0 {
					for _, b := range s.blocks(now) {
						if old, ok := handed[b]; ok && old != *b {
							t.Fatalf("the block at %d was changed after it was handed out", b.First)
						}
						handed[b] = *b
					}
				}
			}
			first := now/ColumnNs - StripColumns
			got := columns(s.blocks(now))
			n, low, high := 0, int64(math.MaxInt64), int64(0)
			for number, c := range got {
				if number < first {
					continue // the rest of a block
				}
				n++
				low, high = min(low, number), max(high, number)
				if c.Low < 100 || c.High > 124 || c.Mean < c.Low || c.Mean > c.High {
					t.Errorf("column %d: %+v, want it within 100 and 124", number, c)
				}
			}
			if n != tt.want {
				t.Errorf("%d columns, want %d", n, tt.want)
			}
			if holes := int(high-low) + 1 - n; n > 0 && holes != tt.holes {
				t.Errorf("%d columns are missing in between, want %d", holes, tt.holes)
			}
		})
	}
}

func TestStripColumn(t *testing.T) {
	var s strip
	for i, v := range []float64{3, -1, 7, 7} {
		s.add(1_000_000_000+int64(i)*10_000_000, v)
	}
	s.add(900_000_000, 4) // late: it counts now
	if got, want := columns(s.blocks(1_100_000_000))[4], (Column{Samples: 5, Low: -1, High: 7, Mean: 4}); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
	s.add(5_000_000_000, 1)
	s.blocks(5_000_000_000)
	s.add(1_000_000_000, 2) // the clock was set back
	if got := columns(s.blocks(1_200_000_000)); len(got) != 1 || got[4].Mean != 2 {
		t.Errorf("after the clock was set back: got %+v, want the new column alone", got)
	}
	if n := testing.AllocsPerRun(1000, func() { s.add(2_000_000_000, 1) }); n != 0 {
		t.Errorf("%v allocations a sample, want none", n)
	}
}
