package checks

import (
	"math"
	"slices"
)

// Judge takes samples and marks in the order in which they were heard and says,
// whenever it is asked, what they show. It belongs to one goroutine.
type Judge struct {
	setup    Setup
	messages []message
	channels []channel
	corners  []corner
	optics   []optic
	ground   ground
	rolls    Roll
	driving  driving
	marks    []Marked
	buses    []Bus // by source

	started    bool
	first, now int64 // ns
	clock      clock
	moved      bool  // a wheel began or ceased to turn, was lifted or let down: moving is to be called
	movedAt    int64 // ns
	begun      bool  // moving has been called
	follows    follower
	angles     bool // some wheel has an angle
	steering   steering
	slopes     []float64 // fy ÷ load of the wheels in one standstill
	settled    bool      // it has rolled since it was let down
	rolled     bool      // it rolled when paces was called last
	paceNext   int64     // ns
	claims     []claim   // values to be compared when the moment claimed is over
	claimed    int64     // ns
}

// Marked is a person's word and what was understood of it.
type Marked struct {
	At     int64 // ns
	Text   string
	word   string
	corner int // or, of a board or a hand, the optical sensor
}

type message struct {
	source   int
	gapNs    int64 // a longer interval is looked at
	timing   Timing
	counter  bool
	corners  []int // that use it
	optics   []int
	channels []int32
	away     int64 // intervals longer than alive allows
	pace     pace
}

// New returns a Judge for one vehicle. The setup is taken as valid: channels,
// messages and corners that it refers to exist. There are at most 64 corners.
func New(s Setup) *Judge {
	j := &Judge{
		setup:    s,
		messages: make([]message, len(s.Messages)),
		channels: make([]channel, len(s.Channels)),
		corners:  make([]corner, len(s.Corners)),
		optics:   make([]optic, len(s.Optics)),
		buses:    make([]Bus, len(s.Sources)),
		clock:    clock{sources: make([]sourceClock, len(s.Sources))},
		claims:   make([]claim, 0, 16*(len(s.Corners)+len(s.Optics))),
	}
	for i := range s.Messages {
		j.messages[i].source = s.Messages[i].Source
		j.messages[i].timing.Nominal = s.Messages[i].Period
		j.messages[i].pace.configure(&s.Limits)
	}
	for i := range s.Channels {
		j.channels[i] = channel{corner: -1, optic: -1, quantity: s.Channels[i].Quantity}
		m := &j.messages[s.Channels[i].Message]
		m.channels = append(m.channels, int32(i))
	}
	use := func(chs *Channels, corner, optic int) {
		for q, ch := range chs {
			if ch == None {
				continue
			}
			c := &j.channels[ch]
			c.corner, c.optic, c.quantity, c.used, c.job = int32(corner), int32(optic), Quantity(q), true, jobOf(Quantity(q), optic)
			m := &j.messages[s.Channels[ch].Message]
			if corner >= 0 && !slices.Contains(m.corners, corner) {
				m.corners = append(m.corners, corner)
			}
			if optic >= 0 && !slices.Contains(m.optics, optic) {
				m.optics = append(m.optics, optic)
			}
			if Quantity(q) == Counter && !m.counter {
				m.counter = true
				m.timing.modulus = math.Abs(s.Channels[ch].High-s.Channels[ch].Low) + s.Channels[ch].Step
			}
		}
	}
	for i := range s.Corners {
		j.corners[i] = newCorner(&j.setup, i)
		if ch := s.Corners[i].Channels[Fz]; ch != None {
			j.corners[i].radialTiming = &j.messages[s.Channels[ch].Message].timing
		}
		use(&s.Corners[i].Channels, i, -1)
	}
	for i := range s.Optics {
		j.optics[i] = newOptic(&j.setup, i)
		use(&s.Optics[i].Channels, -1, i)
	}
	j.ground, j.rolls, j.driving = newGround(j), newRoll(&j.setup), newDriving(&j.setup)
	j.steering = newSteering(&j.setup)
	j.follow()
	return j
}

