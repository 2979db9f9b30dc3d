package record

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"testing"

	"plumbline/bus"
)

const epoch = 1_700_000_000_000_000_000 // ns

var names = []string{"wheels", "body", "optics"}

// numbered is a frame that carries its number.
func numbered(n int) bus.Frame {
	f := bus.Frame{At: epoch + int64(n)*125_000, ID: uint32(n) & 0x7FF, Source: uint16(n & 1), Len: 8}
	binary.BigEndian.PutUint64(f.Data[:], uint64(n))
	return f
}

// batch returns count numbered frames from number first on.
func batch(first, count int) *bus.Batch {
	b := &bus.Batch{}
	for n := range count {
		b.Frames = append(b.Frames, numbered(first+n))
	}
	return b
}

// playback is what was read of one or more sessions, and its story: all of it
// in one order.
type playback struct {
	frames []bus.Frame
	notes  []bus.Note // Before counts from the start
	chunks []bus.Chunk
	story  []string // where tells is set
	tells  bool
	names  []string
}

func (p *playback) lost(place bus.Place) (n uint64) {
	for _, note := range p.notes {
		if note.Kind == bus.Loss && note.Place == place {
			n += note.Count
		}
	}
	return n
}

func (p *playback) kinds(kind bus.NoteKind) (list []bus.Note) {
	for _, note := range p.notes {
		if note.Kind == kind {
			list = append(list, note)
		}
	}
	return list
}

func (p *playback) tell(what any) {
	if p.tells {
		p.story = append(p.story, fmt.Sprintf("%+v", what))
	}
}

// play reads all parts in a folder.
func play(tb testing.TB, dir string) *playback {
	tb.Helper()
	p := &playback{}
	p.play(tb, dir)
	return p
}

func (p *playback) play(tb testing.TB, dir string) {
	tb.Helper()
	sessions, err := Sessions(dir)
	if err != nil {
		tb.Fatal(err)
	}
	for _, s := range sessions {
		src, err := Open(s.Parts)
		if err != nil {
			tb.Fatal(err)
		}
		p.read(tb, src)
		if err := src.Close(); err != nil {
			tb.Error(err)
		}
	}
}

func (p *playback) read(tb testing.TB, src bus.Source) {
	tb.Helper()
	var b bus.Batch
	for {
		err := src.Read(&b)
		if errors.Is(err, io.EOF) {
			p.names = src.Names()
			return
		}
		if err != nil {
			tb.Fatal(err)
		}
		next := 0
		tell := func(before int) {
			for ; next < len(b.Notes) && b.Notes[next].Before <= before; next++ {
				n := b.Notes[next]
				n.Before += len(p.frames) - before
				p.notes = append(p.notes, n)
				n.Before = 0
				p.tell(n)
			}
		}
		for i, f := range b.Frames {
			tell(i)
			p.frames = append(p.frames, f)
			p.tell(f)
		}
		tell(len(b.Frames))
		for _, c := range b.Chunks {
			c.Data = append([]byte(nil), c.Data...)
			p.chunks = append(p.chunks, c)
			c.Before = 0
			p.tell(c)
		}
	}
}

// rising fails where numbered frames are not in order or appear twice.
func (p *playback) rising(tb testing.TB) {
	tb.Helper()
	last := -1
	for _, f := range p.frames {
		n := int(binary.BigEndian.Uint64(f.Data[:]))
		if n <= last {
			tb.Fatalf("frame %d comes after frame %d", n, last)
		}
		if f != numbered(n) {
			tb.Fatalf("frame %d is %+v, want %+v", n, f, numbered(n))
		}
		last = n
	}
}

// closes fails where the balances do not close with each other and with what
// was read back.
func closes(tb testing.TB, s *Stats, p *playback, heard int) {
	tb.Helper()
	var received, written, pending, lost uint64
	for _, b := range s.Sources {
		if b.Received != b.Written+b.Pending+b.Lost[bus.Recorder] {
			tb.Errorf("%s: received %d, written %d, pending %d, lost %d: the balance does not close", b.Source, b.Received, b.Written, b.Pending, b.Lost[bus.Recorder])
		}
		received, written, pending, lost = received+b.Received, written+b.Written, pending+b.Pending, lost+b.Lost[bus.Recorder]
	}
	if received != uint64(heard) || pending != 0 {
		tb.Errorf("received %d and pending %d, want %d and 0", received, pending, heard)
	}
	if written != s.Frames || lost != s.Lost {
		tb.Errorf("frames %d and lost %d, the balances say %d and %d", s.Frames, s.Lost, written, lost)
	}
	if got := uint64(len(p.frames)); got < written {
		tb.Errorf("%d frames read back, %d reported as written", got, written)
	}
}
