package checks

// twin counts how often a channel, each time it changed, had become what the same
// channel of another corner was. Noise makes that rare; a channel that is wired or
// mapped twice does it each time, on one side at least.
type twin struct {
	Equal   [Quantities]int64
	Changes [Quantities]int64
}

// twinQuantities are those that no two corners can share by chance.
func twinQuantity(q Quantity) bool { return q <= Mz || q == Angle }

// twinEvery is how many changes pass for one that is compared: a share needs no more. It has no
// factor in common with the six components, so that each gets its turn.
const twinEvery = 5

// After twinMany comparisons of a corner they become rarer still: what is to be known is known.
const (
	twinMany   = 20_000
	twinRarely = 101
)

// compareTwins takes a value of the corner c that differs from the one before it.
func (j *Judge) compareTwins(c *corner, q Quantity, v float64) {
	if c.untilTwin = twinEvery; c.compared >= twinMany {
		c.untilTwin = twinRarely
	}
	c.compared++
	for i := range j.corners {
		if i == c.index {
			continue
		}
		o := &j.corners[i]
		last := o.theta
		if q < components {
			last = o.value[q]
		}
		t := &c.twins[i]
		t.Changes[q]++
		if v == last {
			t.Equal[q]++
		}
	}
}
