package dbc

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"go.einride.tech/can/pkg/dbc"
)

// extendedFlag marks a 29-bit identifier in a DBC file.
const extendedFlag = 0x80000000

// The pseudo message that collects signals without a message. Its name is met
// with other identifiers too.
const (
	independentID   = 0xC0000000
	independentName = "VECTOR__INDEPENDENT_SIG_MSG"
)

// Beyond these a number is no description of a frame any more.
const (
	maxStartBit = 1 << 16 // 64 bytes have 512 bits
	maxBytes    = 1 << 16 // transport protocols describe messages of up to 1785 bytes
)

// Parse reads a DBC file. The text may be Windows-1252 or UTF-8; name stands in
// warnings and errors. Statements that are not needed are skipped, and what is
// repaired or cannot be used becomes a warning.
//
// Where a message or signal itself cannot be read, the error tells each one with
// file:line:column, and the file still holds everything else: what is not in it
// cannot be decoded. The file is nil only if the text is no DBC text at all.
func Parse(name string, text []byte) (*File, error) {
	switch {
	case bytes.HasPrefix(text, []byte("\xFF\xFE")), bytes.HasPrefix(text, []byte("\xFE\xFF")):
		return nil, fmt.Errorf("%s:1:1: the text is UTF-16: save it as Windows-1252 or UTF-8", name)
	case bytes.HasPrefix(text, []byte("\xEF\xBB\xBF")):
		text = text[3:]
	}
	p := parser{file: &File{Name: name}, byID: map[uint32][]int{}, current: noMessage}
	p.statements(decodeText(text))
	p.floats()
	p.multiplex()
	p.values()
	p.cycleTimes()
	p.review()
	return p.file, p.report()
}

// Values of parser.current where it is no index.
const (
	noMessage     = -1 // no BO_ statement came yet
	brokenMessage = -2 // the BO_ statement could not be read or is not wanted
)

// parser collects what the statements say. Statements that refer to messages
// are kept until all messages are known.
type parser struct {
	file    *File
	extra   [][]extra        // what is known beside each signal: [message][signal]
	names   []map[string]int // of each message, name → first signal
	byID    map[uint32][]int // identifier with flag bit → messages
	current int              // message that SG_ statements belong to

	warnings, faults []remark

	floatTypes, valueTables, muxRanges, attributes []statement
}

// extra is what is needed of a signal while its file is read.
type extra struct {
	main    bool // marked M: the switch of its message
	page    bool // marked m7 or m7M
	value   uint64
	col     int
	dropped bool // there was a fault: not in the file in the end
	ranges  []MuxChoice
}

// remark is a warning or fault at its place.
type remark struct {
	line, col int
	text      string
}

func (p *parser) warn(line int, format string, a ...any) {
	p.warnings = append(p.warnings, remark{line: line, text: fmt.Sprintf(format, a...)})
}

func (p *parser) fault(line, col int, format string, a ...any) {
	p.faults = append(p.faults, remark{line, col, fmt.Sprintf(format, a...)})
}

// report hands out the remarks in the order of the file.
func (p *parser) report() error {
	byPlace := func(a, b remark) int { return cmp.Or(a.line-b.line, a.col-b.col) }
	slices.SortStableFunc(p.warnings, byPlace)
	slices.SortStableFunc(p.faults, byPlace)
	for _, w := range p.warnings {
		p.file.Warnings = append(p.file.Warnings, fmt.Sprintf("%s:%d: %s", p.file.Name, w.line, w.text))
	}
	faults := make([]error, len(p.faults))
	for i, f := range p.faults {
		faults[i] = fmt.Errorf("%s:%d:%d: %s", p.file.Name, f.line, f.col, f.text)
	}
	return errors.Join(faults...)
}

// drop leaves a signal out, with the fault that is the reason.
func (p *parser) drop(message, signal int, format string, a ...any) {
	x := &p.extra[message][signal]
	if x.dropped {
		return
	}
	x.dropped = true
	m := &p.file.Messages[message]
	s := &m.Signals[signal]
	p.fault(s.Line, x.col, "signal %s of message %s: "+format, append([]any{s.Name, m.Name}, a...)...)
}

