package serialport

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"plumbline/bus"
	"plumbline/bus/dbc"
)

// ParseLayout reads a layout file: what packets look like and which fields they
// hold, where no DBC file says it. base is what the setup says: Framing and
// perhaps Checksum; it is returned with all that the layout adds. The messages
// are those of a DBC file and are bound and decoded like them; periods are
// Message.CycleTime. A layout without messages goes with a DBC file.
//
//	packet:                                     # packets, cobs, slip
//	  sync: [0xA5, 0x5A]                        # packets: the bytes that begin each packet
//	  length: 24                                # bytes after sync and before the checksum
//	  length_field: {at: 0, size: 1, adds: 1}   # packets: or where that is stated; adds: what the number leaves out
//	  id: {at: 1, size: 1}                      # which message it is; one message without id needs none
//	  counter: {at: 2, size: 1, per_message: true}
//	  checksum: {kind: sum8}                    # crc (then width, poly, … as in the setup), sum8, sum16, lrc8, xor8; order: little | big; cover_sync
//	line: {separator: ";"}                      # lines
//	messages:
//	  - name: Camber
//	    id: 0x10                                # of lines: tag: CAM, the first column
//	    length: 24                              # bytes; default: up to the end of the last field, of cobs and slip any
//	    period_ms: 1
//	    reconstruct: true                       # sample times by period and counter, where the adapter delivers in bursts
//	    fields:
//	      - {name: Outer, type: f32le, unit: m}              # after the field before it; at: N puts it elsewhere
//	      - {name: State, type: bits, at: 9, bit: 0, width: 2, values: {0: ok, 1: no target}}
//	      - {name: Temp, type: i16be, scale: 0.1, offset: -40, unit: degC}
//	      # of lines: {name: Outer, column: 2} or {name: Outer, key: d}
//
// at counts bytes from the first after the sync bytes. Types are u8 i8, and u, i of 16, 24, 32
// and 64 bits, f32 and f64, each with le or be; bits lie in bytes as DBC counts them, bit 0 the lowest.
// All faults are returned at once, one a line, as "file:line:column: text".
func ParseLayout(name string, text []byte, base Format) (Format, *dbc.File, error) {
	root, faults := readLayout(name, text)
	p := layoutParser{faults: faults, format: base, file: &dbc.File{Name: name}}
	if root != nil {
		p.layout(root)
	}
	if err := faults.err(); err != nil {
		return Format{}, nil, err
	}
	return p.format, p.file, nil
}

type layoutParser struct {
	faults *layoutFaults
	format Format
	file   *dbc.File
	ids    map[uint32]string // messages by identifier
}

func (p *layoutParser) layout(root *layoutNode) {
	root.only("packet", "line", "messages")
	framing := p.format.Framing
	if framing == SLCAN {
		p.faults.add(root, "slcan carries CAN frames: describe them in a DBC file and remove the layout")
		return
	}
	if n := root.get("packet"); n != nil {
		if framing == Lines {
			p.faults.add(n, "packet belongs to packets, cobs and slip: lines have line")
		} else {
			p.packet(n)
		}
	}
	if n := root.get("line"); n != nil {
		n.only("separator")
		if framing != Lines {
			p.faults.add(n, "line belongs to lines: %s has packet", framing)
		}
		p.format.Separator = n.text("separator")
	}
	messages := root.get("messages")
	if messages == nil && root.get("packet") == nil {
		p.faults.add(root, "the layout is empty: write packet, and messages with their fields")
	}
	p.ids = map[uint32]string{}
	for _, n := range messages.items() {
		p.message(n)
	}
	if len(p.file.Messages) > 1 && framing != Lines && p.format.ID == nil {
		p.faults.add(messages, "%d messages, but nothing tells them apart: write packet: with id: {at: …, size: …}", len(p.file.Messages))
	}
	// What the lines above let through, the format itself checks as a whole.
	if p.faults.err() == nil {
		if err := p.format.Validate(); err != nil {
			for line := range strings.SplitSeq(err.Error(), "\n") {
				p.faults.add(root, "%s", line)
			}
		}
	}
}