// Message takes one message that arrived at the time at, ns, with length bytes of
// data; short says that it was too short for a signal that is wanted. The samples
// are those of the message.
func (j *Judge) Message(at int64, index, length int, short bool, samples []Sample) {
	m := &j.messages[index]
	last := m.timing.Last
	if m.timing.Count == 0 {
		last = at
	}
	at, stepped := j.clock.message(m.source, at, last, j.now)
	if !j.started {
		j.started, j.first, j.now = true, at, at
	}
	j.now = max(j.now, at)
	if j.moved && at > j.movedAt {
		j.moving(at)
	}
	if len(j.claims) > 0 && at != j.claimed {
		j.settleClaims()
	}
	if at-last > m.gapNs {
		j.gap(m, last, at)
	}
	if stepped {
		j.breakOff(at)
		m.timing.haveCount = false
		for i := range j.corners {
			j.corners[i].restart()
		}
		for i := range j.optics {
			j.optics[i].stop()
		}
		j.rolls.stop()
	}
	if at >= j.ground.next {
		j.look(at)
	}
	m.timing.Message(at)
	if short {
		m.timing.Short++
		m.timing.ShortLength = length
	}
	for i := range samples {
		j.sample(at, &samples[i], m)
	}
	for _, i := range m.corners {
		c := &j.corners[i]
		if c.row.Have == 0 && !c.angle && !c.spins {
			continue // it brought nothing for this one
		}
		c.flush(at, j.corners)
		if c.state() != c.was {
			j.moved, j.movedAt = true, at
		}
	}
}

// Mark takes a person's word: "turn FL", "lift FL", "on the lift", "down"; any other text is kept.
func (j *Judge) Mark(at int64, text string) {
	at = j.clock.mark(at, j.now)
	word, corner := j.markWord(at, text)
	if len(j.marks) < 1000 {
		j.marks = append(j.marks, Marked{At: at, Text: text, word: word, corner: corner})
	}
}

// Advance says that event time has gone on to at, ns, whether or not anything was
// heard. Silence is found by it.
func (j *Judge) Advance(at int64) {
	at = j.clock.advance(at, j.now)
	if !j.started {
		j.started, j.first, j.now = true, at, at
	}
	j.now = max(j.now, at)
	if len(j.claims) > 0 && at > j.claimed {
		j.settleClaims()
	}
	j.others(at)
	j.stale(at)
	j.driving.settle(at)
}

// ClockSet takes it that the clock which stamps what is heard was set by step, ns, as a reader noticed: several may tell
// the same. It reports whether that is news. What comes then is later by what passed, not by the step.
func (j *Judge) ClockSet(step int64) bool { return j.started && j.clock.set(step, j.now) }

// EventTime returns what the time at of the clock that stamps what is heard is in event time, ns: the times of a Result
// are. They are the same until a clock was set.
func (j *Judge) EventTime(at int64) int64 { return j.clock.advance(at, j.now) }

// Ahead returns by how much event time is ahead of the clock that stamps what is heard, as it was set last, ns: 0 until it was set.
func (j *Judge) Ahead() int64 {
	if len(j.clock.sources) == 0 {
		return 0
	}
	return j.clock.sources[j.clock.last].shift
}

// others tells each wheel that stands whether all others roll.
func (j *Judge) others(at int64) {
	for i := range j.corners {
		c := &j.corners[i]
		rolling := len(j.corners) > 1 && c.encoder.still() && at-c.encoder.at[c.encoder.have-1] < 5e8
		for k := range j.corners {
			o := &j.corners[k]
			rolling = rolling && o.condition.hang == Loaded && (k == i || o.encoder.moving)
		}
		c.standstill.others(at, rolling, c.encoder.moving)
	}
}

// elapsed returns the event time since the first frame, s.
func (j *Judge) elapsed() float64 { return float64(j.now-j.first) * 1e-9 }
