package record

import (
	"syscall"
	"testing"
	"time"
)

// TestCost records a saturated bus, and eight corners at 1 kHz, in the small
// batches of a live bus: nothing may be lost, and the time of the processor is logged.
// All of hearing, judging and recording is to take less than 5 % and 15 % of a core.
func TestCost(t *testing.T) {
	if testing.Short() {
		t.Skip("takes 2 s for each rate")
	}
	for _, test := range []struct {
		rate   int
		packed bool
	}{{8000, false}, {24_000, false}, {8000, true}} {
		r, end := start(t, Config{Dir: t.TempDir(), Zstd: test.packed})
		const pause = 4 * time.Millisecond
		each := test.rate * int(pause) / int(time.Second)
		before, begun := processorTime(t), time.Now()
		heard := 0
		for time.Since(begun) < 2*time.Second {
			due := int(time.Since(begun) * time.Duration(test.rate) / time.Second)
			for heard+each <= due {
				r.Write(batch(heard, each), names)
				heard += each
			}
			time.Sleep(pause)
		}
		stats := end()
		took := processorTime(t) - before
		percent := 100 * took.Seconds() / (float64(heard) / float64(test.rate))
		t.Logf("%d frames/s, packed %t: %.2f %% of a core, %.1f bytes a frame", test.rate, test.packed, percent, float64(stats.Bytes)/float64(stats.Frames))
		if stats.Lost > 0 || stats.Frames != uint64(heard) {
			t.Errorf("%d frames lost, %d of %d written", stats.Lost, stats.Frames, heard)
		}
	}
}

func processorTime(tb testing.TB) time.Duration {
	tb.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		tb.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
