package checks

import "math"

// What a strain-gauge channel does not do by itself; common practice.
const (
	frozenS       = 2.0 // s that one value must last to count as standing still
	frozenSamples = 100 // and so many samples
	spikeSamples  = 2   // a spike lasts this many samples at the most
)

// Signal is what was seen of one component channel sample by sample: runs of one value, values
// that cannot be, values at an end of the range, samples that jump away and come back. It has no
// opinion. Forces are N, moments N·m, times ns of event time.
type Signal struct {
	bound float64 // a value farther from 0 is looked at
	jump  float64 // a step larger than this is looked at
	same  int64   // repeats of the present value
	since int64   // when it became that; 0: it is the first
	leaps leaps

	Repeats int64   // in runs shorter than frozenSamples
	InRuns  int64   // samples in longer ones
	Longest run     // of the runs that have ended
	Share   float64 // the least share of repeats in a second at rest
	shares  bool    // Share is known

	Clips            int64 // samples at an end of the raw range
	ClipFrom, ClipTo int64
	ClipValue        float64          // the first of them
	ClipMoved        [movements]int64 // of them, by what the wheel did

	odd      [oddKinds]odd
	named    []NamedValue
	step     float64
	stated   [2]float64 // as described, where that is narrower than the raw range
	standing float64    // what a wheel can carry; 0: not known
	rolling  float64

	Spikes             int64
	SpikeFrom, SpikeTo int64
	SpikeLargest       float64 // size

	limit      float64 // step of a spike while they are judged, else +Inf
	learnt     float64 // the same as the noise at rest tells; 0: not known yet
	base, peak float64 // value before the jump, farthest since
	away       int64   // samples since the jump; 0: none
	awayAt     int64
	skip       int8  // so many steps are not judged
	judged     int64 // ns
	judgedFrom int64 // 0: not judged now
}

// run is a stretch in which one value was repeated.
type run struct {
	samples  int64
	from, to int64
	value    float64
}

func (r *run) seconds() float64 { return float64(r.to-r.from) * 1e-9 }

// oddKind is a reason why a value cannot be.
type oddKind uint8

const (
	notANumber oddKind = iota
	namedValue         // the description says that it means no value
	beyondStated
	beyondPhysical
	oddKinds
)

// odd is what was seen of one kind of impossible values.
type odd struct {
	count    int64
	from, to int64
	value    float64 // the farthest from 0
	text     string
}

func (o *odd) add(at int64, v float64) {
	if o.count == 0 {
		o.from = at
	}
	if o.count == 0 || math.Abs(v) > math.Abs(o.value) {
		o.value = v
	}
	o.count++
	o.to = at
}

// newSignal returns the state for a component of a wheel.
func newSignal(ch *Channel, c *Corner, q Quantity) Signal {
	s := Signal{jump: math.Inf(1), limit: math.Inf(1), named: ch.Named, step: ch.Step}
	s.leaps = newLeaps(ch.Step)
	s.stated = [2]float64{math.Inf(-1), math.Inf(1)}
	low, high := math.Min(ch.Low, ch.High), math.Max(ch.Low, ch.High)
	if ch.Min < ch.Max && (low == high || ch.Min > low+ch.Step/2 || ch.Max < high-ch.Step/2) {
		s.stated = [2]float64{ch.Min - ch.Step/2, ch.Max + ch.Step/2}
	}
	if c.LoadN > 0 {
		s.standing, s.rolling = float64(standingLoads*c.LoadN)+standingN, float64(rollingLoads*c.LoadN)
		if q >= Mx {
			s.standing *= leverM
			s.rolling *= leverM
		}
	}
	s.setBound(false)
	return s
}

// setBound sets the bound within which nothing is odd.
func (s *Signal) setBound(rolling bool) {
	s.bound = math.Inf(1)
	if carries := s.carries(rolling); carries > 0 {
		s.bound = carries
	}
	s.bound = math.Min(s.bound, math.Min(-s.stated[0], s.stated[1]))
	for _, n := range s.named {
		s.bound = math.Min(s.bound, math.Abs(n.Value)-s.step)
	}
}

// carries returns the largest force or moment that a wheel can carry; 0: not known.
func (s *Signal) carries(rolling bool) float64 {
	if rolling {
		return s.rolling
	}
	return s.standing
}

