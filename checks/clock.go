package checks

// clockStepNs is by how much the time stamps of one message must go back for a step of
// the clock, ns; less is how stamps of a bus scatter.
const clockStepNs = 50e6

// What is known of a clock that was set ahead; common practice.
const (
	sameStepNs = 1e8  // ns: readers that tell steps less apart than that have seen the same one,
	toldNs     = 10e9 // ns: within this time; and who has not shown it by then was told of it late
)

// clock keeps event time going on where the time stamps of a source step back, or ahead where its reader says that the
// clock was set: from the step on, what came later is later by what passed, not by what the clock was set. Evidence is
// gathered in that time; until a clock steps it is that of the stamps.
type clock struct {
	sources []sourceClock
	last    int   // source that spoke last
	told    int64 // ns, newest step that was told
	toldAt  int64 // event time, ns
	Steps   int64
	At      int64 // ns, of the first stamp after the newest step
}

// sourceClock is the clock that stamps what one source brings.
type sourceClock struct {
	shift int64 // ns, added to its stamps
	owed  int64 // ns by which it was set ahead, while no stamp of this source has shown it yet
}

// of returns the event time of a stamp, where event time has reached now.
func (x *sourceClock) of(at, now int64) int64 {
	event := at + x.shift
	if x.owed != 0 && event-now > x.owed/2 { // nearer to what the new clock shows than to the old one
		event -= x.owed
	}
	return event
}

// message returns the event time of a message of source s that was stamped at, where last is
// the event time of the one before it, and whether the clock has stepped between the two.
func (c *clock) message(s int, at, last, now int64) (event int64, stepped bool) {
	c.last = s
	x := &c.sources[s]
	if event = at + x.shift; event >= last-clockStepNs && x.owed == 0 {
		return event, false
	}
	return c.step(x, at, last, now)
}

func (c *clock) step(x *sourceClock, at, last, now int64) (event int64, stepped bool) {
	event = x.of(at, now)
	if ahead := event != at+x.shift; ahead {
		x.shift, x.owed, stepped = x.shift-x.owed, 0, true
	} else if now-c.toldAt > toldNs {
		x.owed = 0
	}
	if event < last-clockStepNs {
		x.shift += now - event
		event, stepped = now, true
	}
	if stepped {
		c.Steps++
		c.At = at
	}
	return event, stepped
}

// set takes it that the clock was set by step ns, as the reader of some source says, and tells whether that is news. Each
// source shows it by the stamps that come next; a step back needs no telling.
func (c *clock) set(step, now int64) bool {
	if d := step - c.told; c.told != 0 && d >= -sameStepNs && d <= sameStepNs && now-c.toldAt <= toldNs {
		return false
	}
	c.told, c.toldAt = step, now
	for i := range c.sources {
		x := &c.sources[i]
		x.owed = max(0, x.owed+step)
	}
	return true
}

// mark returns the event time of what a person said: on the clock of the source that spoke last.
func (c *clock) mark(at, now int64) int64 {
	if len(c.sources) == 0 {
		return at
	}
	return c.sources[c.last].of(at, now)
}

// advance returns the event time that has been reached for sure.
func (c *clock) advance(at, now int64) int64 {
	if len(c.sources) == 0 {
		return at
	}
	least := c.sources[0].of(at, now)
	for i := range c.sources {
		least = min(least, c.sources[i].of(at, now))
	}
	return least
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
