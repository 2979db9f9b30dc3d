package daemon

import (
	"plumbline/bus/dbc"
	"plumbline/checks"
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
	message int32 // of the plan; -1: none that is wanted
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
	of.lines, of.samples = of.lines[:0], of.samples[:0]
	if of.received == nil {
		of.received = make([]uint32, len(d.bench.setup.Sources))
	}
	clear(of.received)
	if !d.match.meet(of.names) {
		return // who judges finds the same, and stops
	}
	frames := of.batch.Frames
	for i := range frames {
		f := &frames[i]
		l := line{at: f.At, message: -1, length: f.Len}
		to := -1
		if int(f.Source) < len(d.match.to) {
			to = d.match.to[f.Source]
		}
		if to < 0 {
			l.kind = foreign
		} else {
			f.Source = uint16(to)
			of.received[to]++
			l.message = int32(d.bench.plan.Lookup(f))
		}
		if l.message >= 0 {
			var cut bool
			if d.values, cut = d.bench.plan.Decode(int(l.message), f, d.values[:0]); cut {
				l.kind = short
			}
			l.samples = uint16(len(d.values))
			for k := range d.values {
				v := &d.values[k]
				of.samples = append(of.samples, checks.Sample{Channel: v.Channel, State: stateOf(v.State), Value: v.Value})
			}
		}
		of.lines = append(of.lines, l)
	}
}
