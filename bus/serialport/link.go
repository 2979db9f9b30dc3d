package serialport

import (
	"fmt"

	"plumbline/bus"
)

const (
	noValidFor   = 2_000_000_000 // ns with bytes and without a valid packet, after which baud rate or framing must be wrong
	noValidBytes = 200           // and as many bytes beyond the longest packet
	noteEvery    = 1_000_000_000 // ns between two notes of bytes thrown away
	wasteBytes   = 4096          // or so many bytes
)

// waste is what was thrown away and has not been noted yet.
type waste struct {
	bytes   uint64
	bad     uint64 // packets with a wrong checksum
	refused uint64 // packets that are too long for a frame
	length  int    // of the last of these
	noted   int64  // when the last note was made
}

// Derived reports whether a note about a serial source is made of its bytes:
// a [Framer] makes it again from a recording, so who records leaves it out.
func Derived(n *bus.Note) bool {
	switch n.Kind {
	case bus.Garbage:
		return true
	case bus.Loss:
		return n.Place == bus.Somewhere
	case bus.LinkChanged:
		return n.Link == bus.ErrorActive || n.Link == bus.NoValidFrame
	default:
		return false
	}
}

// LinkChanged takes what is known of the port from elsewhere than its bytes
// (Absent, Down, Silent) and appends the note. When the port is gone, the packet
// under way is thrown away and counters begin anew. In replay it is given the
// notes of the recording that are not [Derived].
func (f *Framer) LinkChanged(n bus.Note, b *bus.Batch) {
	if n.Link == bus.Absent || n.Link == bus.Down {
		left := f.leave()
		f.stats.Garbage += left
		f.waste.bytes += left
		f.sinceBytes = 0
	}
	f.note(n.At, n.Source, b)
	f.link = n.Link
	n.Before = len(b.Frames)
	b.Notes = append(b.Notes, n)
}

// Missing takes note that bytes were lost between the last ones and the next, as a recording tells it: what was
// begun of a packet is left, so that it is not joined to the end of another one, and the line is joined anew.
// Counters begin anew too, for the loss has been told already. What nobody can hear is no fault of the line: those bytes
// are Joined.
func (f *Framer) Missing() { f.stats.Joined += f.leave() }

// leave forgets the packet under way and all that is known of those before it, and returns how many bytes of it there were.
func (f *Framer) leave() (bytes uint64) {
	if f.held {
		f.end-- // it was not counted as taken, and is given to nobody now
		f.stats.Bytes--
	}
	bytes = uint64(f.end - f.start + f.overflow)
	f.start, f.end, f.overflow, f.need = 0, 0, 0, 1
	f.locked, f.held = false, false
	f.joining, f.joined = true, 0
	f.counters = f.counters[:0]
	for i := range f.retimers {
		f.retimers[i].reset()
	}
	return bytes
}

// tick is called when time has gone on, before bytes are taken.
func (f *Framer) tick(source uint16, b *bus.Batch) {
	if f.waste.bytes > 0 && f.at-f.waste.noted >= noteEvery {
		f.note(f.at, source, b)
	}
	if f.link == bus.NoValidFrame || f.sinceBytes < noValidBytes+uint64(f.longest) || f.at-f.since < noValidFor {
		return
	}
	f.change(bus.NoValidFrame, source, b, fmt.Sprintf(
		"bytes arrive, but none of the last %d make a valid packet: wrong baud rate or wrong framing; compare baud, framing and checksum with the data sheet of the device, or let listen --guess try",
		f.sinceBytes))
}

// valid takes note that a packet is whole and right.
func (f *Framer) valid(wire int, source uint16, b *bus.Batch) {
	f.stats.Valid += uint64(wire)
	f.joining, f.sinceBytes = false, 0
	if f.waste.bytes > 0 && (f.waste.noted == 0 || f.at-f.waste.noted >= noteEvery) {
		f.note(f.at, source, b)
	}
	if f.link != bus.ErrorActive {
		f.change(bus.ErrorActive, source, b, "valid packets arrive")
	}
}

func (f *Framer) change(l bus.Link, source uint16, b *bus.Batch, text string) {
	f.link = l
	b.Notes = append(b.Notes, bus.Note{Before: len(b.Frames), At: f.at, Kind: bus.LinkChanged, Source: source, Link: l, Text: text})
}

// refuse counts a packet that is whole and right, but too long.
func (f *Framer) refuse(length, wire int, source uint16, b *bus.Batch) {
	f.joining, f.sinceBytes = false, 0
	f.stats.Refused++
	f.waste.refused++
	f.waste.length = length
	f.drop(wire, source, b)
}

// drop throws bytes away. A line is nearly always joined in the middle of a
// packet: what is less than one packet then is nobody's fault.
func (f *Framer) drop(wire int, source uint16, b *bus.Batch) {
	if f.joining {
		n := min(wire, f.longest-f.joined)
		f.stats.Joined += uint64(n)
		f.joined += n
		wire -= n
		if f.joined < f.longest {
			return
		}
		f.joining = false
	}
	f.stats.Garbage += uint64(wire)
	f.waste.bytes += uint64(wire)
	if f.waste.bytes >= wasteBytes {
		f.note(f.at, source, b)
	}
}

// note says what has been thrown away, if anything.
func (f *Framer) note(at int64, source uint16, b *bus.Batch) {
	w := &f.waste
	if w.bytes == 0 {
		return
	}
	text := fmt.Sprintf("%d bytes thrown away", w.bytes)
	if w.bad > 0 {
		text += fmt.Sprintf(", among them %d packets with a wrong checksum", w.bad)
	}
	if w.refused > 0 {
		text += fmt.Sprintf(", among them %d whole packets (the last with a payload of %d bytes) that are longer than the %d bytes of a frame", w.refused, w.length, bus.MaxData)
	}
	b.Notes = append(b.Notes, bus.Note{Before: len(b.Frames), At: at, Kind: bus.Garbage, Source: source, Count: w.bytes, Text: text})
	*w = waste{noted: at}
}

// missing notes packets that the counter says were lost.
func (f *Framer) missing(n uint64, source uint16, b *bus.Batch) {
	f.stats.Missing += n
	b.Notes = append(b.Notes, bus.Note{
		Before: len(b.Frames), At: f.at, Kind: bus.Loss, Source: source, Count: n, Place: bus.Somewhere,
		Text: fmt.Sprintf("the packet counter of the device says that %d packets are missing", n),
	})
}
