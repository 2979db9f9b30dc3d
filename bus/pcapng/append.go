package pcapng

import (
	"encoding/binary"
	"slices"
	"unicode/utf8"

	"plumbline/bus"
)

// MaxText is how many bytes of a note's text are kept in a recording.
const MaxText = 4096

// MaxChunk is how many bytes of a serial port go into one packet. Other
// programs take up to 256 KiB.
const MaxChunk = 64 << 10

// MaxNoteSize bounds what [AppendNote] appends, in bytes: the text stands in it
// twice, for people and for programs.
const MaxNoteSize = 2*(MaxText+3) + 2*maxName + 512

const (
	packetHead = 28 // of an enhanced packet block, up to the data
	classicCAN = 16 // bytes of a packet, as Linux pads them
)

// appendBlock appends an empty block of n bytes and returns its own bytes beside the whole.
func appendBlock(p []byte, kind uint32, n int) (all, own []byte) {
	start := len(p)
	all = slices.Grow(p, n)[:start+n]
	own = all[start:]
	binary.LittleEndian.PutUint32(own, kind)
	binary.LittleEndian.PutUint32(own[4:], uint32(n))
	binary.LittleEndian.PutUint32(own[n-4:], uint32(n))
	return all, own
}

// packetBlock appends an enhanced packet block but for its data, padding and options.
func packetBlock(p []byte, iface uint32, at int64, data, options int) (all, own []byte) {
	all, own = appendBlock(p, blockEnhanced, packetHead+(data+3)&^3+options+4)
	ticks := uint64(max(at, 0))
	binary.LittleEndian.PutUint32(own[8:], iface)
	binary.LittleEndian.PutUint32(own[12:], uint32(ticks>>32))
	binary.LittleEndian.PutUint32(own[16:], uint32(ticks))
	binary.LittleEndian.PutUint32(own[20:], uint32(data))
	binary.LittleEndian.PutUint32(own[24:], uint32(data))
	return all, own
}

// AppendFrame appends a frame as a packet of interface number iface, which is
// one of [CAN]. Times before 1970 become 1970. It allocates only where p has to grow.
func AppendFrame(p []byte, iface uint32, f *bus.Frame) []byte {
	size, options := classicCAN, 0
	if f.Flags.Has(bus.FD) || f.Len > 8 {
		size = sizeFD
	}
	if f.Flags.Has(bus.Transmitted) {
		options = 12
	}
	p, own := packetBlock(p, iface, f.At, size, options)
	id := f.ID & maskExtended
	switch {
	case f.Flags.Has(bus.Error):
		id |= flagError
	case f.Flags.Has(bus.Extended):
		id |= flagExtended
	}
	if f.Flags.Has(bus.Remote) {
		id |= flagRemote
	}
	packet := own[packetHead:]
	binary.BigEndian.PutUint32(packet, id)
	packet[4] = f.Len
	packet[5], packet[6], packet[7] = 0, 0, 0
	if size == sizeFD {
		packet[5] = flagFD
		if f.Flags.Has(bus.BitRateSwitch) {
			packet[5] |= flagBitRateSwitch
		}
		if f.Flags.Has(bus.ErrorState) {
			packet[5] |= flagErrorState
		}
	}
	copy(packet[headerSize:size], f.Data[:])
	if options > 0 {
		o := packet[size:]
		binary.LittleEndian.PutUint16(o, optionFlags)
		binary.LittleEndian.PutUint16(o[2:], 4)
		binary.LittleEndian.PutUint32(o[4:], 2) // outbound
		binary.LittleEndian.PutUint32(o[8:], optionEnd)
	}
	return p
}

// AppendChunk appends what a serial port delivered at once, at most [MaxChunk]
// bytes, as a packet of interface number iface, which is one of [Serial].
func AppendChunk(p []byte, iface uint32, at int64, data []byte) []byte {
	data = data[:min(len(data), MaxChunk)]
	p, own := packetBlock(p, iface, at, len(data), 0)
	n := copy(own[packetHead:], data)
	clear(own[packetHead+n : len(own)-4])
	return p
}

