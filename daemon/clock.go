package daemon

import (
	"fmt"
	"math"
	"time"
)

const (
	// Grid is the step of event time at which a judge is told that time went on,
	// live and in a replay alike.
	Grid = int64(100 * time.Millisecond)

	// stepBack is how far a time stamp may lie before one that was heard earlier:
	// frames of several interfaces are recorded in the order in which the kernel
	// hands them over, which is off by milliseconds.
	stepBack = int64(50 * time.Millisecond)

	// jump is a silence that no test has: the clock was set, or recordings were joined.
	jump = uint64(time.Hour)

	// lateNs is how late what was stamped before a step of the clock may be delivered.
	lateNs = int64(2 * time.Second)

	// longSilence is after how many grid points of silence nothing new can come
	// of one more: the last before the next frame is told, those between are not.
	longSilence = 600
)

// clock follows event time over the frames of one source.
type clock struct {
	started     bool
	first, last int64 // of the first and of the latest frame, in the order heard
	now         int64 // the latest since the clock last stepped
	next        int64 // grid point that comes next
	owed        int64 // ns by which it was set ahead, as was told, while no stamp has shown it yet
	behind      int64 // the same once one has: others may still come from before
	toldAt      int64 // when that was told
	back, ahead steps
}

// steps counts steps of the clock in one direction and keeps where the first was.
type steps struct {
	count uint64
	frame uint64 // number of the first frame after it, from 1
	at    int64
	by    time.Duration
}

// goesOn takes a time stamp that brings nothing new but itself; false: it is one for frame.
func (c *clock) goesOn(at int64) bool {
	if at < c.now || at >= c.next {
		return false
	}
	c.last, c.now = at, at
	return true
}

// frame takes the time stamp of frame number n, and calls tick for each grid
// point that has been reached.
func (c *clock) frame(at int64, n uint64, tick func(at int64)) {
	c.last = at
	switch {
	case !c.started:
		c.started = true
		c.first = at
		c.restart(at)
	case c.showsStep(at) || c.beforeStep(at):
	case at < c.now:
		if by := uint64(c.now) - uint64(at); by > uint64(stepBack) {
			c.back.note(n, at, by)
			c.restart(at)
		}
	case uint64(at)-uint64(c.now) > jump:
		c.ahead.note(n, at, uint64(at)-uint64(c.now))
		c.restart(at)
		tick(at)
	default:
		if at-c.toldAt > 5*lateNs {
			c.owed, c.behind = 0, 0
		}
		c.now = at
		c.advance(at, tick)
	}
}

// advance calls tick for the grid points up to at.
func (c *clock) advance(at int64, tick func(at int64)) {
	for range longSilence {
		if c.next > at {
			return
		}
		tick(c.next)
		c.next += Grid
	}
	if c.next <= at {
		c.next = gridAfter(at)
		tick(c.next - Grid)
	}
}

// idle takes it that event time has reached at and nothing was heard: that is no step of the clock.
func (c *clock) idle(at int64, tick func(at int64)) {
	if c.showsStep(at) {
		tick(at)
	} else if at > c.now && uint64(at)-uint64(c.now) <= jump {
		c.now = at
		c.advance(at, tick)
	}
}

// set takes it that the clock was set by step ns, as who reads has told at the time at, of the old clock or of the
// new one. The grid goes on from the new time, whether or not something is heard.
func (c *clock) set(step, at int64) {
	c.owed, c.behind, c.toldAt = max(0, step), 0, c.now
	if step <= 0 {
		c.restart(at)
	} else {
		c.showsStep(at)
	}
}

// showsStep tells whether a time stamp is of the clock that was set ahead, and the first that is: the time between is none that passed.
func (c *clock) showsStep(at int64) bool {
	if c.owed == 0 || at-c.now <= c.owed/2 {
		return false
	}
	c.owed, c.behind, c.toldAt = 0, c.owed, at
	c.restart(at)
	return true
}

// beforeStep tells whether a time stamp is of the clock before it was set ahead: another source delivers later.
func (c *clock) beforeStep(at int64) bool {
	late := c.now - at - c.behind // ns, of the stamp
	return c.behind != 0 && at < c.now && late > -lateNs && late < lateNs
}

// restart begins a new run of event time.
func (c *clock) restart(at int64) {
	c.now = at
	c.next = gridAfter(at)
}

// gridAfter returns the first grid point after at. Near the end of what 64 bits
// can count there is none.
func gridAfter(at int64) int64 {
	if at > math.MaxInt64-2*Grid {
		return math.MaxInt64
	}
	return at - (at%Grid+Grid)%Grid + Grid
}

func (s *steps) note(n uint64, at int64, by uint64) {
	if s.count == 0 {
		s.frame, s.at, s.by = n, at, time.Duration(min(by, math.MaxInt64))
	}
	s.count++
}

// warnings says what the clock did that a clock should not do.
func (c *clock) warnings() []string {
	var out []string
	tell := func(s *steps, direction string) {
		if s.count == 0 {
			return
		}
		text := fmt.Sprintf("time stamps step %s by %.3f s at frame %d (%s)", direction, s.by.Seconds(), s.frame, Instant(s.at))
		if s.count > 1 {
			text += fmt.Sprintf(", and %s in all", times(s.count))
		}
		out = append(out, text+": what was being measured there began anew")
	}
	tell(&c.back, "back")
	tell(&c.ahead, "forward")
	return out
}

func times(n uint64) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}
