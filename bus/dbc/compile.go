package dbc

import (
	"errors"
	"fmt"
	"math"

	"plumbline/bus"
)

// Plan decodes the wanted signals of the wanted messages. It is read-only.
type Plan struct {
	list     []PlanMessage
	messages []message
	groups   []group
	fields   []field
	choices  []choice
	ranges   [][2]uint64
	tables   []table // by source
}

// PlanMessage is one message as it is heard on one source.
type PlanMessage struct {
	Source   uint16
	Message  *Message
	PGN      bool    // matched by parameter group: frames may have another length than Message.Length
	Channels []int32 // in the order of the bindings, which is that of the values
}

// Messages returns what the plan decodes; Lookup and Decode speak of it by index.
// The slice must not be changed.
func (p *Plan) Messages() []PlanMessage { return p.list }

// Compile makes a plan of the bindings. Messages are numbered in the order in
// which the bindings name them first, each source for itself. All faults are
// told at once: a binding without a message or signal, a factor that is zero or
// not finite, a signal that no frame can hold, two messages that the same frame would carry.
func Compile(bindings []Binding) (*Plan, error) {
	type place struct {
		source  uint16
		message *Message
	}
	var (
		p      = &Plan{}
		faults []error
		index  = map[place]int{}
		bound  [][]*Binding // by plan message
	)
	for i := range bindings {
		b := &bindings[i]
		if err := b.check(); err != nil {
			faults = append(faults, fmt.Errorf("binding %d (channel %d): %w", i+1, b.Channel, err))
			continue
		}
		at := place{b.Source, b.Message}
		m, ok := index[at]
		if !ok {
			m = len(p.list)
			index[at] = m
			p.list = append(p.list, PlanMessage{Source: b.Source, Message: b.Message, PGN: b.PGN})
			bound = append(bound, nil)
		}
		if p.list[m].PGN != b.PGN {
			faults = append(faults, fmt.Errorf("binding %d (channel %d): message %s is matched both by identifier and by PGN: decide for one", i+1, b.Channel, b.Message.Name))
			continue
		}
		p.list[m].Channels = append(p.list[m].Channels, b.Channel)
		bound[m] = append(bound[m], b)
	}
	if len(p.list) > math.MaxUint16-1 {
		faults = append(faults, fmt.Errorf("%d messages: a plan holds up to %d", len(p.list), math.MaxUint16-1))
	} else {
		faults = append(faults, p.index()...)
	}
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	for _, b := range bound {
		p.message(b)
	}
	return p, nil
}

func (b *Binding) check() error {
	m := b.Message
	if m == nil {
		return errors.New("no message")
	}
	if b.Signal < 0 || b.Signal >= len(m.Signals) {
		return fmt.Errorf("message %s has no signal number %d", m.Name, b.Signal)
	}
	s := &m.Signals[b.Signal]
	switch {
	case m.ID > 0x1FFFFFFF || m.ID > 0x7FF && !m.Extended:
		return fmt.Errorf("message %s: identifier %#x does not fit", m.Name, m.ID)
	case b.PGN && !m.Extended:
		return fmt.Errorf("message %s: an identifier of 11 bits has no PGN", m.Name)
	case b.Scale == 0 || math.IsNaN(b.Scale) || math.IsInf(b.Scale, 0):
		return fmt.Errorf("signal %s of message %s: factor %v: expected a finite number other than 0", s.Name, m.Name, b.Scale)
	case math.IsNaN(b.Offset) || math.IsInf(b.Offset, 0):
		return fmt.Errorf("signal %s of message %s: offset %v: expected a finite number", s.Name, m.Name, b.Offset)
	}
	if err := s.check(); err != nil {
		return fmt.Errorf("signal %s of message %s: %w", s.Name, m.Name, err)
	}
	for _, c := range s.Mux {
		if c.Switch < 0 || c.Switch >= len(m.Signals) {
			return fmt.Errorf("signal %s of message %s: no signal number %d to be its switch", s.Name, m.Name, c.Switch)
		}
		sw := &m.Signals[c.Switch]
		if err := sw.check(); err != nil {
			return fmt.Errorf("signal %s of message %s: its switch %s: %w", s.Name, m.Name, sw.Name, err)
		}
		if sw.Float {
			return fmt.Errorf("signal %s of message %s: its switch %s is a float", s.Name, m.Name, sw.Name)
		}
	}
	return nil
}