func (p *layoutParser) packet(n *layoutNode) {
	n.only("sync", "length", "length_field", "id", "counter", "checksum")
	if sync := n.get("sync"); sync != nil {
		p.format.Sync = nil
		for _, b := range sync.items() {
			p.format.Sync = append(p.format.Sync, byte(b.number(0, 255)))
		}
		if p.format.Framing != Packets {
			p.faults.add(sync, "sync belongs to packets: %s tells packets apart by itself", p.format.Framing)
		}
	}
	if l := n.get("length"); l != nil {
		p.format.Length = int(l.number(1, maxPacket))
	}
	if l := n.get("length_field"); l != nil {
		l.only("at", "size", "big_endian", "adds")
		p.format.LengthField = &LengthField{Field: l.field()}
		if a := l.get("adds"); a != nil {
			p.format.LengthField.Adds = int(a.number(-maxPacket, maxPacket))
		}
	}
	if i := n.get("id"); i != nil {
		i.only("at", "size", "big_endian")
		f := i.field()
		p.format.ID = &f
	}
	if c := n.get("counter"); c != nil {
		c.only("at", "size", "big_endian", "per_message")
		p.format.Counter = &Counter{Field: c.field(), PerMessage: c.yes("per_message")}
	}
	if c := n.get("checksum"); c != nil {
		p.checksum(c)
	}
}

func (p *layoutParser) checksum(n *layoutNode) {
	n.only("kind", "width", "poly", "init", "reflect_in", "reflect_out", "xor_out", "order", "cover_sync")
	kind := n.text("kind")
	c := &Checksum{Kind: Kind(kind), Order: Order(n.text("order")), CoverSync: n.yes("cover_sync")}
	if kind == "crc" || kind == "" {
		c.Kind = KindCRC
	}
	base := p.format.Checksum
	switch {
	case n.get("width") != nil || n.get("poly") != nil:
		c.CRC = CRC{
			Width: int(n.unsigned("width", 64)), Poly: n.unsigned("poly", math.MaxUint64),
			Init: n.unsigned("init", math.MaxUint64), XorOut: n.unsigned("xor_out", math.MaxUint64),
			ReflectIn: n.yes("reflect_in"), ReflectOut: n.yes("reflect_out"),
		}
	case c.Kind == KindCRC && base != nil:
		c.CRC = base.CRC // the setup has the parameters, the layout adds how they go over the line
	}
	if err := c.validate(); err != nil {
		for line := range strings.SplitSeq(err.Error(), "\n") {
			p.faults.add(n, "%s", line)
		}
	}
	p.format.Checksum = c
}

