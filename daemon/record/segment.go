package record

import (
	"fmt"

	"plumbline/bus"
)

// segmentSize is the room of a segment, in bytes: some 5,000 frames.
const segmentSize = 256 << 10

// segment is a run of whole pcapng blocks on its way to the disk, and what they
// hold.
type segment struct {
	buf    []byte
	ifaces int     // interfaces described before it
	upto   int     // interfaces described by its end
	first  int64   // event time, ns; of what counts
	last   int64   // event time, ns
	any    bool    // first and last are set
	counts []count // by source
	extra  bool    // not one of the queue's
	cut    *Cut    // nil: it holds what was heard; else nothing, and the recording is divided here
}

// count is what of one source is in a segment, a part or a gap.
type count struct {
	frames uint64
	bytes  uint64
	lost   [places]uint64 // told as lost
}

func (c *count) add(o *count) {
	c.frames += o.frames
	c.bytes += o.bytes
	for p := range c.lost {
		c.lost[p] += o.lost[p]
	}
}

// of returns the count of a source, made where it is new.
func of(counts *[]count, source int) *count {
	for len(*counts) <= source {
		*counts = append(*counts, count{})
	}
	return &(*counts)[source]
}

// span takes in an event time.
func (s *segment) span(at int64) {
	if !s.any {
		s.first, s.any = at, true
	}
	s.last = at
}

// reset makes it empty; its memory stays.
func (s *segment) reset() {
	s.buf = s.buf[:0]
	s.any = false
	clear(s.counts)
}

// merge takes over what o holds, which comes right behind it, and reports
// whether there was room.
func (s *segment) merge(o *segment) bool {
	if s.cut != nil || o.cut != nil || len(s.buf)+len(o.buf) > cap(s.buf) {
		return false
	}
	s.buf = append(s.buf, o.buf...)
	s.upto = o.upto
	if o.any {
		s.span(o.first)
		s.span(o.last)
	}
	for n := range o.counts {
		of(&s.counts, n).add(&o.counts[n])
	}
	return true
}

// gap is what is missing at one place of the recording.
type gap struct {
	open   bool
	at     int64 // event time of the first that is missing, ns
	why    string
	counts []count
	notes  []bus.Note // marks and the like, which are told all the same
}

// maxGapNotes bounds the notes of a gap.
const maxGapNotes = 64

// begin opens the gap if it is not.
func (g *gap) begin(at int64, why string) {
	if !g.open {
		g.open, g.at, g.why = true, at, why
	}
}

// add takes in a segment that is lost.
func (g *gap) add(s *segment, why string) {
	g.begin(s.first, why)
	for n := range s.counts {
		of(&g.counts, n).add(&s.counts[n])
	}
}

// next returns a note for what is missing and takes it out of the gap; false
// when nothing is left.
func (g *gap) next(names []string) (bus.Note, bool) {
	for n := range g.counts {
		c := &g.counts[n]
		for p := range places {
			place := bus.Place(p)
			count, bytes := c.lost[p], uint64(0)
			c.lost[p] = 0
			if place == bus.Recorder {
				count += c.frames
				bytes = c.bytes
				c.frames, c.bytes = 0, 0
			}
			if count == 0 && bytes == 0 {
				continue
			}
			return bus.Note{At: g.at, Kind: bus.Loss, Source: uint16(n), Count: count, Place: place, Text: lossText(count, bytes, nameOf(names, n), place, g.why)}, true
		}
	}
	if len(g.notes) > 0 {
		note := g.notes[0]
		g.notes = g.notes[1:]
		return note, true
	}
	g.open, g.notes = false, nil
	return bus.Note{}, false
}

// lossText puts a loss into words.
func lossText(count, bytes uint64, name string, place bus.Place, why string) string {
	what := fmt.Sprintf("%d frames", count)
	if count == 1 {
		what = "1 frame"
	}
	if bytes > 0 {
		what += fmt.Sprintf(" (%d bytes)", bytes)
	}
	if place != bus.Recorder {
		return what + " of " + name + " were lost before they were heard, told again because the part that told it was lost"
	}
	return what + " of " + name + " heard but not recorded: " + why
}

// nameOf returns the name of a source, also of one that has none.
func nameOf(names []string, source int) string {
	if source < len(names) && names[source] != "" {
		return names[source]
	}
	return fmt.Sprintf("source %d", source)
}
