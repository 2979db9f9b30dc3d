package serialport

import (
	"bytes"

	"plumbline/bus"
)

// Stats counts what a Framer has met since it was made. Every byte is in one of
// the sums: Bytes = Valid + Idle + Garbage + Joined + those of a packet under way.
type Stats struct {
	Bytes   uint64 // received
	Valid   uint64 // bytes of frames
	Idle    uint64 // bytes of lines that were left alone, and delimiters between packets
	Garbage uint64 // bytes thrown away
	Joined  uint64 // bytes of packets of which the rest was not heard, where the line was joined or left in the middle of one: no fault

	Frames       uint64
	BadChecksums uint64 // packets thrown away because of their checksum, where a packet was due
	Refused      uint64 // whole packets longer than a frame holds; their bytes are Garbage
	Missing      uint64 // packets that the counter says were lost
	Restarts     uint64 // times that the counter stood still or went back: the device began anew or repeated
	Ignored      uint64 // lines that were left alone: no numbers, another tag, an adapter's answer
	Retimed      uint64 // frames with a reconstructed sample time
}

// Framer cuts the bytes of one serial line into frames. It does no I/O and knows
// no clock: the same bytes with the same times give the same frames and notes,
// in whatever pieces they come.
type Framer struct {
	format  Format
	verify  verifier
	header  int // bytes that a payload must have for its fields
	longest int // bytes on the line of the longest packet that makes a frame
	stats   Stats

	// Bytes not yet decided about: buf[start:end]. Framings with a delimiter keep start at 0.
	buf        []byte
	start, end int
	need       int  // packets: bytes from start without which nothing can be decided
	locked     bool // a packet was due at start; where there is a delimiter: one has been met
	held       bool // the byte that Feed did not count has been taken already
	overflow   int  // bytes of a packet that is longer than buf, so far

	// The line as it is known; see link.go.
	at         int64 // of the last byte
	link       bus.Link
	since      int64  // when the first byte after the last valid packet came
	sinceBytes uint64 // bytes after the last valid packet
	joining    bool   // no valid packet yet since the line was joined
	joined     int    // bytes dropped while joining
	waste      waste

	counters []count
	retimers []retimer
	columns  [maxLineColumns][2]uint16 // of the line at hand: begin and end
	scratch  [maxNumber]byte
}

// NewFramer returns a Framer for a format, or all that is wrong with it.
func NewFramer(format Format) (*Framer, error) {
	if err := format.Validate(); err != nil {
		return nil, err
	}
	f := &Framer{format: format, verify: newVerifier(format.Checksum), header: format.headerEnd(), joining: true, need: 1}
	size := f.verify.size
	switch format.Framing {
	case Packets:
		f.longest = len(format.Sync) + max(bus.MaxData, format.Length) + size
		f.buf = make([]byte, 4*(maxPacket+2*maxSync+size))
	case COBS:
		f.longest = bus.MaxData + size + 2
		f.buf = make([]byte, maxPacket+size+(maxPacket+size)/254+1)
	case SLIP:
		f.longest = 2*(bus.MaxData+size) + 1
		f.buf = make([]byte, 2*(maxPacket+size))
	case Lines:
		f.longest = maxLine
		f.buf = make([]byte, maxLine)
	case SLCAN:
		f.longest = slcanLine + 1
		f.buf = make([]byte, slcanLine)
	}
	for _, r := range format.Retime {
		f.retimers = append(f.retimers, retimer{id: r.ID, times: *newReconstruct(r.Period, f.modulus())})
	}
	return f, nil
}

// modulus is where the counter wraps that tells the sample times; 0: none does.
// A counter that several messages share says nothing about the period of one.
func (f *Framer) modulus() uint64 {
	c := f.format.Counter
	if c == nil || !c.PerMessage && f.format.ID != nil {
		return 0
	}
	return c.modulus()
}

// Stats returns what has been counted so far.
func (f *Framer) Stats() Stats { return f.stats }

// Feed takes bytes that arrived at a time (ns) and appends the frames that they
// complete, and notes of the kinds Garbage, Loss and LinkChanged, with that source.
// It keeps to the capacity of b.Frames (making room for a batch where there is
// none) and returns how many bytes were taken: fewer than given only when
// b.Frames is full. The rest is to be given again, with the same time. It
// allocates for notes alone.
func (f *Framer) Feed(at int64, source uint16, data []byte, b *bus.Batch) int {
	if cap(b.Frames) == 0 {
		b.Frames = make([]bus.Frame, 0, bus.BatchSize)
	}
	if len(data) > 0 && at != f.at {
		f.at = at
		f.tick(source, b)
	}
	for i, c := range data {
		if len(b.Frames) == cap(b.Frames) {
			return i
		}
		if !f.held {
			f.stats.Bytes++
			if f.sinceBytes == 0 {
				f.since = at
			}
			f.sinceBytes++
		}
		if f.format.Framing != Packets {
			f.delimited(c, source, b)
			continue
		}
		if !f.held {
			f.push(c)
		}
		f.held = f.end-f.start >= f.need && !f.scan(source, b)
		if f.held {
			return i
		}
	}
	return len(data)
}

// delimited takes a byte of a framing with a delimiter.
func (f *Framer) delimited(c byte, source uint16, b *bus.Batch) {
	if !f.delimiter(c) {
		switch {
		case f.end < len(f.buf):
			f.buf[f.end] = c
			f.end++
		default:
			f.overflow++
		}
		return
	}
	packet, wire := f.buf[:f.end], f.end+f.overflow+1
	first := !f.locked
	tooLong := f.overflow > 0
	f.end, f.overflow, f.locked = 0, 0, true
	switch {
	case wire == 1:
		f.stats.Idle++
		return
	case tooLong || first && f.verify.size == 0:
		// What is cut off in front and has no checksum can look whole.
		f.drop(wire, source, b)
		return
	}
	switch f.format.Framing {
	case Lines:
		f.line(packet, wire, first, source, b)
	case SLCAN:
		f.slcan(packet, wire, source, b)
	default:
		f.stuffed(packet, wire, first, source, b)
	}
}

