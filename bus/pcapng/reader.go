package pcapng

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"sync/atomic"

	"plumbline/bus"
)

const (
	maxNotes      = 64   // notes of a batch, so that damage cannot grow it without bound
	maxInterfaces = 1024 // of a section, and names in all
	maxLinks      = 8    // other link types listed in an error
)

// Reader is a [bus.Source] over a recording in pcapng or pcap.
type Reader struct {
	name   string
	closer io.Closer // nil where the input has none
	closed atomic.Bool

	blocks  blocks
	step    func(*bus.Batch) error // reads one block or record
	err     error                  // ends every further Read
	names   []string
	sources map[string]int
	ifaces  []iface // of the section
	section section // what else is known about it
	about   Section // where its header is one of our own
	own     bool
	bytes   []byte   // of the chunk in the batch
	holes   []hole   // of the serial ports that were met
	links   []uint16 // link types other than CAN that were met
	classic classic

	last     int64 // event time of the last frame, ns
	warnings bus.Warnings
}

// hole says whether bytes of a serial port are missing that came after its last chunk, and the recording cannot tell how many.
type hole struct {
	source int
	open   bool
}

// section is the state of a pcapng section beside its interfaces.
type section struct {
	skip    bool // its version is unknown
	damaged bool // something was lost: interfaces that follow cannot be numbered
}

// NewReader returns a reader of the recording r; name stands in front of every
// error and warning. Nothing is read before the first Read. The reader buffers,
// and hands over what has arrived rather than wait for a full batch. If r is an
// [io.Closer], Close closes it.
func NewReader(name string, r io.Reader) *Reader {
	closer, _ := r.(io.Closer)
	reader := &Reader{name: name, closer: closer, blocks: newBlocks(r), sources: make(map[string]int)}
	reader.step = reader.begin
	return reader
}

// Names implements [bus.Source]: the CAN interfaces and serial ports by if_name, "interface N"
// where there is none, N being its number in the section. Interfaces of equal
// name, in one section or in several, are one source.
func (r *Reader) Names() []string { return r.names }

// Close implements [bus.Source].
func (r *Reader) Close() error {
	if r.closed.Swap(true) || r.closer == nil {
		return nil
	}
	return r.closer.Close()
}

// Read implements [bus.Source]. A batch ends with its first chunk, so that the
// order of chunks, notes and frames can be told. Beside what reading the input gives, errors
// are: no pcapng or pcap, no interface of link type 227, identifiers in host
// byte order, damage in a pcap.
func (r *Reader) Read(b *bus.Batch) error {
	b.Reset()
	for r.err == nil && len(b.Frames) < cap(b.Frames) && len(b.Notes) < maxNotes && len(b.Chunks) == 0 {
		if len(b.Frames)+len(b.Notes) > 0 && !r.ready() {
			return nil
		}
		if r.closed.Load() {
			r.err = fmt.Errorf("%s: %w", r.name, os.ErrClosed)
			break
		}
		if err := r.step(b); err != nil {
			r.end(b, err)
		}
	}
	if len(b.Frames)+len(b.Notes)+len(b.Chunks) > 0 {
		return nil
	}
	return r.err
}

// ready reports whether a step can be done without waiting for the input.
func (r *Reader) ready() bool {
	if r.classic.on {
		return r.classic.buffered(r.blocks.in)
	}
	return r.blocks.buffered()
}

// end closes the books: err is why nothing more is read.
func (r *Reader) end(b *bus.Batch, err error) {
	if _, turned := errors.AsType[*hostOrderError](err); turned {
		b.Reset() // what was read with them is as wrong
	}
	if errors.Is(err, io.EOF) {
		r.leaveSection(b)
		if len(r.names) == 0 && len(r.links) > 0 {
			err = fmt.Errorf("%s: no CAN interface (link type %d): there is %s; record on the interface by name, with dumpcap -i can0 or candump -L can0",
				r.name, linkCAN, r.listLinks())
		}
	}
	for n := range r.holes { // a recording may go on in another file
		r.mend(b, &r.holes[n], r.last)
	}
	if text := r.warnings.Total(r.name); text != "" {
		b.Notes = append(b.Notes, bus.Note{Before: len(b.Frames), At: r.last, Kind: bus.Warning, Text: text})
	}
	r.err = err
}

func (r *Reader) listLinks() string {
	list := make([]string, 0, len(r.links))
	for _, link := range r.links {
		list = append(list, linkName(link))
	}
	return strings.Join(list, ", ")
}

// warn notes what was skipped in the current block, at event time at.
func (r *Reader) warn(b *bus.Batch, at int64, format string, args ...any) {
	if !r.warnings.Next() { // spares the formatting
		return
	}
	r.say(b, at, fmt.Sprintf("%s: %s %d at byte %d: ", r.name, r.unit(), r.blocks.number, r.blocks.at)+fmt.Sprintf(format, args...))
}

// note gives a warning that stands for itself.
func (r *Reader) note(b *bus.Batch, at int64, text string) {
	if r.warnings.Next() {
		r.say(b, at, text)
	}
}

// say gives a warning that was counted.
func (r *Reader) say(b *bus.Batch, at int64, text string) {
	b.Notes = append(b.Notes, bus.Note{Before: len(b.Frames), At: at, Kind: bus.Warning, Text: text})
}

func (r *Reader) unit() string {
	if r.classic.on {
		return "record"
	}
	return "block"
}

