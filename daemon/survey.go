package daemon

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"plumbline/bus"
	"plumbline/bus/dbc"
	"plumbline/bus/socketcan"
)

// maxIdentifiers is how many identifiers a survey tells apart. Noise on a wrong
// bit rate can bring any number of them.
const maxIdentifiers = 4096

// Survey is what a first look finds in a source, without a setup.
type Survey struct {
	File        string
	Frames      uint64
	First, Last Instant
	Interfaces  []SurveyInterface // in the order in which they were met
	Messages    []SurveyMessage   // by interface, 11-bit before 29-bit, identifier
	Further     uint64            // frames of identifiers beyond those that are told apart
	Marks       []SurveyMark
	Warnings    []string
	Live        bool         // heard as it came: what follows, and the fields named live below, are filled
	Links       []SurveyLink // the newest of them
	Earlier     uint64       // changes of links before those
}

// SurveyInterface counts what one interface brought.
type SurveyInterface struct {
	Name                         string
	Frames, Errors, Remote, Lost uint64 // Frames counts all kinds

	Garbage uint64          // live, serial: bytes that belong to no valid frame
	State   string          // live: the sentence of the newest link state; empty before there is one
	CAN     *socketcan.Info // live: what the kernel knows of a CAN interface, else nil
}

// SurveyLink is one change of the state of an interface, live only.
type SurveyLink struct {
	At        Instant
	Interface int // index into Interfaces
	Link      bus.Link
	Text      string // a sentence
}

// SurveyMessage is what is known of one identifier on one interface. Periods
// are those between neighbours; 0 where there are none.
type SurveyMessage struct {
	Interface                 int // index into Interfaces
	ID                        uint32
	Extended                  bool
	Name                      string // from a DBC file
	Frames                    uint64
	Rate                      float64 // per second, from the first frame to the last
	Now                       float64 // live: per second, of late
	Median, Shortest, Gap     time.Duration
	GapAt                     Instant // where the longest gap begins
	ShortestData, LongestData uint8   // bytes
	Signals                   []SurveySignal
}

// SurveySignal is the range of one signal, in the unit of its DBC file.
type SurveySignal struct {
	Name, Unit string
	Values     uint64
	Min, Max   float64 // in Unit
	Last       float64 // the newest value
}

// SurveyMark is a person's word in the recording.
type SurveyMark struct {
	At   Instant
	Text string
}

// Look takes a first look at all that src delivers, decoded with DBC files where
// there are any, and closes src. The error is that of ctx or of reading; what was
// heard before it is in the survey.
func Look(ctx context.Context, file string, src bus.Source, files []*dbc.File) (*Survey, error) {
	l := look{survey: &Survey{File: file}, messages: map[lookKey]*lookMessage{}}
	l.decoder(files)
	err := pump(ctx, src, nil, l.batch)
	return l.state(), err
}

// lookKey tells messages apart.
type lookKey struct {
	source   uint16
	id       uint32
	extended bool
}

type look struct {
	survey   *Survey
	messages map[lookKey]*lookMessage
	clock    clock
	more     uint64 // warnings beyond bus.MaxWarnings

	plan    *dbc.Plan
	signals []SurveySignal // by channel: name and unit
	values  []dbc.Value
}

type lookMessage struct {
	SurveyMessage
	first, last int64
	periods     periods
	paced       uint64 // frames when Now was last computed
	plan        int    // message of the plan, -1: none
	from        int32  // its first channel
}

// decoder makes a plan of all messages that can be decoded. Those that cannot
// are left out with a warning: a first look is no place to be strict.
func (l *look) decoder(files []*dbc.File) {
	var all []dbc.Binding
	seen := map[lookKey]string{}
	for _, file := range files {
		l.survey.Warnings = append(l.survey.Warnings, file.Warnings...)
		for i := range file.Messages {
			m := &file.Messages[i]
			key := lookKey{0, m.ID, m.Extended}
			if other, ok := seen[key]; ok {
				l.warn(fmt.Sprintf("%s:%d: message %s has the identifier of %s and is left out", file.Name, m.Line, m.Name, other))
				continue
			}
			var bindings []dbc.Binding
			for s := range m.Signals {
				bindings = append(bindings, dbc.Binding{Message: m, Signal: s, Channel: int32(len(all) + s), Scale: 1})
			}
			if _, err := dbc.Compile(bindings); err != nil {
				l.warn(fmt.Sprintf("%s:%d: message %s is not decoded: %v", file.Name, m.Line, m.Name, err))
				continue
			}
			seen[key] = m.Name
			all = append(all, bindings...)
			for s := range m.Signals {
				l.signals = append(l.signals, SurveySignal{Name: m.Signals[s].Name, Unit: m.Signals[s].Unit})
			}
		}
	}
	plan, err := dbc.Compile(all)
	if err != nil {
		l.warn(fmt.Sprintf("nothing is decoded: %v", err))
		return
	}
	l.plan = plan
}

func (l *look) batch(d *delivered) error {
	b, names := &d.batch, d.names
	for len(l.survey.Interfaces) < len(names) {
		l.survey.Interfaces = append(l.survey.Interfaces, SurveyInterface{Name: names[len(l.survey.Interfaces)]})
	}
	for i := range b.Frames {
		l.frame(&b.Frames[i])
	}
	for i := range b.Notes {
		l.note(&b.Notes[i])
	}
	return nil
}

