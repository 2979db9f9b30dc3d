package pcapng

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"plumbline/bus"
)

// The older format (draft-ietf-opsawg-pcap): a file header of 24 bytes, then
// records of a 16-byte header and the packet.
const (
	classicMicro  = 0xA1B2C3D4
	classicNano   = 0xA1B23C4D
	classicHeader = 24
	recordHeader  = 16
	maxRecord     = 1 << 18 // what tcpdump and Wireshark take at most
)

// classic is what the file header of a pcap says.
type classic struct {
	on    bool
	order binary.ByteOrder
	unit  int64 // ns per count of the fraction
}

// classicMagic reports whether the first 4 bytes are those of a pcap.
func classicMagic(p []byte) bool {
	for _, n := range []uint32{binary.LittleEndian.Uint32(p), binary.BigEndian.Uint32(p)} {
		if n == classicMicro || n == classicNano {
			return true
		}
	}
	return false
}

// openClassic reads the file header.
func (r *Reader) openClassic(b *bus.Batch) error {
	head, err := r.blocks.in.Peek(classicHeader)
	if err != nil {
		if errors.Is(err, io.EOF) {
			r.note(b, 0, r.name+": the recording ends inside its file header: it holds no frame")
			return io.EOF
		}
		return fmt.Errorf("%s: %w", r.name, err)
	}
	c := &r.classic
	c.order = binary.ByteOrder(binary.LittleEndian)
	magic := c.order.Uint32(head)
	if magic != classicMicro && magic != classicNano {
		c.order = binary.BigEndian
		magic = c.order.Uint32(head)
	}
	c.unit = 1000
	if magic == classicNano {
		c.unit = 1
	}
	if major, minor := c.order.Uint16(head[4:]), c.order.Uint16(head[6:]); major != 2 || minor < 4 {
		return fmt.Errorf("%s: pcap version %d.%d is not read, only 2.4", r.name, major, minor)
	}
	// The upper half of the field holds flags, such as the length of a check sum.
	i := iface{name: "interface 0", link: uint16(c.order.Uint32(head[20:]))}
	r.register(&i)
	r.ifaces = append(r.ifaces, i)
	if i.source == notCAN {
		return io.EOF // end says which link type there is
	}
	return r.blocks.advance(classicHeader)
}

// buffered reports whether the next record can be had without reading on.
func (c *classic) buffered(in *bufio.Reader) bool {
	if in.Buffered() < recordHeader {
		return false
	}
	p, err := in.Peek(recordHeader)
	if err != nil {
		return false
	}
	n := c.order.Uint32(p[8:])
	return n > maxRecord || int(n) <= in.Buffered()-recordHeader
}

// record reads one record of a pcap. Nothing in this format tells where the
// next record begins, so damage is an error.
func (r *Reader) record(b *bus.Batch) error {
	r.blocks.number++
	head, err := r.blocks.in.Peek(recordHeader)
	if err != nil {
		return r.recordEnd(b, head, err)
	}
	c := &r.classic
	seconds, fraction := int64(c.order.Uint32(head)), int64(c.order.Uint32(head[4:]))
	captured, size := c.order.Uint32(head[8:]), c.order.Uint32(head[12:])
	if seconds == 0 && fraction == 0 && captured == 0 && size == 0 {
		return r.nulTail(b)
	}
	if fraction*c.unit >= 1_000_000_000 || captured > maxRecord || captured > size {
		return fmt.Errorf("%s: record %d at byte %d is damaged: what came before it was read, and nothing in a pcap tells where the next one begins", r.name, r.blocks.number, r.blocks.at)
	}
	record, err := r.blocks.peek(recordHeader + int(captured))
	if err != nil {
		return r.recordEnd(b, record, err)
	}
	at := seconds*1_000_000_000 + fraction*c.unit
	if err := r.frame(b, &r.ifaces[0], at, record[recordHeader:], size, 0); err != nil {
		return err
	}
	return r.blocks.advance(len(record))
}

// recordEnd tells a clean end from a cut one.
func (r *Reader) recordEnd(b *bus.Batch, left []byte, err error) error {
	if !errors.Is(err, io.EOF) {
		return fmt.Errorf("%s: after record %d, at byte %d: %w", r.name, r.blocks.number-1, r.blocks.at, err)
	}
	if len(left) > 0 {
		r.note(b, r.last, fmt.Sprintf("%s: the recording ends inside record %d at byte %d: its last %d bytes are dropped, the rest counts", r.name, r.blocks.number, r.blocks.at, len(left)))
	}
	return io.EOF
}

// nulTail passes over the NUL bytes that a power loss can leave at the end.
func (r *Reader) nulTail(b *bus.Batch) error {
	number, start := r.blocks.number, r.blocks.at
	for {
		p, err := r.blocks.in.Peek(max(1, r.blocks.in.Buffered()))
		for _, c := range p {
			if c != 0 {
				return fmt.Errorf("%s: record %d at byte %d is damaged: NUL bytes, and nothing in a pcap tells where the next record begins", r.name, number, start)
			}
		}
		if err := r.blocks.advance(len(p)); err != nil {
			return err
		}
		if errors.Is(err, io.EOF) {
			r.note(b, r.last, fmt.Sprintf("%s: the recording ends in %d NUL bytes from byte %d on, as a power loss leaves them: dropped, the rest counts", r.name, r.blocks.at-start, start))
			return io.EOF
		}
		if err != nil {
			return fmt.Errorf("%s: after record %d, at byte %d: %w", r.name, number-1, r.blocks.at, err)
		}
	}
}
