package checks

import "math"

// job says what is done with the values of a channel beside its level.
type job uint8

const (
	noJob job = iota
	componentJob
	angleJob
	spinJob
	counterJob
	slowJob // supply, temperature, status
	opticJob
)

// channel begins with the two cache lines that every sample touches; TestChannelLayout holds them.
type channel struct {
	corner   int32 // -1: none
	optic    int32
	quantity Quantity
	job      job
	used     bool
	recent   *recent // nil: its windows are of no use
	level    Level
	signal   Signal // of a component of a wheel
	watch    Watch  // of a slow channel of a wheel
	_        [48]byte
}

// jobOf returns the job of a channel of a wheel, or of an optical sensor, whose number is not negative then.
func jobOf(q Quantity, optic int) job {
	switch {
	case optic >= 0:
		return opticJob
	case q < components:
		return componentJob
	case q == Angle:
		return angleJob
	case q == Spin:
		return spinJob
	case q == Counter:
		return counterJob
	}
	return noJob
}

// sample takes one value of the message m, which arrived at the time at, ns.
func (j *Judge) sample(at int64, s *Sample, m *message) {
	ch, v := &j.channels[s.Channel], s.Value
	if ch.recent != nil {
		ch.recent.add(at, v)
	}
	if v-v != 0 { // NaN or infinite
		j.notANumber(at, ch, s)
		return
	}
	ch.level.add(at, s)
	switch ch.job {
	case componentJob:
		c, q := &j.corners[ch.corner], ch.quantity
		g := &ch.signal
		odd := (math.Abs(v) > g.bound || s.State != Inside) && g.unusual(at, s, c.movement)
		if before := c.value[q]; v != before {
			if math.Abs(v-before) > g.jump {
				g.jumped(at, before, v)
			}
			if g.same != 0 {
				g.endRun(m.timing.First, at, before)
			}
			g.since = at
			g.leaps.add(v - before)
			c.value[q] = v
			c.row.New |= 1 << q
			if c.untilTwin--; c.untilTwin <= 0 {
				j.compareTwins(at, c, q, v)
			}
		} else if !odd {
			g.same++
		}
		c.row.V[q] = v
		c.row.Have |= 1 << q
		c.row.Group = c.group[q]
	case angleJob:
		c := &j.corners[ch.corner]
		if v != c.theta {
			c.theta = v
			if c.untilTwin--; c.untilTwin <= 0 {
				j.compareTwins(at, c, Angle, v)
			}
		}
		c.angle = true
	case spinJob:
		c := &j.corners[ch.corner]
		c.spin, c.spins = v, true
	case counterJob:
		m.timing.CounterValue(at, v)
	case slowJob:
		ch.watch.add(at, v)
	case opticJob:
		j.optic(at, int(ch.optic), ch.quantity, s)
	case noJob:
	}
}

// notANumber takes a sample that is NaN or infinite.
func (j *Judge) notANumber(at int64, ch *channel, s *Sample) {
	ch.level.NotANum++
	switch ch.job {
	case componentJob:
		ch.signal.odd[notANumber].add(at, 0)
	case slowJob:
		ch.watch.add(at, s.Value)
	case opticJob:
		j.optic(at, int(ch.optic), ch.quantity, s)
	default:
	}
}
