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

// After twinMany comparisons of a corner, or of an optical sensor, they become rarer still: what is to be known is known.
const (
	twinMany   = 20_000
	twinRarely = 101
)

// claim is a value that a channel took when it changed. It is compared when all of its moment has been heard: which of two
// messages of one time comes first tells nothing.
type claim struct {
	value    float64
	of       int32 // corner, or optical sensor
	quantity Quantity
}

// compareTwins takes a value of the corner c, of the time at, that differs from the one before it.
func (j *Judge) compareTwins(at int64, c *corner, q Quantity, v float64) {
	if c.untilTwin = twinEvery; c.compared >= twinMany {
		c.untilTwin = twinRarely
	}
	c.compared++
	j.claim(at, c.index, q, v)
}

// claim keeps a value until its moment is over.
func (j *Judge) claim(at int64, of int, q Quantity, v float64) {
	if len(j.claims) == cap(j.claims) { // the clock stands
		j.settleClaims()
	}
	j.claims, j.claimed = append(j.claims, claim{v, int32(of), q}), at
}

// settleClaims compares what has been claimed.
func (j *Judge) settleClaims() {
	for i := range j.claims {
		if c := &j.claims[i]; c.quantity >= HeightOuter {
			j.settleOptic(c)
		} else {
			j.settleCorner(c)
		}
	}
	j.claims = j.claims[:0]
}

func (j *Judge) settleCorner(c *claim) {
	q := c.quantity
	for i := range j.corners {
		if i == int(c.of) {
			continue
		}
		o := &j.corners[i]
		last := o.theta
		if q < components {
			last = o.value[q]
		}
		t := &j.corners[c.of].twins[i]
		t.Changes[q]++
		if c.value == last {
			t.Equal[q]++
		}
	}
}

func (j *Judge) settleOptic(c *claim) {
	k := c.quantity - HeightOuter
	o := &j.optics[c.of]
	for i := range j.optics {
		if i != int(c.of) && j.optics[i].setup.Kind == o.setup.Kind {
			o.twins[i].changes[k]++
			if c.value == j.optics[i].last[k] {
				o.twins[i].equal[k]++
			}
		}
	}
}
