package socketcan

// tally counts what is told in two ways, by a running total that is asked for
// now and then and by single events, where either may come first or stay away.
type tally struct {
	based  bool
	base   uint64 // the total when first asked: what happened before is nobody's loss
	last   uint64 // the total when last asked
	before uint64 // counted before the total began anew
	total  uint64
	events uint64
	told   uint64
}

// sum takes the running total and returns how many are new.
func (t *tally) sum(total uint64) uint64 {
	switch {
	case !t.based:
		t.based, t.base = true, total
	case total < t.last: // the driver began anew, at zero
		t.before, t.base = t.total, 0
	}
	t.last = total
	t.total = t.before + total - t.base
	return t.news()
}

// event takes one event and returns how many are new.
func (t *tally) event() uint64 {
	t.events++
	return t.news()
}

func (t *tally) news() uint64 {
	n := max(t.total, t.events)
	if n <= t.told {
		return 0
	}
	d := n - t.told
	t.told = n
	return d
}
