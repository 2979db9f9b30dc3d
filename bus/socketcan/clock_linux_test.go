package socketcan

import (
	"math/rand/v2"
	"testing"
)

const ms = 1_000_000 // ns

func TestStepWatch(t *testing.T) {
	tests := []struct {
		name    string
		offsets []int64 // wall less mono, ms
		want    []int64 // steps, ms
	}{
		{"none", []int64{1000, 1000, 1000}, []int64{0, 0, 0}},
		{"reading takes a while", []int64{1000, 1004, 999, 1000}, []int64{0, 0, 0, 0}},
		{"forward and back, as in can-utils #233", []int64{1000, 7000, 7000, 1000}, []int64{0, 6000, 0, -6000}},
		{"just enough", []int64{0, 50, 50, 0}, []int64{0, 50, 0, -50}},
		{"just not", []int64{0, 49, 0, -49}, []int64{0, 0, 0, 0}},
		{"small ones add up", []int64{0, 20, 40, 60, 80}, []int64{0, 0, 0, 60, 0}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var w stepWatch
			for i, o := range tt.offsets {
				mono := int64(i) * 1000 * ms
				if got := w.step(clocks{mono + o*ms, mono}); got != tt.want[i]*ms {
					t.Errorf("reading %d: step of %d ns, want %d", i, got, tt.want[i]*ms)
				}
			}
		})
	}
}

func TestReadClocks(t *testing.T) {
	var w stepWatch
	last := readClocks()
	for range 1000 {
		c := readClocks()
		if c.mono < last.mono {
			t.Fatalf("CLOCK_MONOTONIC went from %d to %d", last.mono, c.mono)
		}
		if s := w.step(c); s != 0 {
			t.Fatalf("a step of %d ns that nobody made", s)
		}
		last = c
	}
}

// TestHardwareClock gives an adapter's clock that starts at zero and runs 100 ppm
// fast, and software stamps that are late by 20 µs to 2 ms.
func TestHardwareClock(t *testing.T) {
	const start, period = int64(1_700_000_000_000 * ms), int64(ms)
	r := rand.New(rand.NewPCG(1, 2))
	var h hardwareClock
	var worst, worstSoftware, last int64
	for i := range int64(20_000) {
		truth := start + i*period
		late := 20_000 + r.Int64N(2*ms)
		at, stepped := h.at(i*period+i*period/10_000, truth+late)
		if stepped {
			t.Fatalf("frame %d: a step that was none", i)
		}
		if at < last {
			t.Fatalf("frame %d: time runs back by %d ns", i, last-at)
		}
		last = at
		if i < 500 {
			continue // until the least latency has been seen
		}
		worst = max(worst, distance(at, truth))
		worstSoftware = max(worstSoftware, late)
	}
	// 100 ppm in a window of 1 s are 0.1 ms, and the least latency of a window is some µs above 20
	if worst > 250_000 || worstSoftware < 15*worst/2 {
		t.Errorf("stamps are off by %d ns at most, the kernel's by %d; want under 250 µs", worst, worstSoftware)
	}
}

func TestHardwareClockSteps(t *testing.T) {
	tests := []struct {
		name  string
		jump  int64 // of the hardware clock after 3 s
		late  int64 // of one software stamp at 3 s
		steps int
	}{
		{"none", 0, 0, 0},
		{"one frame is held up", 0, 400 * ms, 0},
		{"the adapter's clock jumps ahead", 5000 * ms, 0, 1},
		{"the adapter's clock begins anew", -3000 * ms, 0, 1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var h hardwareClock
			steps, jumped := 0, int64(0)
			var at, software int64
			for i := range int64(8000) {
				software = 1_700_000_000_000*ms + i*ms
				if i == 3000 {
					jumped = tt.jump
					software += tt.late
				}
				var stepped bool
				at, stepped = h.at(i*ms+jumped, software)
				if stepped {
					steps++
				}
			}
			if steps != tt.steps {
				t.Errorf("%d steps, want %d", steps, tt.steps)
			}
			if d := distance(at, software); d > ms {
				t.Errorf("in the end %d ns off", d)
			}
		})
	}
}

func TestTally(t *testing.T) {
	var tl tally
	got := []uint64{
		tl.sum(100), // what was before is nobody's loss
		tl.event(),  // the event comes first,
		tl.sum(101), // then the total that holds it
		tl.sum(103), // the total comes first,
		tl.event(),  // then its events
		tl.event(),
		tl.event(), // one more than the total knows
		tl.sum(104),
		tl.sum(2), // the driver began anew
		tl.sum(2),
		tl.event(), // of these
	}
	want := []uint64{0, 1, 0, 2, 0, 0, 1, 0, 2, 0, 0}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("call %d told of %d, want %d", i, got[i], want[i])
		}
	}
}
