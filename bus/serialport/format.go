package serialport

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"plumbline/bus"
)

// Framing says how packets are told apart on a serial line.
type Framing string

// The framings, in the words of the setup file.
const (
	Lines   Framing = "lines"   // text, a packet a line, ended by CR or LF
	Packets Framing = "packets" // sync bytes, then a length that is fixed or stated
	COBS    Framing = "cobs"    // Consistent Overhead Byte Stuffing (Cheshire and Baker, 1999), a zero between packets
	SLIP    Framing = "slip"    // RFC 1055
	SLCAN   Framing = "slcan"   // the text protocol of serial CAN adapters
)

// Framings returns all framings.
func Framings() []Framing { return []Framing{Lines, Packets, COBS, SLIP, SLCAN} }

const (
	maxPacket  = 1024 // bytes of a payload that is followed to its end; longer ones are taken for garbage
	maxLine    = 512  // characters of a line
	maxSync    = 8    // sync bytes
	maxColumns = bus.MaxData / 8
	maxID      = 0x1FFFFFFF
	standardID = 0x7FF // identifiers above have the flag Extended
)

// Format is what a device sends. Its zero value is none; Framing must be set.
type Format struct {
	Framing  Framing
	Checksum *Checksum // nil: packets carry none, and noise is more easily taken for a packet

	// Of packets only.
	Sync        []byte       // 1 to 8 bytes that begin each packet
	LengthField *LengthField // where the payload states its length

	// Of packets, cobs and slip.
	Length  int      // bytes of each payload; 0: as LengthField says (packets), any (cobs, slip)
	ID      *Field   // where the payload holds Frame.ID; nil: FixedID
	FixedID uint32   // Frame.ID of every packet
	Counter *Counter // where the payload counts packets; nil: losses cannot be seen
	Known   []Known  // what the device sends; empty: anything

	// Of lines only.
	Separator string        // between columns; "": blanks, tabs, commas and semicolons, several as one
	Lines     []LineMessage // what the lines are; empty: each is up to 8 numbers, with the identifier FixedID

	Retime []Retime // messages whose sample times are reconstructed
}

// Field is an unsigned number of 1 to 4 bytes in a payload.
type Field struct {
	Offset    int // from the first byte of the payload
	Size      int // bytes
	BigEndian bool
}

// LengthField states the length of the payload: the number read plus Adds.
type LengthField struct {
	Field
	Adds int // bytes; can be negative, where the device counts sync or checksum too
}

// Counter goes up by one with each packet and wraps at its size.
type Counter struct {
	Field
	PerMessage bool // each identifier has a counter of its own
}

// Known is a packet that the device sends. Without a checksum a packet that is
// none of these is garbage; with one it is a frame that nobody asked for.
type Known struct {
	ID     uint32
	Length int // bytes; 0: any
}

// LineMessage makes frames of the lines that begin with Tag.
type LineMessage struct {
	Tag     string   // the first column, without a leading "$" or "!"; "": lines without a tag
	ID      uint32   // of the frame
	Columns []Column // 1 to 8, in the order in which they go into the frame
}

// Column is one number of a line.
type Column struct {
	Number int    // from 1, the tag not counted; 0: Key names it
	Key    string // before a "=" or ":" in the column
}

// Retime reconstructs sample times of the frames with one identifier.
type Retime struct {
	ID     uint32
	Period int64 // ns between two samples
}

// Validate reports all that is wrong, in the words of the setup and layout
// files, joined by errors.Join.
func (f *Format) Validate() error {
	var faults []error
	add := func(format string, args ...any) { faults = append(faults, fmt.Errorf(format, args...)) }
	switch {
	case f.Framing == "":
		add("no framing: expected one of %s", framingWords())
	case !slices.Contains(Framings(), f.Framing):
		add("framing %q: expected one of %s", f.Framing, framingWords())
	}
	if f.Checksum != nil {
		if err := f.Checksum.validate(); err != nil {
			faults = append(faults, err)
		} else if f.Framing == SLCAN {
			add("checksum: slcan carries none of its own")
		}
		if f.Checksum.CoverSync && f.Framing != Packets {
			add("checksum: cover_sync belongs to packets: %s has no sync bytes", f.Framing)
		}
	}
	binary := f.Framing == Packets || f.Framing == COBS || f.Framing == SLIP
	if f.Framing == Packets {
		f.validatePackets(add)
	} else if len(f.Sync) > 0 || f.LengthField != nil {
		add("sync and length_field belong to packets: %s tells packets apart by itself", f.Framing)
	}
	if !binary && (f.Length != 0 || f.ID != nil || f.Counter != nil || len(f.Known) > 0) {
		add("length, id, counter and known packets belong to packets, cobs and slip, not to %s", f.Framing)
	}
	if binary {
		f.validateFields(add)
	}
	f.validateLines(add)
	f.validateRetime(add)
	if f.FixedID > maxID {
		add("id 0x%X: expected at most 0x%X", f.FixedID, maxID)
	}
	return errors.Join(faults...)
}

