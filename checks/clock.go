package checks

// clockStepNs is by how much the time stamps of one message must go back for a step of
// the clock, ns; less is how stamps of a bus scatter.
const clockStepNs = 50e6

// clock keeps event time going on where the time stamps of a source step back: from the
// step on, what came later is later. Evidence is gathered in that time; until a clock
// steps it is that of the stamps.
type clock struct {
	shift []int64 // by source, ns: added to its stamps
	last  int     // source that spoke last
	Steps int64
	At    int64 // ns, of the first stamp after the newest step
}

// message returns the event time of a message of source s that was stamped at, where last is
// the event time of the one before it, and whether the clock has stepped back between the two.
func (c *clock) message(s int, at, last, now int64) (event int64, stepped bool) {
	c.last = s
	if event = at + c.shift[s]; event >= last-clockStepNs {
		return event, false
	}
	c.shift[s] += now - event
	c.Steps++
	c.At = at
	return now, true
}

// mark returns the event time of what a person said: on the clock of the source that spoke last.
func (c *clock) mark(at int64) int64 {
	if len(c.shift) == 0 {
		return at
	}
	return at + c.shift[c.last]
}

// advance returns the event time that has been reached for sure.
func (c *clock) advance(at int64) int64 {
	if len(c.shift) == 0 {
		return at
	}
	least := c.shift[0]
	for _, s := range c.shift {
		least = min(least, s)
	}
	return at + least
}

// restart ends what is under way at a corner when the clock has stepped: nobody knows how long that took.
func (c *corner) restart() {
	c.encoder.Runs++
	c.encoder.have, c.encoder.moving, c.encoder.Omega = 0, false, 0
	c.turn.abort()
	c.waiting.n = 0
	c.rest.since, c.rest.start = 0, 0
	c.phases.on = false
	c.bunching.stop()
	c.standstill.on, c.standstill.spinAt, c.standstill.last = false, 0, 0
	for i := range c.hold {
		c.hold[i].ok = false
	}
	for i := range c.answers {
		c.answers[i].lap.on = false
	}
}
