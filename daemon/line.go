package daemon

import (
	"slices"

	"plumbline/bus/dbc"
)

// decoder works out what the frames of a capture bring, while they are read and ahead of who judges
// them. It belongs to the goroutine that reads.
type decoder struct {
	bench  *Bench
	match  match
	values []dbc.Value
}

// line is what one frame brings. It is small, as it goes from one processor to another.
type line struct {
	at      int64 // ns
	message int32 // of the checks' setup; -1: none that is wanted
	samples uint16
	length  uint8 // bytes of data
	kind    lineKind
}

type lineKind uint8

const (
	plain   lineKind = iota
	short            // too short for a signal that is wanted
	foreign          // of an interface that no source of the setup wants
)

func newDecoder(b *Bench, file string, strict bool) *decoder {
	return &decoder{bench: b, match: newMatch(file, b.setup.Sources, strict)}
}

// decode fills the lines and samples of a delivery. Frame.Source of what a source of the setup wants
// becomes that source's number.
func (d *decoder) decode(of *delivered) {
	of.lines, of.samples = slices.Grow(of.lines[:0], len(of.batch.Frames)), of.samples[:0]
	if of.received == nil {
		of.received = make([]uint32, len(d.bench.setup.Sources))
	}
	clear(of.received)
	if !d.match.meet(of.names) {
		return // who judges finds the same, and stops
	}
	frames := of.batch.Frames
	of.lines = of.lines[:len(frames)]
	for i := range frames {
		// The line is filled where it lies: one that is built beside and copied as a whole stalls the
		// processor, which cannot forward several small stores to one load (60 ns a frame).
		f, l := &frames[i], &of.lines[i]
		l.at, l.message, l.samples, l.length, l.kind = f.At, -1, 0, f.Len, plain
		source := -1
		if int(f.Source) < len(d.match.to) {
			source = d.match.to[f.Source]
		}
		if source < 0 {
			l.kind = foreign
			continue
		}
		f.Source = uint16(source)
		of.received[source]++
		message := d.bench.plan.Lookup(f)
		if message < 0 {
			continue
		}
		values, cut := d.bench.plan.Decode(message, f, d.values[:0])
		d.values, l.message, l.samples = values, int32(d.bench.messages[message]), uint16(len(values))
		if cut {
			l.kind = short
		}
		n := len(of.samples)
		of.samples = slices.Grow(of.samples, len(values))[:n+len(values)]
		to := of.samples[n:]
		for k := range to {
			v, s := &values[k], &to[k]
			s.Channel, s.State, s.Value = v.Channel, stateOf(v.State), v.Value
		}
	}
}
