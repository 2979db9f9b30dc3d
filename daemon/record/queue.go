package record

import (
	"slices"
	"sync"

	"plumbline/bus"
	"plumbline/bus/pcapng"
	"plumbline/bus/serialport"
)

// maxPacket bounds what a frame takes: head, 72 bytes, direction, length.
const maxPacket = 128

// queue turns batches into segments. Write fills the last one while the writer
// takes those before it; mu is held for memory only, never for the disk.
type queue struct {
	mu       sync.Mutex
	closed   bool
	why      string // why there may be no room
	isSerial map[string]bool
	names    []string
	ifaces   []uint32 // of each source, its number in every part
	serial   []bool   // of each source
	blocks   [][]byte // the descriptions of the interfaces, by number; 0 are the events

	described int // interfaces that the stream of segments has described
	pending   []*segment
	free      []*segment
	made      int // segments there are
	most      int // segments there may be
	gap       gap // behind the last segment
	balances  Balances
	windows   []window // of event time around failures, in order
}

func newQueue(size int, serial []string) *queue {
	q := &queue{
		most: max(4, size/segmentSize), isSerial: make(map[string]bool),
		blocks: [][]byte{pcapng.AppendInterface(nil, pcapng.Events, "")},
		why:    whyFull,
	}
	for _, name := range serial {
		q.isSerial[name] = true
	}
	return q
}

const whyFull = "the disk did not keep up and the queue to it was full"

// write takes in a batch and reports whether a segment is full.
func (q *queue) write(b *bus.Batch, names []string) (full bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.know(names)
	for i := range b.Chunks {
		q.known(int(b.Chunks[i].Source))
		q.port(int(b.Chunks[i].Source))
	}
	n, c := 0, 0
	for i := range b.Frames {
		for ; n < len(b.Notes) && b.Notes[n].Before <= i; n++ {
			q.note(&b.Notes[n])
		}
		for ; c < len(b.Chunks) && b.Chunks[c].Before <= i; c++ {
			q.chunk(&b.Chunks[c])
		}
		q.frame(&b.Frames[i])
	}
	for ; n < len(b.Notes); n++ {
		q.note(&b.Notes[n])
	}
	for ; c < len(b.Chunks); c++ {
		q.chunk(&b.Chunks[c])
	}
	return len(q.pending) > 1
}

// know takes in names that are new.
func (q *queue) know(names []string) {
	for n := len(q.names); n < len(names); n++ {
		name := nameOf(names, n)
		serial, kind := q.isSerial[name], pcapng.CAN
		if serial {
			kind = pcapng.Serial
		}
		q.names = append(q.names, name)
		q.serial = append(q.serial, serial)
		q.ifaces = append(q.ifaces, uint32(len(q.blocks)))
		q.blocks = append(q.blocks, pcapng.AppendInterface(nil, kind, name))
	}
	q.balances.know(q.names)
}

// known makes sure that a source has a name.
func (q *queue) known(source int) {
	for len(q.names) <= source {
		q.know(append(slices.Clip(q.names), ""))
	}
}

// port makes a source a serial port.
func (q *queue) port(source int) {
	if q.serial[source] {
		return
	}
	q.serial[source] = true
	q.ifaces[source] = uint32(len(q.blocks))
	q.blocks = append(q.blocks, pcapng.AppendInterface(nil, pcapng.Serial, q.names[source]))
}

func (q *queue) frame(f *bus.Frame) {
	source := int(f.Source)
	q.known(source)
	q.balances.list[source].Received++
	size := maxPacket
	if q.serial[source] {
		size = 0 // its bytes stand there already
	}
	s := q.reserve(size)
	if s == nil {
		q.gap.begin(f.At, q.why)
		of(&q.gap.counts, source).frames++
		q.balances.list[source].Lost[bus.Recorder]++
		return
	}
	if size > 0 {
		s.buf = pcapng.AppendFrame(s.buf, q.ifaces[source], f)
	}
	of(&s.counts, source).frames++
	s.span(f.At)
}

func (q *queue) chunk(c *bus.Chunk) {
	source := int(c.Source)
	q.balances.list[source].Bytes += uint64(len(c.Data))
	for data := c.Data; len(data) > 0; {
		piece := data[:min(len(data), pcapng.MaxChunk)]
		data = data[len(piece):]
		s := q.reserve(len(piece) + maxPacket)
		if s == nil {
			q.gap.begin(c.At, q.why)
			of(&q.gap.counts, source).bytes += uint64(len(piece))
			continue
		}
		s.buf = pcapng.AppendChunk(s.buf, q.ifaces[source], c.At, piece)
		of(&s.counts, source).bytes += uint64(len(piece))
		s.span(c.At)
	}
}