// lost notes that frames of an interface were lost before the next frame.
func (r *Reader) lost(b *bus.Batch, i *iface, at int64, count uint64) {
	if count == 0 || i.source == notCAN {
		return
	}
	i.drops += min(count, ^i.drops)
	b.Notes = append(b.Notes, bus.Note{
		Before: len(b.Frames), At: at, Kind: bus.Loss, Source: uint16(i.source), Count: count,
		Text: fmt.Sprintf("%d frames of %s were lost while recording", count, i.name),
	})
}

// torn takes note that something was skipped: what it was is not known, so it may have been bytes of any serial port.
func (r *Reader) torn() {
	for n := range r.holes {
		r.holes[n].open = true
	}
}

// mend says of a serial port, before what comes next of it, that bytes are missing, where they are. Without that, the two
// ends of a packet might be taken for one.
func (r *Reader) mend(b *bus.Batch, h *hole, at int64) {
	if !h.open {
		return
	}
	h.open = false
	b.Notes = append(b.Notes, bus.Note{
		Before: len(b.Frames), At: at, Kind: bus.Loss, Source: uint16(h.source), Place: bus.Recorder,
		Text: "bytes of " + r.names[h.source] + " are missing: the recording is damaged",
	})
}

// hole returns that of a serial port.
func (r *Reader) hole(source int) *hole {
	for n := range r.holes {
		if r.holes[n].source == source {
			return &r.holes[n]
		}
	}
	r.holes = append(r.holes, hole{source: source})
	return &r.holes[len(r.holes)-1]
}

// Match reports whether a recording that begins with head is one for this
// package. It takes the first 4 bytes; less is no match.
func Match(head []byte) bool {
	return len(head) >= 4 && (binary.BigEndian.Uint32(head) == blockSection || classicMagic(head))
}

// begin tells pcapng from pcap by the first bytes.
func (r *Reader) begin(b *bus.Batch) error {
	head, err := r.blocks.in.Peek(4)
	switch {
	case len(head) == 0 && errors.Is(err, io.EOF):
		return io.EOF
	case err != nil && !errors.Is(err, io.EOF):
		return fmt.Errorf("%s: %w", r.name, err)
	case len(head) == 4 && classicMagic(head):
		r.classic.on = true
		r.step = r.record
		return r.openClassic(b)
	case len(head) == 4 && !Match(head):
		return fmt.Errorf("%s: neither pcapng nor pcap: it begins with % X", r.name, head)
	}
	r.step = r.block
	return nil
}

// source returns the index of a name, or notCAN when there are too many.
func (r *Reader) source(name string) int {
	if n, ok := r.sources[name]; ok {
		return n
	}
	if len(r.names) >= maxInterfaces {
		return notCAN
	}
	n := len(r.names)
	r.names = append(r.names, name)
	r.sources[name] = n
	return n
}

// register gives an interface its source, or the reason why it has none.
func (r *Reader) register(i *iface) {
	switch {
	case i.link == linkCAN, i.link == linkSerial && i.about == aboutSerial:
		if i.link == linkSerial {
			i.kind = Serial
		}
		if i.source = r.source(i.name); i.source == notCAN {
			i.why = fmt.Sprintf("there are more than %d interfaces", maxInterfaces)
		}
		return
	case i.link == linkEvents && i.about == aboutEvents:
		i.kind, i.source = Events, notCAN
		return
	}
	i.source = notCAN
	i.why = fmt.Sprintf("it has %s, and only %d is read", linkName(i.link), linkCAN)
	if !slices.Contains(r.links, i.link) && len(r.links) < maxLinks {
		r.links = append(r.links, i.link)
	}
}

// frame appends what a packet of interface i says.
func (r *Reader) frame(b *bus.Batch, i *iface, at int64, packet []byte, size uint32, more bus.Flags) error {
	if i.order.add(packet) {
		id := binary.BigEndian.Uint32(packet)
		return &hostOrderError{fmt.Sprintf("%s: %s %d at byte %d: the identifiers of %s were written in the byte order of the machine, not big-endian "+
			`as link type %d asks (0x%08X makes sense only turned round): captures of the device "any" have that; nothing of it can be used; record on the interface by name, or with candump -L`,
			r.name, r.unit(), r.blocks.number, r.blocks.at, i.name, linkCAN, id)}
	}
	n := len(b.Frames)
	b.Frames = b.Frames[:n+1]
	f := &b.Frames[n]
	if what := unpack(f, packet, size); what != "" {
		b.Frames = b.Frames[:n]
		r.warn(b, at, "packet of %s skipped: %s", i.name, what)
		return nil
	}
	f.At = at
	f.Source = uint16(i.source)
	f.Flags |= more
	r.last = at
	return nil
}

// leaveSection says what only the whole section can tell.
func (r *Reader) leaveSection(b *bus.Batch) {
	for n := range r.ifaces {
		if i := &r.ifaces[n]; i.order.doubtful() {
			r.note(b, r.last, fmt.Sprintf("%s: the identifiers of %s may be in the byte order of the machine: %d frames have 29-bit identifiers that end in 0000 "+
				"and would be 11-bit ones turned round, and none speaks against it; check against candump -L", r.name, i.name, i.order.odd))
		}
	}
}

// hostOrderError refuses a recording whose identifiers are turned round.
type hostOrderError struct{ text string }

func (e *hostOrderError) Error() string { return e.text }

var _ bus.Source = (*Reader)(nil)
