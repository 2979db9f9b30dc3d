package daemon

import (
	"slices"
	"time"

	"plumbline/bus"
	"plumbline/checks"
)

// Flow is what went through a judge so far, for who looks after the program.
type Flow struct {
	Received []uint64 // frames heard, by source of the setup; those that a filter kept out are not among them

	// With KeepCost, s: how old the first frame of each batch was when the batch had been judged, by source,
	// and how long it took to make what is known out of the evidence.
	Age  []checks.Histogram
	Look checks.Histogram
}

// oldestAge is the age from which on a stamp is of another day, a recording or a simulation, and tells nothing.
const oldestAge = time.Hour

// meter follows what judging costs. It reads the clock: once a batch and twice a look.
type meter struct {
	age  []checks.Histogram
	look checks.Histogram
	now  func() time.Time
	due  func(at int64) time.Time // when a frame stamped so, ns, was to be heard
}

// KeepCost has Snapshot tell how old frames are when they have been judged, and what a look costs; for
// who listens live.
func (j *Judge) KeepCost() {
	j.meter = &meter{age: make([]checks.Histogram, len(j.bench.setup.Sources)), now: time.Now, due: dueOf(nil)}
}

// hears says from which source frames come.
func (m *meter) hears(src bus.Source) {
	if m != nil {
		m.due = dueOf(src)
	}
}

// judged takes a batch that has been judged; its first frame came from that source of the setup, -1: from none.
func (m *meter) judged(b *bus.Batch, source int) {
	if m == nil || source < 0 || len(b.Frames) == 0 {
		return
	}
	age := m.now().Sub(m.due(b.Frames[0].At))
	if age > oldestAge || age < -oldestAge {
		return
	}
	m.age[source].Add(max(age, 0).Seconds()) // clocks that disagree by less than a frame's way make no age below 0
}

// timed runs look and counts how long that took.
func (m *meter) timed(look func()) {
	if m == nil {
		look()
		return
	}
	from := m.now()
	look()
	m.look.Add(m.now().Sub(from).Seconds())
}

// flow returns what is known now.
func (j *Judge) flow() Flow {
	f := Flow{Received: slices.Clone(j.received)}
	if j.meter != nil {
		f.Age, f.Look = slices.Clone(j.meter.age), j.meter.look
	}
	return f
}
