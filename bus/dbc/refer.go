package dbc

import (
	"math"
	"strconv"
	"strings"
	"time"

	"go.einride.tech/can/pkg/dbc"
)

// cycleAttribute is the attribute that holds the cycle time in ms.
const cycleAttribute = "GenMsgCycleTime"

// maxCycleTime is the longest cycle time that is believed.
const maxCycleTime = 24 * time.Hour

// signals returns the message and signal indexes that a statement refers to by
// identifier (token 1) and name (token 2).
func (p *parser) signals(st *statement) [][2]int {
	messages := p.messages(st, 1)
	name := st.at(2).text
	var found [][2]int
	for _, m := range messages {
		if s := p.find(m, name); s >= 0 {
			found = append(found, [2]int{m, s})
		}
	}
	if messages != nil && found == nil {
		p.warn(st.tokens[0].line, "%s skipped: message %s has no signal %.40q", st.keyword(), p.file.Messages[messages[0]].Name, name)
	}
	return found
}

// find is Message.Find, quick for messages of thousands of signals.
func (p *parser) find(message int, signal string) int {
	if s, ok := p.names[message][signal]; ok {
		return s
	}
	return -1
}

// floats applies the SIG_VALTYPE_ statements.
func (p *parser) floats() {
	for i := range p.floatTypes {
		st := &p.floatTypes[i]
		def, fault := st.read()
		if fault != nil {
			p.unreadType(st, fault)
			continue
		}
		typ, ok := def.(*dbc.SignalValueTypeDef)
		if !ok {
			continue
		}
		for _, at := range p.signals(st) {
			s := &p.file.Messages[at[0]].Signals[at[1]]
			bits := 0
			switch typ.SignalValueType {
			case dbc.SignalValueTypeInt:
			case dbc.SignalValueTypeFloat32:
				bits = 32
			case dbc.SignalValueTypeFloat64:
				bits = 64
			}
			switch {
			case bits != 0 && s.Length != bits:
				p.drop(at[0], at[1], "line %d makes it a float of %d bits, it has %d", st.tokens[0].line, bits, s.Length)
			default:
				s.Float = bits != 0
			}
		}
	}
}

// unreadType handles a SIG_VALTYPE_ statement that cannot be read: what it names
// may be a float, so it is not decoded as an integer.
func (p *parser) unreadType(st *statement, fault *fault) {
	targets := p.signals(st)
	for _, at := range targets {
		p.drop(at[0], at[1], "its type on line %d cannot be read: %s", fault.at.line, fault.reason)
	}
	if targets == nil {
		p.warn(fault.at.line, "SIG_VALTYPE_ skipped: %s", fault.reason)
	}
}

// values applies the VAL_ statements.
func (p *parser) values() {
	for i := range p.valueTables {
		st := &p.valueTables[i]
		if st.at(1).kind == wordToken {
			continue // of an environment variable
		}
		targets := p.signals(st)
		if targets == nil {
			continue
		}
		if _, fault := st.read(); fault != nil {
			p.warn(fault.at.line, "VAL_ of signal %s skipped: %s", st.at(2).text, fault.reason)
			continue
		}
		var table []ValueText
		for i := 3; i+1 < len(st.tokens); i += 2 {
			raw, ok := rawNumber(st.tokens[i].text)
			if st.tokens[i].is("-") || !ok {
				p.warn(st.tokens[i].line, "VAL_ of signal %s: entry %.40q skipped: it is no raw value", st.at(2).text, st.tokens[i].text)
				if st.tokens[i].is("-") {
					i++
				}
				continue
			}
			table = append(table, ValueText{Raw: raw, Text: oneLine(st.tokens[i+1].text)})
		}
		for _, at := range targets {
			s := &p.file.Messages[at[0]].Signals[at[1]]
			if s.Values != nil {
				p.warn(st.tokens[0].line, "signal %s has a value table already: this one replaces it", s.Name)
			}
			s.Values = table
		}
	}
}

// rawNumber reads a raw value: an integer, also one written as 1.0 or 1e3. Of
// values beyond 63 bits the bit pattern is kept.
func rawNumber(text string) (int64, bool) {
	if n, err := strconv.ParseInt(text, 10, 64); err == nil {
		return n, true
	}
	if n, err := strconv.ParseUint(strings.TrimPrefix(text, "+"), 10, 64); err == nil {
		return int64(n), true
	}
	f, err := strconv.ParseFloat(text, 64)
	if err != nil || f != math.Trunc(f) || math.Abs(f) > 1<<53 {
		return 0, false
	}
	return int64(f), true
}

// oneLine joins the lines of a text.
func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

// cycleTimes applies the attribute GenMsgCycleTime and its default, which need
// no definition.
func (p *parser) cycleTimes() {
	def := time.Duration(0)
	given := make([]bool, len(p.file.Messages))
	for i := range p.attributes {
		st := &p.attributes[i]
		if t := st.at(1); t.kind != stringToken || t.text != cycleAttribute {
			continue
		}
		if st.keyword() == "BA_DEF_DEF_" {
			if d, ok := p.milliseconds(st, st.tokens[2:]); ok {
				def = d
			}
			continue
		}
		if t := st.at(2); t.text != "BO_" {
			p.warn(t.line, "BA_ %s skipped: it belongs to a message", cycleAttribute)
			continue
		}
		messages := p.messages(st, 3)
		if messages == nil {
			continue
		}
		d, ok := p.milliseconds(st, st.tokens[4:])
		for _, m := range messages {
			given[m] = given[m] || ok
			if ok {
				p.file.Messages[m].CycleTime = d
			}
		}
	}
	for m := range p.file.Messages {
		if !given[m] {
			p.file.Messages[m].CycleTime = def
		}
	}
}

// milliseconds reads the value of an attribute as a time, the parser seeing it
// as one of a message. False, with a warning: there is no usable one.
func (p *parser) milliseconds(st *statement, value []token) (time.Duration, bool) {
	as := statement{shape: semicolonShape, fault: st.fault, tokens: []token{
		{kind: wordToken, text: "BA_", line: st.tokens[0].line, col: st.tokens[0].col},
		{kind: stringToken, text: cycleAttribute},
		{kind: wordToken, text: "BO_"},
		{kind: numberToken, text: "0"},
	}}
	for _, t := range value {
		if t.kind == stringToken && t.text != "" && numberLength(t.text) == len(t.text) {
			t.kind = numberToken // a number in quotes
		}
		as.tokens = append(as.tokens, t)
	}
	line := st.tokens[0].line
	def, fault := as.read()
	if fault != nil {
		p.warn(line, "%s of %s skipped: %s", st.keyword(), cycleAttribute, fault.reason)
		return 0, false
	}
	ba, ok := def.(*dbc.AttributeValueForObjectDef)
	if !ok || !(ba.FloatValue >= 0 && ba.FloatValue <= float64(maxCycleTime/time.Millisecond)) {
		p.warn(line, "%s of %s skipped: it is no time from 0 ms to a day", st.keyword(), cycleAttribute)
		return 0, false
	}
	return time.Duration(math.Round(ba.FloatValue * float64(time.Millisecond))), true
}