// statements reads the whole text once.
func (p *parser) statements(text string) {
	split := splitter{newLexer(text)}
	unknownLine := -1 // of the last unknown statement
	for {
		st, ok := split.next()
		if !ok {
			return
		}
		first, last := &st.tokens[0], &st.tokens[len(st.tokens)-1]
		switch st.keyword() {
		case "BO_":
			p.message(&st)
		case "SG_":
			p.signal(&st)
		case "SIG_VALTYPE_":
			p.floatTypes = append(p.floatTypes, st)
		case "VAL_":
			p.valueTables = append(p.valueTables, st)
		case "SG_MUL_VAL_":
			p.muxRanges = append(p.muxRanges, st)
		case "BA_", "BA_DEF_DEF_":
			p.attributes = append(p.attributes, st)
		case "CM_":
			p.comment(&st)
		}
		switch {
		case st.shape == unknownShape:
			// Of lines one after the other the first stands for all, except for what looks like a keyword.
			if first.line > unknownLine+1 || strings.HasSuffix(first.text, "_") {
				p.warn(first.line, "unknown statement %.40q skipped", first.text)
			}
			unknownLine = split.line
		case st.open:
			p.warn(last.line, "%s: the semicolon at the end is missing: taken as ended here", st.keyword())
		case st.fault != "" && st.shape == semicolonShape && !slices.Contains([]string{"VAL_", "SIG_VALTYPE_", "SG_MUL_VAL_"}, st.keyword()):
			p.warn(last.line, "%s: %s", st.keyword(), st.fault)
		}
	}
}

// comment warns where a comment looks as if its closing quote were missing.
func (p *parser) comment(st *statement) {
	for i := range st.tokens {
		t := &st.tokens[i]
		if t.lines == 0 {
			continue
		}
		inner := splitter{newLexer(t.text)}
		for {
			st, ok := inner.next()
			if !ok {
				break
			}
			if st.shape != messageShape && st.shape != signalShape || st.fault != "" {
				continue
			}
			if _, fault := st.read(); fault == nil {
				p.warn(t.line, "the comment that begins here holds a whole %s statement on line %d: if a closing quote is missing, messages are missing",
					st.keyword(), t.line+st.tokens[0].line-1)
				break
			}
		}
	}
}

// message reads a BO_ statement.
func (p *parser) message(st *statement) {
	first := &st.tokens[0]
	p.current = brokenMessage
	if len(st.tokens) > 2 && st.tokens[2].text == independentName {
		return
	}
	id, extended, repaired, fault := st.identifier(1)
	if fault == nil && id == independentID {
		return
	}
	def, fault2 := st.read()
	if fault == nil {
		fault = fault2
	}
	if fault != nil {
		p.fault(fault.at.line, fault.at.col, "message cannot be read: %s; expected BO_ identifier name: length node", fault.reason)
		return
	}
	bo, ok := def.(*dbc.MessageDef)
	if !ok {
		p.fault(first.line, first.col, "message cannot be read: it is no BO_ statement")
		return
	}
	if bo.Size > maxBytes {
		p.fault(first.line, first.col, "message %s: length of %d bytes; a frame has up to 64", st.tokens[2].text, bo.Size)
		return
	}
	if repaired {
		p.warn(first.line, "message %s: identifier %d does not fit into 11 bits and lacks the flag of 29 bits: taken as 29 bits", st.tokens[2].text, id)
	}
	p.current = len(p.file.Messages)
	p.file.Messages = append(p.file.Messages, Message{
		Name: st.tokens[2].text, ID: id, Extended: extended, Length: int(bo.Size), Line: first.line,
	})
	p.extra = append(p.extra, nil)
	p.names = append(p.names, map[string]int{})
	key := id
	if extended {
		key |= extendedFlag
	}
	p.byID[key] = append(p.byID[key], p.current)
}

