package serialport

import (
	"errors"
	"io"

	"plumbline/bus"
)

// Decoder puts frames into a source that has only the bytes of serial lines: a
// recording. It gives the same frames and notes as the live Reader gave. Where the recording tells of a [bus.Loss] that was
// not made of the bytes, some of these are missing: the packets that were cut off on both sides of it are left out.
// Frames of other sources, and all other notes, pass as they are.
type Decoder struct {
	source bus.Source
	make   func(name string) *Framer
	known  []*Framer // by source; nil: none
	asked  int       // names that make has been asked about

	in          bus.Batch
	frame       int // next of in
	note, chunk int
	taken       int // bytes of the chunk
	err         error
}

// NewDecoder returns a Decoder. framer is asked once for each name of the source
// and returns what cuts its bytes, or nil where the name is no serial line
// that is wanted: its chunks pass without frames.
func NewDecoder(source bus.Source, framer func(name string) *Framer) *Decoder {
	return &Decoder{source: source, make: framer}
}

// Names returns the names of the source.
func (d *Decoder) Names() []string { return d.source.Names() }

// Close closes the source.
func (d *Decoder) Close() error { return d.source.Close() }

// Stats returns what has been counted of a source so far; ok is false where it is no serial line.
func (d *Decoder) Stats(source uint16) (s Stats, ok bool) {
	f := d.framer(source)
	if f == nil {
		return Stats{}, false
	}
	return f.Stats(), true
}

// Read fills the batch. Chunks are handed on with the frames cut from them.
// Where several things of the source stand before the same frame, notes come first.
func (d *Decoder) Read(b *bus.Batch) error {
	b.Reset()
	for {
		if d.err == nil && d.frame == len(d.in.Frames) && d.note == len(d.in.Notes) && d.chunk == len(d.in.Chunks) {
			if len(b.Frames)+len(b.Notes)+len(b.Chunks) > 0 {
				return nil // what the chunks alias is gone with the next Read of the source
			}
			d.fill()
		}
		if d.err != nil {
			return d.err
		}
		for d.step(b) {
		}
		if len(b.Frames) == cap(b.Frames) {
			return nil
		}
	}
}

// fill reads the next batch of the source.
func (d *Decoder) fill() {
	d.err = d.source.Read(&d.in)
	d.frame, d.note, d.chunk, d.taken = 0, 0, 0, 0
	if d.err != nil && !errors.Is(d.err, io.EOF) {
		return
	}
	if names := d.source.Names(); d.asked < len(names) {
		for _, name := range names[d.asked:] {
			d.known = append(d.known, d.make(name))
		}
		d.asked = len(names)
	}
}

func (d *Decoder) framer(source uint16) *Framer {
	if int(source) >= len(d.known) {
		return nil
	}
	return d.known[source]
}

// step takes the next thing of the batch at hand. It returns false at its end, or when b is full.
func (d *Decoder) step(b *bus.Batch) bool {
	note, chunk := d.note < len(d.in.Notes), d.chunk < len(d.in.Chunks)
	if note && chunk {
		first := d.taken == 0 && d.in.Notes[d.note].Before <= d.in.Chunks[d.chunk].Before
		note, chunk = first, !first
	}
	switch {
	case note && d.in.Notes[d.note].Before <= d.frame || note && d.frame == len(d.in.Frames):
		d.pass(d.in.Notes[d.note], b)
		d.note++
	case chunk && d.in.Chunks[d.chunk].Before <= d.frame || chunk && d.frame == len(d.in.Frames):
		return d.cut(&d.in.Chunks[d.chunk], b)
	case d.frame < len(d.in.Frames):
		if len(b.Frames) == cap(b.Frames) {
			return false
		}
		b.Frames = append(b.Frames, d.in.Frames[d.frame])
		d.frame++
	default:
		return false
	}
	return true
}

// pass hands a note on, unless it is made again from the bytes.
func (d *Decoder) pass(n bus.Note, b *bus.Batch) {
	f := d.framer(n.Source)
	switch {
	case f != nil && Derived(&n):
		return
	case f != nil && n.Kind == bus.LinkChanged:
		f.LinkChanged(n, b)
		return
	case f != nil && n.Kind == bus.Loss:
		f.Missing()
	}
	n.Before = len(b.Frames)
	b.Notes = append(b.Notes, n)
}

// cut makes frames of a chunk. It returns false where the batch is full before its end.
func (d *Decoder) cut(c *bus.Chunk, b *bus.Batch) bool {
	out := bus.Chunk{Before: len(b.Frames), At: c.At, Source: c.Source, Data: c.Data[d.taken:]}
	if f := d.framer(c.Source); f != nil {
		n := f.Feed(c.At, c.Source, out.Data, b)
		out.Data = out.Data[:n:n]
	}
	d.taken += len(out.Data)
	if len(out.Data) > 0 {
		b.Chunks = append(b.Chunks, out)
	}
	if d.taken < len(c.Data) {
		return false
	}
	d.chunk++
	d.taken = 0
	return true
}