func (q *queue) note(n *bus.Note) {
	source := int(n.Source)
	switch n.Kind {
	case bus.Loss, bus.LinkChanged, bus.Garbage:
		q.known(source)
		if n.Place != bus.Recorder { // told by a recording that is recorded again: never received here
			q.balances.loss(n)
		}
		if q.serial[source] && serialport.Derived(n) {
			return // told again by whoever cuts the bytes
		}
	case bus.Mark, bus.Clock, bus.Warning, bus.Tick, bus.Told, bus.BothClocks:
		source = 0
	}
	s := q.reserve(pcapng.MaxNoteSize)
	if s == nil {
		q.gap.begin(n.At, q.why)
		last := len(q.gap.notes) - 1
		switch {
		case n.Kind == bus.Tick && last >= 0 && q.gap.notes[last].Kind == bus.Tick:
			q.gap.notes[last] = *n // time went on
		case n.Kind == bus.BothClocks: // there is one every second
		case n.Kind == bus.Loss && int(n.Place) < places && n.Count > 0:
			of(&q.gap.counts, source).lost[n.Place] += n.Count
		case len(q.gap.notes) < maxGapNotes:
			q.gap.notes = append(q.gap.notes, *n)
		}
		return
	}
	q.put(s, n)
}

// put appends a note to a segment with room.
func (q *queue) put(s *segment, n *bus.Note) {
	name := ""
	switch n.Kind {
	case bus.Loss, bus.LinkChanged, bus.Garbage:
		name = q.names[n.Source]
	case bus.Mark, bus.Clock, bus.Warning, bus.Tick, bus.Told, bus.BothClocks:
	}
	s.buf = pcapng.AppendNote(s.buf, 0, n, name)
	if n.Kind == bus.Loss && int(n.Place) < places {
		of(&s.counts, int(n.Source)).lost[n.Place] += n.Count
	}
	s.span(n.At)
}

// reserve returns the segment that has room for n bytes, after all that has to
// stand before them; nil when the queue is full.
func (q *queue) reserve(n int) *segment {
	if q.closed {
		return nil
	}
	if q.gap.open {
		if len(q.free) == 0 && q.made == q.most {
			return nil // what is missing is told once there is room for a while
		}
		q.fresh()
	}
	for q.described < len(q.blocks) {
		block := q.blocks[q.described]
		s := q.room(len(block))
		if s == nil {
			return nil
		}
		s.buf = append(s.buf, block...)
		q.described++
		s.upto = q.described
	}
	for q.gap.open {
		s := q.room(pcapng.MaxNoteSize)
		if s == nil {
			return nil
		}
		if note, ok := q.gap.next(q.names); ok {
			q.put(s, &note)
		}
	}
	return q.room(n)
}

// room returns the last segment if n bytes fit into it, else a new one, or nil.
func (q *queue) room(n int) *segment {
	if k := len(q.pending); k > 0 {
		if s := q.pending[k-1]; cap(s.buf)-len(s.buf) >= n {
			return s
		}
	}
	return q.fresh()
}

// fresh begins a segment; nil when there are as many as there may be.
func (q *queue) fresh() *segment {
	var s *segment
	switch k := len(q.free); {
	case k > 0:
		s = q.free[k-1]
		q.free = q.free[:k-1]
	case q.made < q.most:
		s = &segment{buf: make([]byte, 0, segmentSize)}
		q.made++
	default:
		return nil
	}
	s.ifaces, s.upto = q.described, q.described
	q.pending = append(q.pending, s)
	return s
}

// take moves segments to the end of list: the full ones, or all.
func (q *queue) take(list []*segment, all bool) []*segment {
	q.mu.Lock()
	defer q.mu.Unlock()
	n := len(q.pending)
	if !all {
		n = max(0, n-1)
	}
	list = append(list, q.pending[:n]...)
	q.pending = append(q.pending[:0], q.pending[n:]...)
	return list
}

// give takes segments back. Their frames are written, or else lost.
func (q *queue) give(list []*segment, written bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for _, s := range list {
		for n := range s.counts {
			if written {
				q.balances.list[n].Written += s.counts[n].frames
			} else {
				q.balances.list[n].Lost[bus.Recorder] += s.counts[n].frames
			}
		}
		if !s.extra {
			s.reset()
			q.free = append(q.free, s)
		}
	}
}

// waiting returns how many segments are on their way, and how many there may be.
func (q *queue) waiting() (n, most int) {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.made - len(q.free), q.most
}

// close makes every further batch lost.
func (q *queue) close() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.closed, q.why = true, "recording had ended"
}

// last returns a segment that tells the gap at the end; nil when there is none.
func (q *queue) last() *segment {
	q.mu.Lock()
	defer q.mu.Unlock()
	if !q.gap.open {
		return nil
	}
	s := &segment{ifaces: q.described, extra: true}
	for ; q.described < len(q.blocks); q.described++ {
		s.buf = append(s.buf, q.blocks[q.described]...)
	}
	s.upto = q.described
	for {
		note, ok := q.gap.next(q.names)
		if !ok {
			return s
		}
		q.put(s, &note)
	}
}

// blame says why what does not fit is lost; "" that the disk is slow.
func (q *queue) blame(why string) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if why == "" {
		why = whyFull
	}
	q.why = why
}

// snapshot returns the balances, and what a writer has to know of the sources.
func (q *queue) snapshot() []Balance {
	q.mu.Lock()
	defer q.mu.Unlock()
	list := q.balances.List()
	for n := range list {
		b := &list[n]
		b.Pending = b.Received - b.Written - b.Lost[bus.Recorder]
	}
	return list
}

// sources returns the names, the interfaces of each, and the first n descriptions.
func (q *queue) sources(n int) (names []string, ifaces []uint32, described []byte) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for _, block := range q.blocks[:n] {
		described = append(described, block...)
	}
	return append(names, q.names...), append(ifaces, q.ifaces...), described
}