func framingWords() string {
	words := make([]string, len(Framings()))
	for i, w := range Framings() {
		words[i] = string(w)
	}
	return strings.Join(words, ", ")
}

func (f *Format) validatePackets(add func(string, ...any)) {
	if len(f.Sync) < 1 || len(f.Sync) > maxSync {
		add("sync: %d bytes: expected the 1 to %d bytes that begin each packet, as in sync: [0xA5, 0x5A]", len(f.Sync), maxSync)
	}
	switch l := f.LengthField; {
	case l == nil && f.Length == 0:
		add("neither length nor length_field: write the bytes of a payload, or where it states them")
	case l != nil && f.Length != 0:
		add("both length and length_field: decide for one")
	case l != nil:
		l.validate("length_field", add)
		if l.Adds < -maxPacket || l.Adds > maxPacket {
			add("length_field: adds %d: expected %d to %d", l.Adds, -maxPacket, maxPacket)
		}
	}
}

// validateFields checks what is read out of a payload.
func (f *Format) validateFields(add func(string, ...any)) {
	if f.Length < 0 || f.Length > maxPacket {
		add("length %d: expected the bytes of a payload, 1 to %d", f.Length, maxPacket)
	}
	if f.ID != nil {
		f.ID.validate("id", add)
		if f.FixedID != 0 {
			add("both a field with the id and a fixed id: decide for one")
		}
	}
	if f.Counter != nil {
		f.Counter.validate("counter", add)
	}
	if end := f.headerEnd(); f.Length > 0 && end > f.Length {
		add("length %d: the fields id and counter reach to byte %d", f.Length, end)
	}
	for _, k := range f.Known {
		if k.ID > maxID || k.Length < 0 || k.Length > maxPacket {
			add("known packet 0x%X of %d bytes: expected an identifier up to 0x%X and 0 to %d bytes", k.ID, k.Length, maxID, maxPacket)
		}
	}
}

// headerEnd is the first byte of a payload after all fields that the framing itself reads.
func (f *Format) headerEnd() int {
	end := 0
	if f.LengthField != nil {
		end = max(end, f.LengthField.end())
	}
	if f.ID != nil {
		end = max(end, f.ID.end())
	}
	if f.Counter != nil {
		end = max(end, f.Counter.end())
	}
	return end
}

func (f *Field) end() int { return f.Offset + f.Size }

func (f *Field) validate(name string, add func(string, ...any)) {
	if f.Size < 1 || f.Size > 4 {
		add("%s: size of %d bytes: expected 1 to 4", name, f.Size)
	}
	if f.Offset < 0 || f.Offset > bus.MaxData-1 || f.end() > bus.MaxData {
		add("%s: at byte %d: expected it within the first %d bytes of a payload", name, f.Offset, bus.MaxData)
	}
}

// read takes the field out of a payload that is long enough.
func (f *Field) read(payload []byte) uint32 {
	return uint32(number(payload[f.Offset:f.end()], f.BigEndian))
}

func (f *Format) validateLines(add func(string, ...any)) {
	if f.Framing != Lines {
		if f.Separator != "" || len(f.Lines) > 0 {
			add("separator and columns belong to lines, not to %s", f.Framing)
		}
		return
	}
	if strings.ContainsAny(f.Separator, "0123456789+-.eE\r\n*=:") || len(f.Separator) > 8 {
		add("separator %q: expected what stands between two columns, as in \";\"", f.Separator)
	}
	tags := map[string]bool{}
	for _, m := range f.Lines {
		if tags[m.Tag] {
			add("tag %q stands twice: remove one", m.Tag)
		}
		tags[m.Tag] = true
		if m.ID > maxID {
			add("id 0x%X: expected at most 0x%X", m.ID, maxID)
		}
		if len(m.Columns) < 1 || len(m.Columns) > maxColumns {
			add("tag %q: %d columns: expected 1 to %d, as many as a frame holds", m.Tag, len(m.Columns), maxColumns)
		}
		for _, c := range m.Columns {
			if (c.Number < 1 || c.Number > maxLine) == (c.Key == "") {
				add("tag %q: column %d, key %q: expected either a number from 1 or a key", m.Tag, c.Number, c.Key)
			}
		}
	}
}

func (f *Format) validateRetime(add func(string, ...any)) {
	seen := map[uint32]bool{}
	for _, r := range f.Retime {
		if r.Period < minPeriod || r.Period > maxPeriod {
			add("reconstructed times of 0x%X: period of %d ns: expected %d to %d", r.ID, r.Period, int64(minPeriod), int64(maxPeriod))
		}
		if seen[r.ID] {
			add("reconstructed times of 0x%X stand twice: remove one", r.ID)
		}
		seen[r.ID] = true
		if c := f.Counter; c != nil && c.Size == 1 && r.Period > 0 && r.Period < minTurn/256 {
			add("reconstructed times of 0x%X: the counter of one byte goes round every %d µs: expected 50 ms at least, else a late burst cannot be told from a gap", r.ID, 256*r.Period/1000)
		}
	}
}
