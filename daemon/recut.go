package daemon

import (
	"plumbline/bus"
	"plumbline/bus/serialport"
	"plumbline/daemon/setup"
)

// recut cuts the bytes of serial sources again, as a replay of their recording does. A live source that goes on
// while a new test begins is in the middle of a packet, and knows counters and times from before; the recording
// of the new test is not, and does not. With the same bytes cut anew both hear the same.
type recut struct {
	*serialport.Decoder
	in      *stripped
	framers []*serialport.Framer
	formats []*serialport.Format
}

// recut returns src with its bytes cut again, nil where the setup has no serial source.
func (b *Bench) recut(src bus.Source) *recut {
	formats := map[string]*serialport.Format{}
	for i := range b.setup.Sources {
		if s := &b.setup.Sources[i]; s.Kind == setup.Serial {
			formats[wanted(s)] = &s.Format
		}
	}
	if len(formats) == 0 {
		return nil
	}
	r := &recut{in: &stripped{Source: src, formats: formats}}
	r.Decoder = serialport.NewDecoder(r.in, func(name string) *serialport.Framer {
		format, ok := formats[name]
		if !ok {
			return nil
		}
		f, err := serialport.NewFramer(*format)
		if err != nil {
			return nil // the setup was read, so it is valid
		}
		r.framers, r.formats = append(r.framers, f), append(r.formats, format)
		return f
	})
	return r
}

// afresh forgets what is known of the lines. head is heard first.
func (r *recut) afresh(head []bus.Note) {
	for i, f := range r.framers {
		if fresh, err := serialport.NewFramer(*r.formats[i]); err == nil {
			*f = *fresh
		}
	}
	r.in.head = head
}

// stripped is a live source as its recording has it: of serial sources the bytes, and not what was made of them.
type stripped struct {
	bus.Source
	formats map[string]*serialport.Format // by name of a serial source
	serial  []bool                        // by source
	head    []bus.Note
}

// Read implements bus.Source.
func (s *stripped) Read(b *bus.Batch) error {
	if len(s.head) > 0 {
		b.Reset()
		b.Notes = append(b.Notes, s.head...)
		s.head = nil
		return nil
	}
	err := s.Source.Read(b)
	for _, name := range s.Names()[len(s.serial):] {
		s.serial = append(s.serial, s.formats[name] != nil)
	}
	kept, n, c := 0, 0, 0
	notes := b.Notes[:0]
	for i := range len(b.Frames) + 1 {
		for ; n < len(b.Notes) && b.Notes[n].Before <= i; n++ {
			if note := b.Notes[n]; !s.derived(&note) {
				note.Before = kept
				notes = append(notes, note)
			}
		}
		for ; c < len(b.Chunks) && b.Chunks[c].Before <= i; c++ {
			b.Chunks[c].Before = kept
		}
		if i < len(b.Frames) && !s.of(b.Frames[i].Source) {
			b.Frames[kept] = b.Frames[i]
			kept++
		}
	}
	b.Frames, b.Notes = b.Frames[:kept], notes
	return err
}

func (s *stripped) of(source uint16) bool { return int(source) < len(s.serial) && s.serial[source] }

// derived reports whether a note was made of the bytes of a serial source.
func (s *stripped) derived(n *bus.Note) bool {
	switch n.Kind {
	case bus.Loss, bus.LinkChanged, bus.Garbage:
		return s.of(n.Source) && serialport.Derived(n)
	default: // of no source
	}
	return false
}
