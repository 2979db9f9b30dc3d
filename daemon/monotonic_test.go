package daemon

import (
	"errors"
	"io"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/daemon/record"
)

// scripted is a live source that delivers batches as they are sent to it.
type scripted struct {
	batches chan bus.Batch
	once    sync.Once
	closed  chan struct{}
}

func (s *scripted) Names() []string { return []string{"can0"} }
func (s *scripted) Close() error    { s.once.Do(func() { close(s.closed) }); return nil }

func (s *scripted) Read(b *bus.Batch) error {
	b.Reset()
	select {
	case next := <-s.batches:
		b.Frames = append(b.Frames, next.Frames...)
		b.Notes = append(b.Notes, next.Notes...)
		return nil
	case <-s.closed:
		return io.EOF
	}
}

// clockTruth is a wall clock that is set, and one that is not. Read is by the reader, the rest by the test.
type clockTruth struct {
	mu        sync.Mutex
	mono, off int64
}

func (c *clockTruth) now() (wall, mono int64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.mono + c.off, c.mono
}

func (c *clockTruth) move(by, step time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.mono += int64(by)
	c.off += int64(step)
}

// TestMonotonic: while a vehicle is listened to, somebody sets the clock an hour ahead and later two back. In what is
// heard and in what is read from the recording each frame has its monotonic time, and both are the same notes.
func TestMonotonic(t *testing.T) {
	truth := &clockTruth{mono: 5_000_000_000, off: 1_700_000_000_000_000_000}
	src := &scripted{batches: make(chan bus.Batch), closed: make(chan struct{})}
	l := NewLive([]bus.Source{src})
	l.now = truth.now // nothing has been read yet
	l.ahead = truth.off
	dir := t.TempDir()
	r, err := record.New(record.Config{Dir: dir, Reserve: -1})
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- r.Run(t.Context()) }()

	var want []int64 // monotonic time, by frame
	frame := func(b *bus.Batch) {
		truth.move(7*time.Millisecond, 0)
		wall, mono := truth.now()
		b.Frames = append(b.Frames, bus.Frame{At: wall, ID: uint32(len(want)), Len: 2})
		want = append(want, mono)
	}
	var heard heardTimes
	var b bus.Batch
	read := func() {
		t.Helper()
		if err := l.Read(&b); err != nil {
			t.Fatal(err)
		}
		heard.take(&b)
		r.Write(&b, l.Names())
	}
	send := func(next bus.Batch) {
		t.Helper()
		n := len(heard.times) + len(next.Frames)
		src.batches <- next
		for len(heard.times) < n { // ticks may come between
			read()
		}
	}
	for round := range 300 {
		var next bus.Batch
		frame(&next)
		switch round {
		case 100: // the source sees it between two frames, as socketcan does
			truth.move(0, time.Hour)
			next.Notes = append(next.Notes, bus.Note{Before: 1, At: truth.mono + truth.off, Kind: bus.Clock, Step: int64(time.Hour), Text: "set"})
			frame(&next)
			frame(&next)
		case 200: // nothing is heard: the ticker sees it
			send(next)
			truth.move(300*time.Millisecond, -2*time.Hour)
			for steps := heard.steps; heard.steps == steps; {
				read()
			}
			continue
		}
		frame(&next)
		send(next)
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	r.Close()
	if err := <-done; err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(heard.times, want); diff != "" {
		t.Errorf("heard live: got before want:\n%s", diff)
	}
	if heard.steps != 2 || heard.pairs < 4 || heard.pairs > 12 {
		t.Errorf("%d steps and %d times both clocks in 4.5 s, want 2 and some 7", heard.steps, heard.pairs)
	}

	parts, err := record.Parts(dir)
	if err != nil {
		t.Fatal(err)
	}
	again, err := record.Open(parts)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	var recorded heardTimes
	for {
		err := again.Read(&b)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		recorded.take(&b)
	}
	if diff := cmp.Diff(recorded, heard, cmp.AllowUnexported(heardTimes{}), cmp.AllowUnexported(bus.MonotonicTime{})); diff != "" {
		t.Errorf("recorded before heard:\n%s", diff)
	}
}

// heardTimes is what is known of the time of frames.
type heardTimes struct {
	clock        bus.MonotonicTime
	times        []int64
	steps, pairs int
}

func (h *heardTimes) take(b *bus.Batch) {
	next := 0
	notes := func(upTo int) {
		for ; next < len(b.Notes) && b.Notes[next].Before <= upTo; next++ {
			n := &b.Notes[next]
			h.clock.Note(n)
			switch n.Kind {
			case bus.Clock:
				h.steps++
			case bus.BothClocks:
				h.pairs++
			default:
			}
		}
	}
	for i := range b.Frames {
		notes(i)
		at, known := h.clock.Of(b.Frames[i].At)
		if !known {
			at = -1
		}
		h.times = append(h.times, at)
	}
	notes(len(b.Frames))
}