// word is a name that a setup can refer to.
var word = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_-]*$`)

func (p *layoutParser) name(n *layoutNode, what string) string {
	name := n.text("name")
	if !word.MatchString(name) {
		at := n
		if given := n.get("name"); given != nil {
			at = given
		}
		p.faults.add(at, "the name of a %s is %q: expected a letter, then letters, digits, - and _", what, name)
	}
	return name
}

func (p *layoutParser) message(n *layoutNode) {
	if !n.only("name", "id", "tag", "length", "period_ms", "reconstruct", "fields") {
		return
	}
	m := dbc.Message{Name: p.name(n, "message"), Line: n.line}
	if i := n.get("id"); i != nil {
		m.ID = uint32(i.number(0, maxID))
	} else if p.format.Framing == Lines {
		m.ID = uint32(len(p.file.Messages))
	}
	m.Extended = m.ID > standardID
	if other, ok := p.ids[m.ID]; ok {
		p.faults.add(n, "messages %s and %s have the same id 0x%X: give each its own", other, m.Name, m.ID)
	}
	p.ids[m.ID] = m.Name
	if p.file.Find(m.Name) != nil {
		p.faults.add(n, "message %s stands twice: remove one", m.Name)
	}
	if ms := n.get("period_ms"); ms != nil {
		m.CycleTime = time.Duration(math.Round(ms.float(minPeriod/1e6, maxPeriod/1e6) * 1e6))
	}
	if n.yes("reconstruct") {
		if m.CycleTime == 0 {
			p.faults.add(n, "message %s: reconstruct needs a period: write period_ms", m.Name)
		}
		p.format.Retime = append(p.format.Retime, Retime{ID: m.ID, Period: int64(m.CycleTime)})
	}
	fields := n.get("fields")
	if len(fields.items()) == 0 {
		p.faults.add(n, "message %s has no fields: write at least one, as in fields: [{name: Outer, type: f32le}]", m.Name)
	}
	if p.format.Framing == Lines {
		p.lineFields(n, fields, &m)
	} else {
		p.packetFields(n, fields, &m)
	}
	p.file.Messages = append(p.file.Messages, m)
}

// packetFields reads the fields of a packet and its length.
func (p *layoutParser) packetFields(n, fields *layoutNode, m *dbc.Message) {
	next, end := p.format.headerEnd(), 0
	for _, f := range fields.items() {
		f.only("name", "type", "at", "bit", "width", "scale", "offset", "unit", "values")
		if a := f.get("at"); a != nil {
			next = int(a.number(0, bus.MaxData-1))
		}
		s := dbc.Signal{Name: p.name(f, "field"), Line: f.line}
		bytes := p.fieldType(f, &s, next)
		next += bytes
		end = max(end, next)
		if next > bus.MaxData {
			p.faults.add(f, "field %s reaches to byte %d: expected it within the %d bytes of a frame", s.Name, next, bus.MaxData)
		}
		p.field(f, &s, m)
	}
	known := Known{ID: m.ID}
	m.Length = end
	if l := n.get("length"); l != nil {
		m.Length = int(l.number(1, bus.MaxData))
		known.Length = m.Length
		if m.Length < end {
			p.faults.add(l, "length is %d, but the fields of message %s reach to byte %d", m.Length, m.Name, end)
		}
	}
	if l := p.format.Length; l > 0 {
		if l > bus.MaxData || end > l {
			p.faults.add(n, "message %s: packets have %d bytes of payload: expected at most %d and at least the %d of its fields", m.Name, l, bus.MaxData, end)
		}
		m.Length = l
	}
	if p.format.ID == nil {
		p.format.FixedID = m.ID
	}
	p.format.Known = append(p.format.Known, known)
}

// fieldTypes are all types but bits.
func fieldTypes() []string {
	types := []string{"u8", "i8"}
	for _, t := range []string{"u16", "i16", "u24", "i24", "u32", "i32", "u64", "i64", "f32", "f64"} {
		types = append(types, t+"le", t+"be")
	}
	return types
}

// fieldType reads the type of a field at a byte and returns how many bytes it takes.
func (p *layoutParser) fieldType(n *layoutNode, s *dbc.Signal, at int) int {
	given := n.text("type")
	if given == "bits" {
		bit, width := int(n.unsigned("bit", 7)), int(n.unsigned("width", 64))
		if width == 0 {
			p.faults.add(n, "field %s: bits need a width: write how many, as in width: 2", s.Name)
			width = 1
		}
		s.Start, s.Length = 8*at+bit, width
		return (bit + width + 7) / 8
	}
	if n.get("bit") != nil || n.get("width") != nil {
		p.faults.add(n, "field %s: bit and width belong to type: bits", s.Name)
	}
	if !slices.Contains(fieldTypes(), given) {
		p.faults.add(n, "field %s: type %q: expected bits or one of %s", s.Name, given, strings.Join(fieldTypes(), " "))
		return 1
	}
	size, _ := strconv.Atoi(strings.TrimRight(given[1:], "lbe"))
	s.Length, s.Signed, s.Float = size, given[0] == 'i', given[0] == 'f'
	s.BigEndian = strings.HasSuffix(given, "be")
	s.Start = 8 * at
	if s.BigEndian {
		s.Start += 7 // DBC numbers a Motorola signal by its most significant bit
	}
	return size / 8
}

// field reads what all fields have, and adds the signal.
func (p *layoutParser) field(n *layoutNode, s *dbc.Signal, m *dbc.Message) {
	s.Scale = 1
	if v := n.get("scale"); v != nil {
		if s.Scale = v.float(math.Inf(-1), math.Inf(1)); s.Scale == 0 {
			p.faults.add(v, "field %s: scale is 0: expected what one step of the raw number is worth", s.Name)
		}
	}
	if v := n.get("offset"); v != nil {
		s.Offset = v.float(math.Inf(-1), math.Inf(1))
	}
	s.Unit = n.text("unit")
	for _, pair := range n.get("values").pairs() {
		raw, err := strconv.ParseInt(pair.key, 0, 64)
		if err != nil || s.Float {
			p.faults.add(pair.value, "field %s: value %q: expected whole raw numbers with their text, as in {0: ok}", s.Name, pair.key)
		}
		s.Values = append(s.Values, dbc.ValueText{Raw: raw, Text: pair.value.value()})
	}
	if m.Find(s.Name) >= 0 {
		p.faults.add(n, "field %s stands twice in message %s: remove one", s.Name, m.Name)
	}
	m.Signals = append(m.Signals, *s)
}

// lineFields reads the columns of a line; they lie in the frame as float64.
func (p *layoutParser) lineFields(n, fields *layoutNode, m *dbc.Message) {
	if l := n.get("length"); l != nil {
		p.faults.add(l, "length belongs to packets: lines end by themselves")
	}
	line := LineMessage{Tag: n.text("tag"), ID: m.ID}
	for i, f := range fields.items() {
		f.only("name", "column", "key", "scale", "offset", "unit", "values")
		c := Column{Key: f.text("key")}
		if v := f.get("column"); v != nil {
			c.Number = int(v.number(1, maxLineColumns))
		} else if c.Key == "" {
			c.Number = i + 1
		}
		if c.Number > 0 && c.Key != "" {
			p.faults.add(f, "both column and key: decide for one")
		}
		line.Columns = append(line.Columns, c)
		p.field(f, &dbc.Signal{Name: p.name(f, "field"), Line: f.line, Start: 64 * i, Length: 64, Float: true}, m)
	}
	if len(line.Columns) > maxColumns {
		p.faults.add(fields, "message %s has %d fields: a frame holds %d columns: leave some out", m.Name, len(line.Columns), maxColumns)
	}
	m.Length = 8 * len(line.Columns)
	p.format.Lines = append(p.format.Lines, line)
}

// layoutFaults collects the faults of a file.
type layoutFaults struct {
	file string
	list []layoutFault
}

type layoutFault struct {
	line, column int
	text         string
}

// maxFaults bounds what is told of one file.
const maxFaults = 100

func (f *layoutFaults) add(at *layoutNode, format string, args ...any) {
	line, column := 1, 1
	if at != nil {
		line, column = at.line, at.column
	}
	fault := layoutFault{line, column, fmt.Sprintf(format, args...)}
	if len(f.list) < maxFaults && !slices.Contains(f.list, fault) {
		f.list = append(f.list, fault)
	}
}

// err joins the faults in the order of their places.
func (f *layoutFaults) err() error {
	slices.SortStableFunc(f.list, func(a, b layoutFault) int {
		if a.line != b.line {
			return a.line - b.line
		}
		return a.column - b.column
	})
	errs := make([]error, len(f.list))
	for i, l := range f.list {
		errs[i] = fmt.Errorf("%s:%d:%d: %s", f.file, l.line, l.column, l.text)
	}
	return errors.Join(errs...)
}