// AppendNote appends a note as a packet of interface number iface, which is
// that of the [Events]: for programs in its data, for people as its comment.
// source is the name of n.Source, where the kind of note has one. A text longer
// than [MaxText] is cut.
func AppendNote(p []byte, iface uint32, n *bus.Note, source string) []byte {
	data := appendStatement(nil, n, source)
	comment := appendOption(nil, optionComment, []byte(comment(n)))
	if len(comment) > 0 {
		comment = append(comment, 0, 0, 0, 0)
	}
	p, own := packetBlock(p, iface, n.At, len(data), len(comment))
	at := packetHead + copy(own[packetHead:], data)
	end := packetHead + (len(data)+3)&^3
	clear(own[at:end])
	copy(own[end:], comment)
	return p
}

// appendOption appends an option; nothing for an empty value.
func appendOption(p []byte, code uint16, value []byte) []byte {
	if len(value) == 0 {
		return p
	}
	p = binary.LittleEndian.AppendUint16(p, code)
	p = binary.LittleEndian.AppendUint16(p, uint16(len(value)))
	p = append(p, value...)
	for len(p)%4 != 0 { // options begin at a multiple of four
		p = append(p, 0)
	}
	return p
}

// Kind says what an interface of a recording of our own carries.
type Kind uint8

// The kinds of interface.
const (
	CAN    Kind = iota // frames, link type 227
	Serial             // bytes of a serial port as they came, link type 147
	Events             // notes, link type 148; each section has one
)

// AppendInterface appends the description of an interface. Interfaces are
// numbered from 0 in the order in which they are described. Times are in ns.
// The name is cut to 100 bytes and made one printable line.
func AppendInterface(p []byte, kind Kind, name string) []byte {
	link, about := uint16(linkCAN), ""
	switch kind {
	case CAN:
	case Serial:
		link, about = linkSerial, aboutSerial
	case Events:
		link, about, name = linkEvents, aboutEvents, eventsName
	}
	var o []byte
	o = appendOption(o, optionName, []byte(cleanName(name)))
	o = appendOption(o, optionDescription, []byte(about))
	o = appendOption(o, optionResolution, []byte{9}) // 10^-9 s
	o = append(o, 0, 0, 0, 0)
	p, own := appendBlock(p, blockInterface, blockFrame+8+len(o))
	binary.LittleEndian.PutUint16(own[8:], link)
	binary.LittleEndian.PutUint16(own[10:], 0)
	binary.LittleEndian.PutUint32(own[12:], 0) // no snap length
	copy(own[16:], o)
	return p
}

// Statistics are the sums of one interface in one section. They close:
// what came in is Delivered + LostBefore + LostBehind.
type Statistics struct {
	First, Last int64  // ns: event time of the first and last packet of the section
	Delivered   uint64 // frames in the section
	LostBefore  uint64 // frames lost up to the driver, or at a place not known
	LostBehind  uint64 // frames lost in socket queue, ring or recorder
}

// AppendStatistics appends an interface statistics block.
func AppendStatistics(p []byte, iface uint32, s *Statistics) []byte {
	stamp := func(at int64) []byte {
		ticks := uint64(max(at, 0))
		return binary.LittleEndian.AppendUint32(binary.LittleEndian.AppendUint32(nil, uint32(ticks>>32)), uint32(ticks))
	}
	count := func(n uint64) []byte { return binary.LittleEndian.AppendUint64(nil, n) }
	var o []byte
	o = appendOption(o, optionStartTime, stamp(s.First))
	o = appendOption(o, optionEndTime, stamp(s.Last))
	o = appendOption(o, optionReceived, count(s.Delivered+s.LostBefore+s.LostBehind))
	o = appendOption(o, optionInterfaceDrops, count(s.LostBefore))
	o = appendOption(o, optionSystemDrops, count(s.LostBehind))
	o = appendOption(o, optionDelivered, count(s.Delivered))
	o = append(o, 0, 0, 0, 0)
	p, own := appendBlock(p, blockStatistics, blockFrame+12+len(o))
	binary.LittleEndian.PutUint32(own[8:], iface)
	copy(own[12:], stamp(s.Last))
	copy(own[20:], o)
	return p
}

// cleanName makes the one line that a name is in a recording.
func cleanName(name string) string { return cutText(clean([]byte(name)), maxName) }

// cutText cuts text to n bytes, never inside a character.
func cutText(text string, n int) string {
	if len(text) <= n {
		return text
	}
	for n > 0 && !utf8.RuneStart(text[n]) {
		n--
	}
	return text[:n]
}
