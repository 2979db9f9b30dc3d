package daemon

import (
	"math"
	"testing"
	"testing/synctest"
	"time"

	"plumbline/bus"
)

// TestFlow: what is heard is counted by source, and a frame's age is told where its stamp is of now.
func TestFlow(t *testing.T) {
	b := bench(t)
	for _, c := range []struct {
		name string
		late time.Duration // of the first frame
		want uint64        // ages
		zero uint64        // of them
	}{
		{"ten seconds late", 10 * time.Second, 3, 0},
		{"a clock that is ahead", -time.Minute, 3, 3},
		{"of another day", 26 * time.Hour, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			j := b.Judge("live")
			j.KeepCost()
			frames := wheel(300)
			at := time.Unix(0, frames[0].At).Add(c.late)
			j.meter.now = func() time.Time { at = at.Add(time.Millisecond); return at }
			if err := j.Run(t.Context(), &memory{names: []string{"can0"}, frames: frames, size: 100}); err != nil {
				t.Fatal(err)
			}
			got := j.Snapshot(1).Flow
			if got.Received[0] != 300 || got.Age[0].Count != c.want || got.Age[0].Zero != c.zero || got.Look.Count != 1 {
				t.Errorf("got %d frames, %d ages, %d of them 0, %d looks", got.Received[0], got.Age[0].Count, got.Age[0].Zero, got.Look.Count)
			}
		})
	}
	t.Run("slowed down for people", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			j := b.Judge("demo")
			j.KeepCost()
			src := Paced(&memory{names: []string{"can0"}, frames: wheel(300), size: 100}, 20)
			if err := j.Run(t.Context(), src); err != nil {
				t.Fatal(err)
			}
			// the stamps are of another day, 10 ms apart; of each batch the first frame has waited for the last one
			got := j.Snapshot(1).Flow.Age[0]
			if want := (4*63 + 43) * 0.01 / 20; got.Count != 5 || math.Abs(got.Sum-want) > 1e-6 {
				t.Errorf("got %d ages, %v s in all, want 5 and %v", got.Count, got.Sum, want)
			}
		})
	})
	j := b.Judge("replay")
	if err := j.Run(t.Context(), &memory{names: []string{"can0"}, frames: wheel(10), notes: []bus.Note{{Kind: bus.Tick, At: 1}}}); err != nil {
		t.Fatal(err)
	}
	if got := j.Snapshot(1).Flow; got.Age != nil || got.Look.Count != 0 || got.Received[0] != 10 {
		t.Errorf("where nobody asked: %+v", got.Received)
	}
}
