package checks

// components are the quantities of a row, fx to mz.
const components = 6

// Row is what one message brought of a corner's components, at one time stamp.
type Row struct {
	At    int64
	Have  uint8 // bit q: V[q] is there
	New   uint8 // bit q: it is not the value before it
	Group uint8 // which of the corner's messages
	V     [components]float64
}

func (r *Row) has(q Quantity) bool { return r.Have&(1<<q) != 0 }

// waiting holds rows until the angle after them is known: the angle is
// interpolated, never extrapolated. Its memory is fixed; the oldest row goes
// when it is full, as happens only where the angle has stopped.
type waiting struct {
	rows    [128]Row
	head, n int
	Dropped int64
}

func (w *waiting) push(r *Row) {
	if w.full() {
		w.head = (w.head + 1) % len(w.rows)
		w.n--
		w.Dropped++
	}
	// Value by value: copied in pieces of 16 bytes what was just stored in pieces of 8 stalls the processor.
	to := &w.rows[(w.head+w.n)%len(w.rows)]
	to.At, to.Have, to.New, to.Group = r.At, r.Have, r.New, r.Group
	to.V[0], to.V[1], to.V[2], to.V[3], to.V[4], to.V[5] = r.V[0], r.V[1], r.V[2], r.V[3], r.V[4], r.V[5]
	w.n++
}

func (w *waiting) full() bool { return w.n == len(w.rows) }

// first returns the oldest row; there must be one.
func (w *waiting) first() *Row { return &w.rows[w.head] }

func (w *waiting) drop() {
	w.head = (w.head + 1) % len(w.rows)
	if w.n--; w.n == 0 {
		w.head = 0 // few are ever waiting: the same lines of the cache serve them
	}
}
