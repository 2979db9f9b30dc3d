package daemon

import (
	"errors"
	"io"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"plumbline/bus"
)

// port is a live source: what is sent to it is heard.
type port struct {
	name   string
	frames chan bus.Frame
	once   sync.Once
	closed chan struct{}
}

func newPort(name string) *port {
	return &port{name: name, frames: make(chan bus.Frame, 10), closed: make(chan struct{})}
}

func (p *port) Names() []string { return []string{p.name} }
func (p *port) Close() error    { p.once.Do(func() { close(p.closed) }); return nil }

func (p *port) Read(b *bus.Batch) error {
	b.Reset()
	select {
	case f := <-p.frames:
		b.Frames = append(b.Frames, f)
		return nil
	case <-p.closed:
		return io.EOF
	}
}

func TestLive(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		one, two := newPort("can0"), newPort("optics")
		l := NewLive([]bus.Source{one, two})
		var b bus.Batch
		read := func() {
			t.Helper()
			if err := l.Read(&b); err != nil {
				t.Fatal(err)
			}
			b.Notes = slices.DeleteFunc(b.Notes, func(n bus.Note) bool { return n.Kind == bus.BothClocks })
		}
		two.frames <- bus.Frame{At: 7, ID: 1}
		read()
		if len(b.Frames) != 1 || b.Frames[0].Source != 1 || l.Names()[1] != "optics" {
			t.Errorf("got %+v of %q", b.Frames, l.Names())
		}
		l.Mark("turn FL")
		read()
		if len(b.Notes) != 1 || b.Notes[0].Kind != bus.Mark || b.Notes[0].Text != "turn FL" {
			t.Errorf("notes %+v, want the mark", b.Notes)
		}
		// Silence: event time goes on by ticks, some time behind so that no frame is overtaken.
		read()
		first := b.Notes[0].At
		read()
		if b.Notes[0].Kind != bus.Tick || b.Notes[0].At-first != Grid {
			t.Errorf("notes %+v after %d, want ticks %d apart", b.Notes, first, Grid)
		}
		if lag := time.Now().UnixNano() - b.Notes[0].At; lag != tickLag {
			t.Errorf("the tick is %d ns behind, want %d", lag, tickLag)
		}
		if err := l.Close(); err != nil {
			t.Fatal(err)
		}
		if err := l.Read(&b); !errors.Is(err, io.EOF) {
			t.Errorf("got %v after Close, want io.EOF", err)
		}
	})
}

// TestLiveClockSet: a clock that is set while nothing arrives is told, and time goes on from there.
func TestLiveClockSet(t *testing.T) {
	for _, step := range []time.Duration{-time.Hour, 3 * time.Hour} {
		synctest.Test(t, func(t *testing.T) {
			l := NewLive([]bus.Source{newPort("can0")})
			defer l.Close()
			var set time.Duration
			read := l.now
			l.now = func() (int64, int64) {
				wall, mono := read()
				return wall + int64(set), mono
			}
			var b bus.Batch
			kinds := func() bus.Note {
				t.Helper()
				if err := l.Read(&b); err != nil {
					t.Fatal(err)
				}
				b.Notes = slices.DeleteFunc(b.Notes, func(n bus.Note) bool { return n.Kind == bus.BothClocks })
				if len(b.Notes) != 1 {
					t.Fatalf("notes %+v", b.Notes)
				}
				return b.Notes[0]
			}
			if n := kinds(); n.Kind != bus.Tick {
				t.Fatalf("%+v, want a tick", n)
			}
			set = step
			if n := kinds(); n.Kind != bus.Clock || n.Step != int64(step) {
				t.Errorf("%+v, want a step of %v", n, step)
			}
			if n := kinds(); n.Kind != bus.Tick {
				t.Errorf("%+v, want ticks again", n)
			}
		})
	}
}

