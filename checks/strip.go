package checks

// A strip is what a channel did in the last minute, for who looks at it: columns of a quarter of a second each.
const (
	StripColumns = 240                         // of the last minute, the one under way left out
	ColumnNs     = int64(60e9) / StripColumns  // ns of event time that a column lasts
	blockColumns = 16                          // columns that are handed out together
	stripSlots   = StripColumns + blockColumns // a whole number of blocks
	stripBlocks  = stripSlots/blockColumns + 1 // that the last minute can touch
)

// Column is what a channel did in one column. Without samples nothing else is known.
type Column struct {
	Samples         int32
	Low, High, Mean float32 // SI
}

// Block is some columns in a row. Nobody changes one that was handed out.
type Block struct {
	First   int64 // number of its first column: event time divided by ColumnNs
	Columns [blockColumns]Column
}

// strip gathers the columns of one channel. Its memory is fixed; add allocates nothing.
type strip struct {
	until int64 // ns, end of the column under way
	now   int64 // its number
	slots [stripSlots]slot
	done  [stripBlocks]*Block // whole blocks that were handed out, by number of the block modulo stripBlocks
}

// slot holds the sums of one column.
type slot struct {
	number    int64 // of the column; it holds nothing while n is 0
	n         int32
	low, high float32
	sum       float64
}

// setBack is by how much a stamp must lie before the newest for the clock to have been set, ns.
const setBack = int64(2e9)

// add takes a finite value. One whose stamp lies before the column under way counts in it; where the clock was set
// back the strip begins anew.
func (s *strip) add(at int64, v float64) {
	if at >= s.until || s.until-at > setBack {
		if at < s.until {
			*s = strip{}
		}
		s.now = at / ColumnNs
		s.until = (s.now + 1) * ColumnNs
		s.slots[uint64(s.now)%stripSlots] = slot{number: s.now}
	}
	c := &s.slots[uint64(s.now)%stripSlots]
	w := float32(v)
	if c.n == 0 {
		c.low, c.high = w, w
	}
	c.n++
	c.sum += v
	if w < c.low {
		c.low = w
	}
	if w > c.high {
		c.high = w
	}
}

// blocks returns the blocks that the last minute before the time now, ns, lies in, oldest first. Those that hold
// nothing are left out.
func (s *strip) blocks(now int64) []*Block {
	last := now / ColumnNs
	var out []*Block
	for number := (last - StripColumns) / blockColumns; number <= last/blockColumns; number++ {
		kept := &s.done[uint64(number)%stripBlocks]
		b := *kept
		if b == nil || b.First != number*blockColumns {
			if b = s.block(number); b != nil && (number+1)*blockColumns <= s.now {
				*kept = b // no sample comes into it any more
			}
		}
		if b != nil {
			out = append(out, b)
		}
	}
	return out
}

// block makes a block of what is known of it; nil: nothing.
func (s *strip) block(number int64) *Block {
	b := &Block{First: number * blockColumns}
	some := false
	for i := range b.Columns {
		c := &s.slots[uint64(b.First+int64(i))%stripSlots]
		if c.n > 0 && c.number == b.First+int64(i) {
			b.Columns[i] = Column{Samples: c.n, Low: c.low, High: c.high, Mean: float32(c.sum / float64(c.n))}
			some = true
		}
	}
	if !some {
		return nil
	}
	return b
}