// unusual looks at a value beyond the bound or at an end of the raw range, and tells whether it is no measurement.
func (s *Signal) unusual(at int64, x *Sample, m movement) bool {
	v := x.Value
	for i := range s.named {
		if n := &s.named[i]; math.Abs(v-n.Value) <= s.step/2 {
			s.odd[namedValue].add(at, v)
			s.odd[namedValue].text = n.Text
			s.pass(2)
			return true
		}
	}
	switch {
	case x.State != Inside:
		if s.Clips == 0 {
			s.ClipFrom, s.ClipValue = at, v
		}
		s.Clips++
		s.ClipMoved[m]++
		s.ClipTo = at
	case v < s.stated[0] || v > s.stated[1]:
		s.odd[beyondStated].add(at, v)
	case math.Abs(v) > s.carries(m == rolls)+s.step && s.standing > 0: // not for a raw step
		s.odd[beyondPhysical].add(at, v)
	default:
		return false
	}
	s.pass(2)
	return true
}

// pass keeps the next steps from being taken for spikes: they are judged elsewhere or lead over a gap.
func (s *Signal) pass(steps int8) {
	s.away, s.skip, s.jump = 0, steps, -1
}

// jumped takes a step from before to v that is larger than s.jump.
func (s *Signal) jumped(at int64, before, v float64) {
	switch {
	case s.skip > 0:
		if s.skip--; s.skip > 0 {
			return
		}
	case s.away == 0:
		s.base, s.peak, s.away, s.awayAt, s.jump = before, v, 1, at, -1
		return
	default:
		s.away += s.same
		if math.Abs(v-s.base) > s.limit/2 {
			if s.away < spikeSamples {
				s.away++
				if math.Abs(v-s.base) > math.Abs(s.peak-s.base) {
					s.peak = v
				}
				return
			}
		} else if s.away <= spikeSamples {
			s.spike()
		}
		s.away = 0
	}
	s.jump = s.limit
}

func (s *Signal) spike() {
	if s.Spikes == 0 {
		s.SpikeFrom = s.awayAt
	}
	s.Spikes++
	s.SpikeTo = s.awayAt
	s.SpikeLargest = math.Max(s.SpikeLargest, math.Abs(s.peak-s.base))
}

// endRun notes that the value, repeated so far, changed at the time at; first is when the channel first came.
func (s *Signal) endRun(first, at int64, value float64) {
	if n := s.same + 1; n >= frozenSamples {
		s.InRuns += n
		if n > s.Longest.samples {
			s.Longest = run{n, max(s.since, first), at, value}
		}
	} else {
		s.Repeats += s.same
	}
	s.same = 0
}

// gap notes that nothing came between last and at; first is when the channel first came.
func (s *Signal) gap(first, last, at int64, value float64) {
	if s.same > 0 {
		s.endRun(first, last, value)
	}
	s.since = at
	if s.judgedFrom != 0 {
		s.judged += max(0, last-s.judgedFrom)
		s.judgedFrom = at
	}
	s.pass(1)
}

// watch begins or ends the judging of spikes: it needs a signal that is slow by itself.
func (s *Signal) watch(at int64, slow bool) {
	if slow && s.learnt > 0 {
		s.limit = s.learnt
		if s.judgedFrom == 0 {
			s.judgedFrom = at
			s.pass(1)
		}
		return
	}
	if s.judgedFrom != 0 {
		s.judged += max(0, at-s.judgedFrom)
		s.judgedFrom = 0
	}
	s.limit, s.jump, s.away, s.skip = math.Inf(1), math.Inf(1), 0, 0
}

// learn takes what a spike is at least, as a second at rest that ended at the time at tells.
func (s *Signal) learn(at int64, step float64) {
	s.learnt = step
	if s.judgedFrom == 0 {
		s.watch(at, true)
		return
	}
	s.limit = step
	if s.away == 0 && s.skip == 0 {
		s.jump = step
	}
}

// judgedS returns for how long spikes were judged until the time last, s.
func (s *Signal) judgedS(last int64) float64 {
	n := s.judged
	if s.judgedFrom != 0 {
		n += max(0, last-s.judgedFrom)
	}
	return float64(n) * 1e-9
}