// delimiter reports whether c ends a packet.
func (f *Framer) delimiter(c byte) bool {
	switch f.format.Framing {
	case COBS:
		return c == 0
	case SLIP:
		return c == slipEnd
	case SLCAN:
		return c == '\r' || c == '\n' || c == bell
	default:
		return c == '\r' || c == '\n'
	}
}

// stuffed takes a packet of COBS or SLIP. first says that it is what was left
// of a packet when the line was joined, or a whole one: that cannot be told.
func (f *Framer) stuffed(packet []byte, wire int, first bool, source uint16, b *bus.Batch) {
	decode := decodeCOBS
	if f.format.Framing == SLIP {
		decode = decodeSLIP
	}
	content, ok := decode(packet)
	size := f.verify.size
	if !ok || len(content) <= size {
		f.drop(wire, source, b)
		return
	}
	payload := content[:len(content)-size]
	switch {
	case size > 0 && !f.verify.holds(payload, content[len(payload):]):
		f.badChecksum(first)
		f.drop(wire, source, b)
	case !f.fits(payload):
		f.drop(wire, source, b)
	default:
		f.accept(payload, wire, source, b)
	}
}

// push appends a byte of framing packets.
func (f *Framer) push(c byte) {
	if f.end == len(f.buf) {
		f.end = copy(f.buf, f.buf[f.start:f.end])
		f.start = 0
	}
	f.buf[f.end] = c
	f.end++
}

// scan takes the packets that are whole in the buffer. It returns false where
// one is left because the batch is full. Where a candidate turns out to be none,
// the search goes on one byte after its beginning: nothing that
// a false start seemed to hold is lost.
func (f *Framer) scan(source uint16, b *bus.Batch) bool {
	sync, size := f.format.Sync, f.verify.size
	for {
		have := f.buf[f.start:f.end]
		if len(have) == 0 {
			f.start, f.end, f.need = 0, 0, 1
			return true
		}
		if n := min(len(sync), len(have)); !bytes.Equal(have[:n], sync[:n]) {
			f.skip(source, b)
			continue
		}
		length := f.format.Length
		f.need = len(sync)
		if l := f.format.LengthField; l != nil {
			f.need += l.end()
			if len(have) < f.need {
				return true
			}
			// A field of four bytes can be beyond an int of 32 bits.
			stated := int64(l.read(have[len(sync):])) + int64(l.Adds)
			if stated < int64(max(1, f.header)) || stated > maxPacket {
				f.skip(source, b)
				continue
			}
			length = int(stated)
		}
		total := len(sync) + length + size
		f.need = total
		confirm := size == 0 && !f.locked
		if confirm {
			f.need += len(sync)
		}
		if len(have) < f.need {
			return true
		}
		payload := have[len(sync) : len(sync)+length]
		covered := payload
		if size > 0 && f.format.Checksum.CoverSync {
			covered = have[:total-size]
		}
		switch {
		case size > 0 && !f.verify.holds(covered, have[total-size:total]):
			f.badChecksum(!f.locked)
			f.skip(source, b)
			continue
		case confirm && !bytes.Equal(have[total:f.need], sync), !f.fits(payload):
			f.skip(source, b)
			continue
		case len(b.Frames) == cap(b.Frames):
			return false
		}
		f.locked = true
		f.start += total
		f.accept(payload, total, source, b)
	}
}

// skip throws the first byte of the buffer away.
func (f *Framer) skip(source uint16, b *bus.Batch) {
	f.locked = false
	f.start++
	f.drop(1, source, b)
}

// badChecksum counts a packet with a wrong checksum, unless none was due there.
func (f *Framer) badChecksum(undue bool) {
	if !undue {
		f.stats.BadChecksums++
		f.waste.bad++
	}
}

// fits reports whether a payload can be what the device sends.
func (f *Framer) fits(payload []byte) bool {
	if len(payload) < max(1, f.header) || f.format.Length > 0 && len(payload) != f.format.Length {
		return false
	}
	id := f.format.FixedID
	if f.format.ID != nil {
		if id = f.format.ID.read(payload); id > maxID {
			return false
		}
	}
	if f.verify.size > 0 || len(f.format.Known) == 0 {
		return true
	}
	for _, k := range f.format.Known {
		if k.ID == id && (k.Length == 0 || k.Length == len(payload)) {
			return true
		}
	}
	return false
}

// accept makes the frame of a payload that fits.
func (f *Framer) accept(payload []byte, wire int, source uint16, b *bus.Batch) {
	if len(payload) > bus.MaxData {
		f.refuse(len(payload), wire, source, b)
		return
	}
	f.valid(wire, source, b)
	id := f.format.FixedID
	if f.format.ID != nil {
		id = f.format.ID.read(payload)
	}
	gap := f.counted(id, payload)
	if gap > 0 {
		f.missing(gap, source, b)
	}
	frame := f.add(id, source, b)
	frame.Len = uint8(copy(frame.Data[:], payload))
	f.retime(frame, payload, gap)
}

// add appends a frame, of which there is room.
func (f *Framer) add(id uint32, source uint16, b *bus.Batch) *bus.Frame {
	f.stats.Frames++
	n := len(b.Frames)
	b.Frames = b.Frames[:n+1]
	frame := &b.Frames[n]
	*frame = bus.Frame{At: f.at, ID: id, Source: source}
	if id > standardID {
		frame.Flags = bus.Extended
	}
	return frame
}
