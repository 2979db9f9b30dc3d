package dbc

// review warns about what is unusual in the whole, and takes out the signals
// that had a fault.
func (p *parser) review() {
	if len(p.file.Messages) == 0 && len(p.faults) == 0 {
		p.warn(1, "there is no message in it: is it a DBC file?")
	}
	names := map[string]int{}
	ids := map[uint32]int{}
	for i := range p.file.Messages {
		m := &p.file.Messages[i]
		key := m.ID
		if m.Extended {
			key |= extendedFlag
		}
		if line, ok := names[m.Name]; ok {
			p.warn(m.Line, "message %s is defined on line %d already: by its name the first one is found", m.Name, line)
		} else {
			names[m.Name] = m.Line
		}
		if line, ok := ids[key]; ok {
			p.warn(m.Line, "message %s has the identifier of the one on line %d: only one of them can be decoded", m.Name, line)
		} else {
			ids[key] = m.Line
		}
		p.compact(i)
		p.reviewSignals(m)
	}
}

func (p *parser) reviewSignals(m *Message) {
	names := map[string]int{}
	for i := range m.Signals {
		s := &m.Signals[i]
		if line, ok := names[s.Name]; ok {
			p.warn(s.Line, "message %s has a signal %s on line %d already: by its name the first one is found", m.Name, s.Name, line)
		} else {
			names[s.Name] = s.Line
		}
		if s.Scale == 0 {
			p.warn(s.Line, "signal %s of message %s has the factor 0: its value is always %v", s.Name, m.Name, s.Offset)
		}
		switch n := s.bytes(); {
		case n > 64:
			p.warn(s.Line, "signal %s of message %s lies beyond 64 bytes: no frame can carry it", s.Name, m.Name)
		case n > m.Length:
			p.warn(s.Line, "signal %s of message %s needs %d byte(s), the message declares %d: it has a value only where the frame is long enough", s.Name, m.Name, n, m.Length)
		}
	}
}

// compact takes the dropped signals out of a message. Switches of what stays
// stay, since nothing that hangs on a dropped one is kept.
func (p *parser) compact(message int) {
	m := &p.file.Messages[message]
	moved := make([]int, len(m.Signals))
	kept := m.Signals[:0]
	for i := range m.Signals {
		moved[i] = len(kept)
		if !p.extra[message][i].dropped {
			kept = append(kept, m.Signals[i])
		}
	}
	m.Signals = kept
	for i := range kept {
		for j := range kept[i].Mux {
			kept[i].Mux[j].Switch = moved[kept[i].Mux[j].Switch]
		}
	}
}
