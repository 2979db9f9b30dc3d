package socketcan

import (
	"testing"
	"time"

	"plumbline/bus"
)

// TestBeatRests: it beats while frames come, and what comes after a silence wakes by itself.
func TestBeatRests(t *testing.T) {
	r, _, send := udpReader(t)
	defer r.Close()
	if _, err := r.conclude(notes{batch: new(bus.Batch)}); err != nil { // binds
		t.Fatal(err)
	}
	for range 2 {
		for id := range uint32(3) {
			send(raw(16, id, 0, 0))
		}
		if err := r.wait(1 << 62); err != nil {
			t.Fatal(err)
		}
		if n := r.ports[0].conn.n; n != 3 || !r.beat.on {
			t.Fatalf("%d frames with one beat, want 3; beating: %v", n, r.beat.on)
		}
		r.ports[0].conn.next = 3
		for range restAfter {
			if !r.beat.on {
				t.Fatal("it rests before its time")
			}
			if err := r.wait(1 << 62); err != nil {
				t.Fatal(err)
			}
		}
		if r.beat.on {
			t.Fatal("it beats on though nothing comes")
		}
	}
}

func TestGatherFor(t *testing.T) {
	for _, c := range []struct {
		buffer int // bytes
		want   time.Duration
	}{
		{8 << 20, 20 * time.Millisecond},     // what is asked for
		{425_984, 13_300 * time.Microsecond}, // what a kernel gives that was told nothing: 532 frames
		{64 << 10, 2 * time.Millisecond},     // 81 frames
		{2304, time.Millisecond},             // the least that Linux gives
	} {
		if got := gatherFor(c.buffer, 20*time.Millisecond); got != c.want {
			t.Errorf("%d bytes: %v, want %v", c.buffer, got, c.want)
		}
	}
}