// check tells why the signal cannot be decoded from any frame.
func (s *Signal) check() error {
	switch {
	case s.Length < 1 || s.Length > 64:
		return fmt.Errorf("length of %d bits: expected 1 to 64", s.Length)
	case s.Float && s.Length != 32 && s.Length != 64:
		return fmt.Errorf("a float of %d bits: expected 32 or 64", s.Length)
	case s.Start < 0 || s.bytes() > bus.MaxData:
		return fmt.Errorf("it lies beyond the %d bytes of a frame", bus.MaxData)
	}
	return nil
}

// index makes the tables of Lookup.
func (p *Plan) index() (faults []error) {
	type keys struct{ standard, extended, groups map[uint32]int }
	var sources []keys
	for i := range p.list {
		m := &p.list[i]
		for len(sources) <= int(m.Source) {
			sources = append(sources, keys{map[uint32]int{}, map[uint32]int{}, map[uint32]int{}})
		}
		key, in, what := m.Message.ID, sources[m.Source].standard, "identifier"
		switch {
		case m.PGN:
			key, in, what = pgn(key), sources[m.Source].groups, "PGN"
		case m.Message.Extended:
			in = sources[m.Source].extended
		}
		if other, ok := in[key]; ok {
			faults = append(faults, fmt.Errorf("messages %s and %s have the same %s %#x on one source: only one of them can be decoded",
				p.list[other].Message.Name, m.Message.Name, what, key))
			continue
		}
		in[key] = i
	}
	p.tables = make([]table, len(sources))
	for i, s := range sources {
		t := &p.tables[i]
		if len(s.standard) > 0 {
			t.standard = make([]uint16, 0x800)
		}
		for id, m := range s.standard {
			t.standard[id] = uint16(m + 1)
		}
		t.extended, t.groups = newHash(s.extended), newHash(s.groups)
	}
	return faults
}

// message adds the fields of one message. Neighbours with the same choices
// share one test of the switches.
func (p *Plan) message(bound []*Binding) {
	m := message{groups: half{len(p.groups), 0}}
	var last []MuxChoice
	for i, b := range bound {
		s := &b.Message.Signals[b.Signal]
		if i == 0 || !sameChoices(last, s.Mux) {
			p.groups = append(p.groups, group{choices: p.addChoices(b.Message, s.Mux), fields: half{len(p.fields), 0}, plain: true})
			last = s.Mux
		}
		p.fields = append(p.fields, newField(s, b))
		last := &p.groups[len(p.groups)-1]
		last.fields.to = len(p.fields)
		last.plain = last.plain && p.fields[len(p.fields)-1].plain()
	}
	m.groups.to = len(p.groups)
	p.messages = append(p.messages, m)
}

func sameChoices(a, b []MuxChoice) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i].Switch != b[i].Switch || len(a[i].Ranges) != len(b[i].Ranges) {
			return false
		}
		for j := range a[i].Ranges {
			if a[i].Ranges[j] != b[i].Ranges[j] {
				return false
			}
		}
	}
	return true
}

func (p *Plan) addChoices(m *Message, mux []MuxChoice) half {
	from := len(p.choices)
	for _, c := range mux {
		first := len(p.ranges)
		p.ranges = append(p.ranges, c.Ranges...)
		p.choices = append(p.choices, choice{bits: newBits(&m.Signals[c.Switch]), ranges: half{first, len(p.ranges)}})
	}
	return half{from, len(p.choices)}
}
