package dbc

import "strconv"

// maxNesting is the most switches that one signal may hang on.
const maxNesting = 16

// multiplex turns the marks of the SG_ statements and the ranges of SG_MUL_VAL_
// into the choices of each signal.
func (p *parser) multiplex() {
	for i := range p.muxRanges {
		p.muxRange(&p.muxRanges[i])
	}
	for m := range p.file.Messages {
		p.switches(m)
		for s := range p.file.Messages[m].Signals {
			p.nest(m, s)
		}
	}
}

// muxRange reads one SG_MUL_VAL_ statement: identifier, signal, switch, ranges.
func (p *parser) muxRange(st *statement) {
	line := st.tokens[0].line
	name := st.at(3).text
	ranges, fault := muxRanges(st)
	for _, at := range p.signals(st) {
		m := &p.file.Messages[at[0]]
		x := &p.extra[at[0]][at[1]]
		sw := p.find(at[0], name)
		switch {
		case fault != nil:
			p.drop(at[0], at[1], "its SG_MUL_VAL_ on line %d cannot be read: %s", fault.at.line, fault.reason)
		case sw < 0 || sw == at[1]:
			p.drop(at[0], at[1], "the switch %.40q that line %d names is not in its message", name, line)
		case x.ranges != nil && x.ranges[0].Switch != sw:
			p.drop(at[0], at[1], "line %d names a second switch for it, %s", line, name)
		case x.ranges != nil:
			x.ranges[0].Ranges = append(x.ranges[0].Ranges, ranges...)
		default:
			x.ranges = []MuxChoice{{Switch: sw, Ranges: append([][2]uint64(nil), ranges...)}}
			if !m.Signals[sw].Switch {
				p.warn(line, "signal %s of message %s is used as a switch without being marked as one", name, m.Name)
				m.Signals[sw].Switch = true
			}
		}
	}
}

// muxRanges reads the ranges from token 4 on. "1-3" comes as 1 and -3.
func muxRanges(st *statement) ([][2]uint64, *fault) {
	if st.fault != "" {
		return nil, faultf(st.at(len(st.tokens)), "%s", st.fault)
	}
	var ranges [][2]uint64
	for i := 4; ; i++ {
		low, err := strconv.ParseUint(st.at(i).text, 10, 64)
		if err != nil {
			return nil, faultf(st.at(i), "expected a raw value, found %.40q", st.at(i).text)
		}
		text := st.at(i + 1).text
		if text == "-" {
			i++
			text += st.at(i + 1).text
		}
		if len(text) < 2 || text[0] != '-' {
			return nil, faultf(st.at(i), "expected a range such as 1-3, found %.40q", st.at(i).text)
		}
		high, err := strconv.ParseUint(text[1:], 10, 64)
		if err != nil || high < low {
			return nil, faultf(st.at(i), "%s%s is no range from a lower to a higher raw value", st.at(i).text, text)
		}
		ranges = append(ranges, [2]uint64{low, high})
		i += 2
		switch {
		case i >= len(st.tokens):
			return ranges, nil
		case st.at(i).is(","):
		default:
			i-- // some write blanks for commas
		}
	}
}

// switches finds the switch of each page that SG_MUL_VAL_ does not name: the
// signal marked M or, where there is none, the only switch.
func (p *parser) switches(m int) {
	signals := p.file.Messages[m].Signals
	sw, mains, others := -1, 0, 0
	for s := range signals {
		switch {
		case p.extra[m][s].main:
			mains++
			sw = s
		case signals[s].Switch:
			others++
			if mains == 0 {
				sw = s
			}
		}
	}
	known := mains == 1 || mains == 0 && others == 1
	for s := range signals {
		x := &p.extra[m][s]
		if !x.page || x.ranges != nil || x.dropped {
			continue
		}
		if !known || sw == s {
			p.drop(m, s, "it is multiplexed, but which signal is its switch cannot be told: there are %d marked M, %d others", mains, others)
			continue
		}
		x.ranges = []MuxChoice{{Switch: sw, Ranges: [][2]uint64{{x.value, x.value}}}}
		if others > 0 && mains == 1 && !signals[s].Switch {
			p.warn(signals[s].Line, "signal %s: no SG_MUL_VAL_ says which switch it belongs to: taken as a page of %s", signals[s].Name, signals[sw].Name)
		}
	}
}

// nest collects the choices of a signal: its own, and those of its switch, and
// so on. A switch that leads back to itself or could not be read is a fault.
func (p *parser) nest(m, s int) {
	signals := p.file.Messages[m].Signals
	var choices []MuxChoice
	for at := s; p.extra[m][at].ranges != nil; {
		choice := p.extra[m][at].ranges[0]
		at = choice.Switch
		switch {
		case p.extra[m][at].dropped:
			p.drop(m, s, "its switch %s cannot be decoded", signals[at].Name)
			return
		case at == s:
			p.drop(m, s, "its switches lead back to itself")
			return
		case len(choices) == maxNesting:
			p.drop(m, s, "it hangs on more than %d switches, or they lead back to themselves", maxNesting)
			return
		case signals[at].Float:
			p.drop(m, s, "its switch %s is a float", signals[at].Name)
			return
		}
		choices = append(choices, choice)
	}
	signals[s].Mux = choices
}
