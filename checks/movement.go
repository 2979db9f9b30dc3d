package checks

import "math"

// movement says what a wheel did, in the words of a sentence.
type movement uint8

const (
	stands    movement = iota
	hangs              // lifted, not turned
	turns              // lifted, turned
	rolls              // it or any other wheel turns on the ground
	movements          // how many there are
)

func (m movement) String() string {
	return [movements]string{"at rest on the ground", "lifted and at rest", "lifted and turned", "rolling"}[m]
}

// angleStaleNs is after how long without its angle a wheel is not taken as turning, ns.
const angleStaleNs = 5e8

// moving works out anew what all wheels do, when one has begun or ceased to turn or was lifted or
// let down. It waits until a later time stamp comes, so that the order of messages that
// share one does not show.
func (j *Judge) moving(at int64) {
	j.moved = false
	rolling := false
	for i := range j.corners {
		c := &j.corners[i]
		c.was = c.state()
		e := &c.encoder
		if e.moving && e.have > 0 && at-e.at[e.have-1] < angleStaleNs && c.condition.hang != Lifted {
			rolling = true
		}
	}
	for i := range j.corners {
		c := &j.corners[i]
		e := &c.encoder
		turning := e.moving && e.have > 0 && at-e.at[e.have-1] < angleStaleNs
		m := stands
		switch {
		case rolling:
			m = rolls
		case turning:
			m = turns
		case c.condition.hang == Lifted:
			m = hangs
		}
		if j.begun && m == c.movement {
			continue
		}
		c.movement = m
		for k := range c.blocks {
			c.blocks[k].restart(at, j.angles && m < turns)
		}
		for q := range components {
			if ch := c.setup.Channels[q]; ch != None {
				s := &j.channels[ch].signal
				s.setBound(m == rolls)
				s.watch(at, j.angles && m != rolls)
			}
		}
	}
	j.begun = true
}

// state is what a change of is an event for movements.
func (c *corner) state() uint8 {
	s := uint8(c.condition.hang)
	if c.encoder.moving {
		s |= 4
	}
	return s
}

// stale asks for that where a turning wheel's angle has ceased to come.
func (j *Judge) stale(at int64) {
	for i := range j.corners {
		e := &j.corners[i].encoder
		if e.moving && e.have > 0 && at-e.at[e.have-1] >= angleStaleNs && (j.corners[i].movement == turns || j.corners[i].movement == rolls) {
			j.moved, j.movedAt = true, at-1
		}
	}
}

// gap notes that a message stayed away from last to at: what its channels show after it does not
// follow from what they showed before.
func (j *Judge) gap(m *message, last, at int64) {
	m.gapNs = 100e6
	if p := m.timing.InUse(); p > 0 {
		m.gapNs = int64(math.Max(5*p*1e9, 100e6))
	}
	if at-last > m.gapNs {
		j.interrupt(m, last, at)
	}
	allowed := int64(m.timing.allowed(&j.setup.Limits) * 1e9)
	if m.gapNs = min(m.gapNs, allowed); m.timing.Count > 0 && at-last > allowed {
		m.away++
		m.pace.silence(at-last, m.timing.InUse())
	}
}

// breakOff does the same for all messages: the clock has stepped.
func (j *Judge) breakOff(at int64) {
	for i := range j.messages {
		m := &j.messages[i]
		j.interrupt(m, min(m.timing.Last, at), at)
	}
}

func (j *Judge) interrupt(m *message, last, at int64) {
	for _, ch := range m.channels {
		x := &j.channels[ch]
		if x.corner >= 0 && x.quantity < components {
			x.signal.gap(m.timing.First, last, at, j.corners[x.corner].value[x.quantity])
		}
	}
	for _, i := range m.corners {
		c := &j.corners[i]
		for k := range c.blocks {
			if b := &c.blocks[k]; b.timing == &m.timing {
				b.restart(at, b.from != never)
			}
		}
	}
}

// follow makes what follows the channels of the wheels.
func (j *Judge) follow() {
	for i := range j.corners {
		c := &j.corners[i]
		for q, ch := range c.setup.Channels {
			if ch == None {
				continue
			}
			x := &j.channels[ch]
			switch q := Quantity(q); {
			case q < components:
				x.signal = newSignal(&j.setup.Channels[ch], c.setup, q)
			case q == Angle:
				j.angles = true
			default:
				if w, ok := newWatch(&j.setup.Channels[ch], q, &j.setup.Limits); ok {
					x.watch, x.job = w, slowJob
				}
			}
		}
		c.blocks = newBlocks(j, c)
		c.still.configure(c, &j.setup.Limits)
		c.warmth.Warm = trend{base: warmthBase, window: warmthWindow, limit: j.setup.Limits.DriftTemperatureK}
	}
	j.moved, j.movedAt = true, math.MinInt64
}
