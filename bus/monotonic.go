package bus

// MonotonicTime tells when frames were heard on the clock that nobody can set, from the [BothClocks] and [Clock]
// notes among them. Frames carry the wall clock alone, which steps when somebody sets it or the first
// satellite is seen; with this the time between two frames is known all the same. The zero value knows nothing yet. Notes and frames
// are given in the order in which they were heard.
//
// A frame's monotonic time is as exact as its stamp, but for what the wall clock was slewed or set by less
// than a reader calls a step (50 ms) since the clocks were last read together, a second ago at the most; between a
// step and the next reading, which follows at once, the step as it was measured is taken.
type MonotonicTime struct {
	offset int64 // wall clock less monotonic one, ns
	known  bool
}

// Note takes a note; kinds that say nothing of clocks are passed over.
func (m *MonotonicTime) Note(n *Note) {
	switch n.Kind {
	case BothClocks:
		m.offset, m.known = n.At-n.Monotonic, true
	case Clock:
		m.offset += n.Step
	default:
	}
}

// Of returns the monotonic time of a frame with the stamp at, ns; known is false where no note has told it yet.
func (m *MonotonicTime) Of(at int64) (monotonic int64, known bool) { return at - m.offset, m.known }