func (l *look) frame(f *bus.Frame) {
	s := l.survey
	s.Frames++
	l.clock.frame(f.At, s.Frames, func(int64) {})
	if int(f.Source) >= len(s.Interfaces) {
		return
	}
	face := &s.Interfaces[f.Source]
	face.Frames++
	switch {
	case f.Flags.Has(bus.Error):
		face.Errors++
		return
	case f.Flags.Has(bus.Remote):
		face.Remote++
		return
	}
	key := lookKey{f.Source, f.ID, f.Flags.Has(bus.Extended)}
	m := l.messages[key]
	if m == nil {
		if len(l.messages) == maxIdentifiers {
			s.Further++
			return
		}
		m = l.meet(key, f)
	}
	m.add(f)
	if m.plan >= 0 {
		l.decode(m, f)
	}
}

// meet begins a message.
func (l *look) meet(key lookKey, f *bus.Frame) *lookMessage {
	m := &lookMessage{plan: -1, first: f.At}
	m.Interface, m.ID, m.Extended = int(key.source), key.id, key.extended
	m.ShortestData, m.Shortest = f.Len, math.MaxInt64
	l.messages[key] = m
	if l.plan == nil {
		return m
	}
	probe := *f
	probe.Source = 0
	if m.plan = l.plan.Lookup(&probe); m.plan >= 0 {
		known := &l.plan.Messages()[m.plan]
		m.Name, m.from = known.Message.Name, known.Channels[0]
		to := m.from + int32(len(known.Channels))
		m.Signals = slices.Clone(l.signals[m.from:to])
	}
	return m
}

func (m *lookMessage) add(f *bus.Frame) {
	if m.Frames > 0 && f.At >= m.last {
		period := time.Duration(min(uint64(f.At)-uint64(m.last), math.MaxInt64))
		m.periods.add(period)
		m.Shortest = min(m.Shortest, period)
		if period > m.Gap {
			m.Gap, m.GapAt = period, Instant(m.last)
		}
	}
	m.Frames++
	m.last = f.At
	m.ShortestData, m.LongestData = min(m.ShortestData, f.Len), max(m.LongestData, f.Len)
}

func (l *look) decode(m *lookMessage, f *bus.Frame) {
	l.values, _ = l.plan.Decode(m.plan, f, l.values[:0])
	for i := range l.values {
		v := &l.values[i]
		if math.IsNaN(v.Value) {
			continue
		}
		s := &m.Signals[v.Channel-m.from]
		if s.Values == 0 {
			s.Min, s.Max = v.Value, v.Value
		}
		s.Min, s.Max, s.Last = min(s.Min, v.Value), max(s.Max, v.Value), v.Value
		s.Values++
	}
}

func (l *look) note(n *bus.Note) {
	var face *SurveyInterface
	if int(n.Source) < len(l.survey.Interfaces) {
		face = &l.survey.Interfaces[n.Source]
	}
	switch n.Kind {
	case bus.Mark:
		if len(l.survey.Marks) < maxIdentifiers {
			l.survey.Marks = append(l.survey.Marks, SurveyMark{Instant(n.At), n.Text})
		}
	case bus.Loss:
		if face != nil {
			face.Lost += n.Count
		}
	case bus.Warning, bus.Clock:
		l.warn(n.Text)
	case bus.Garbage:
		if l.survey.Live && face != nil {
			face.Garbage += n.Count
		} else {
			l.warn(n.Text)
		}
	case bus.LinkChanged:
		switch {
		case l.survey.Live && face != nil:
			l.link(n, face)
		case n.Link != bus.ErrorActive:
			l.warn(n.Text)
		}
	case bus.Tick, bus.Told, bus.BothClocks:
	}
}

func (l *look) warn(text string) {
	if len(l.survey.Warnings) >= bus.MaxWarnings {
		l.more++
		return
	}
	l.survey.Warnings = append(l.survey.Warnings, text)
}

// state turns what was gathered by now into a survey. It shares slices with what is
// gathered further.
func (l *look) state() *Survey {
	s := *l.survey
	s.First, s.Last = Instant(l.clock.first), Instant(l.clock.last)
	s.Warnings = slices.Clone(s.Warnings)
	if l.more > 0 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("%s: %d more warnings", s.File, l.more))
	}
	for _, w := range l.clock.warnings() {
		s.Warnings = append(s.Warnings, s.File+": "+w)
	}
	for _, m := range l.messages {
		m.Median = m.periods.median()
		if m.last > m.first {
			m.Rate = float64(m.Frames-1) / time.Duration(m.last-m.first).Seconds()
		}
		told := m.SurveyMessage
		if told.Shortest == math.MaxInt64 {
			told.Shortest = 0
		}
		s.Messages = append(s.Messages, told)
	}
	slices.SortFunc(s.Messages, func(a, b SurveyMessage) int {
		return cmp.Or(cmp.Compare(a.Interface, b.Interface), cmp.Compare(b2i(a.Extended), b2i(b.Extended)), cmp.Compare(a.ID, b.ID))
	})
	return &s
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}