// TestLiveRingFull: where nobody takes batches, reading goes on, and what there was no room for is counted.
func TestLiveRingFull(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := newPort("can0")
		l := NewLive([]bus.Source{p})
		const sent = 3 * liveRing
		for i := range sent {
			p.frames <- bus.Frame{At: int64(i + 1)}
			synctest.Wait()
		}
		var b bus.Batch
		heard, lost := 0, uint64(0)
		read := func() {
			t.Helper()
			if err := l.Read(&b); err != nil {
				t.Fatal(err)
			}
			heard += len(b.Frames)
			for _, n := range b.Notes {
				if n.Kind == bus.Loss && n.Place == bus.Ring {
					lost += n.Count
				}
			}
		}
		for heard < liveRing {
			read()
		}
		// The frame that is being waited for has no room yet; the one after it has, and says what was lost.
		p.frames <- bus.Frame{At: sent + 1}
		synctest.Wait()
		p.frames <- bus.Frame{At: sent + 2}
		for range 3 {
			read()
		}
		if heard != liveRing+1 || lost != sent-liveRing+1 {
			t.Errorf("heard %d, lost %d of %d", heard, lost, sent+2)
		}
		if err := l.Close(); err != nil {
			t.Fatal(err)
		}
	})
}

// TestLiveRingFullThenSilence: what the ring had no room for is told, and so is what was noted meanwhile, though
// nothing is heard any more.
func TestLiveRingFullThenSilence(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		src := &scripted{batches: make(chan bus.Batch), closed: make(chan struct{})}
		l := NewLive([]bus.Source{newPort("can0"), src})
		const lost = 10
		for i := range liveRing + lost {
			src.batches <- bus.Batch{Frames: []bus.Frame{{At: int64(i + 1)}}}
			synctest.Wait()
		}
		var b bus.Batch
		heard, told, silent := 0, uint64(0), false
		read := func() {
			t.Helper()
			if err := l.Read(&b); err != nil {
				t.Fatal(err)
			}
			heard += len(b.Frames)
			for _, n := range b.Notes {
				switch {
				case n.Kind == bus.Loss && n.Place == bus.Ring && n.Source == 1:
					told += n.Count
				case n.Kind == bus.LinkChanged && n.Link == bus.Silent && n.Source == 1:
					silent = true
				default:
				}
			}
		}
		for heard < liveRing-1 { // one batch is that of can0, which waits
			read()
		}
		src.batches <- bus.Batch{Notes: []bus.Note{{Kind: bus.LinkChanged, Link: bus.Silent}}}
		synctest.Wait()
		for range 5 {
			read()
		}
		if told != lost+1 || !silent {
			t.Errorf("%d frames told as lost, silence told %t; want %d and true", told, silent, lost+1)
		}
		if err := l.Close(); err != nil {
			t.Fatal(err)
		}
	})
}

// TestLiveClockSetBack: where the source tells that the clock was set back, ticks go on from there, or a silence would
// not be found for as long as the clock was set back.
func TestLiveClockSetBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		src := &scripted{batches: make(chan bus.Batch), closed: make(chan struct{})}
		l := NewLive([]bus.Source{src})
		defer l.Close()
		var set time.Duration
		clock := l.now
		l.now = func() (int64, int64) {
			wall, mono := clock()
			return wall + int64(set), mono
		}
		var b bus.Batch
		ticks, steps := 0, 0
		read := func() {
			t.Helper()
			if err := l.Read(&b); err != nil {
				t.Fatal(err)
			}
			for _, n := range b.Notes {
				switch n.Kind {
				case bus.Tick:
					ticks++
				case bus.Clock:
					steps++
				default:
				}
			}
		}
		for ticks < 2 {
			read()
		}
		set = -time.Hour
		src.batches <- bus.Batch{Notes: []bus.Note{{Kind: bus.Clock, Step: int64(set)}}}
		for steps == 0 {
			read()
		}
		stop := time.AfterFunc(10*time.Second, func() { _ = l.Close() })
		defer stop.Stop()
		for ticks = 0; ticks < 2; {
			read()
		}
		if steps != 1 {
			t.Errorf("the step was told %d times, want once", steps)
		}
	})
}