// signal reads an SG_ statement.
func (p *parser) signal(st *statement) {
	first := &st.tokens[0]
	switch p.current {
	case noMessage:
		p.warn(first.line, "signal before the first message skipped")
		return
	case brokenMessage:
		return
	}
	m := &p.file.Messages[p.current]
	if st.repairRange() {
		p.warn(first.line, "signal %s of message %s: its range cannot be read: taken as not stated", st.at(1).text, m.Name)
	}
	def, fault := st.read()
	if fault != nil {
		name := "signal"
		if len(st.tokens) > 1 && st.tokens[1].kind == wordToken {
			name = "signal " + st.tokens[1].text
		}
		p.fault(fault.at.line, fault.at.col, `%s of message %s cannot be read: %s; expected SG_ name : start|length@order± (factor,offset) [min|max] "unit" node`,
			name, m.Name, fault.reason)
		return
	}
	sg, ok := def.(*dbc.SignalDef)
	if !ok {
		p.fault(first.line, first.col, "signal of message %s cannot be read: it is no SG_ statement", m.Name)
		return
	}
	name := st.tokens[1].text
	switch {
	case sg.Size < 1 || sg.Size > 64:
		p.fault(first.line, first.col, "signal %s of message %s: length of %d bits; 1 to 64 can be decoded", name, m.Name, sg.Size)
		return
	case sg.StartBit > maxStartBit:
		p.fault(first.line, first.col, "signal %s of message %s: start bit %d; a frame has up to 512", name, m.Name, sg.StartBit)
		return
	}
	mark := extra{main: sg.IsMultiplexerSwitch, page: sg.IsMultiplexed, value: sg.MultiplexerSwitch, col: first.col}
	s := Signal{
		Name: name, Line: first.line,
		Start: int(sg.StartBit), Length: int(sg.Size), BigEndian: sg.IsBigEndian, Signed: sg.IsSigned,
		Scale: sg.Factor, Offset: sg.Offset, Min: sg.Minimum, Max: sg.Maximum,
		Switch: sg.IsMultiplexerSwitch || st.pageSwitch(),
	}
	for i := range st.tokens {
		if st.tokens[i].kind == stringToken {
			s.Unit = st.tokens[i].text
			break
		}
	}
	if _, ok := p.names[p.current][name]; !ok {
		p.names[p.current][name] = len(m.Signals)
	}
	m.Signals = append(m.Signals, s)
	p.extra[p.current] = append(p.extra[p.current], mark)
}

// identifier reads the message identifier at token i. repaired: it lacked the
// flag of 29 bits. The pseudo message is returned as independentID.
func (st *statement) identifier(i int) (id uint32, extended, repaired bool, fault *fault) {
	t := st.at(i)
	n, err := strconv.ParseUint(t.text, 10, 32)
	if t.kind != numberToken || err != nil {
		return 0, false, false, faultf(t, "expected a message identifier at %.40q", t.text)
	}
	id = uint32(n)
	switch {
	case id == independentID:
		return id, false, false, nil
	case id&^extendedFlag > 0x1FFFFFFF:
		return 0, false, false, faultf(t, "identifier %d has more than 29 bits", id)
	case id&extendedFlag != 0:
		return id &^ extendedFlag, true, false, nil
	case id > 0x7FF:
		return id, true, true, nil
	}
	return id, false, false, nil
}

// messages returns the messages with the identifier at token i of a statement
// that refers to one.
func (p *parser) messages(st *statement, i int) []int {
	id, extended, _, fault := st.identifier(i)
	switch {
	case fault != nil:
		p.warn(fault.at.line, "%s skipped: %s", st.keyword(), fault.reason)
		return nil
	case id == independentID:
		return nil
	}
	key := id
	if extended {
		key |= extendedFlag
	}
	found := p.byID[key]
	if found == nil {
		p.warn(st.tokens[0].line, "%s skipped: there is no message %d", st.keyword(), id)
	}
	return found
}
