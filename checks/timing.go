package checks

import (
	"math"
	"slices"
)

// learn is how many intervals of a message are looked at before its own period
// and the step of its counter are taken as known.
const learn = 64

// Timing is what was seen of one message: how often it came and what was
// missing. It has no opinion. Times are event time, ns.
type Timing struct {
	Count       int64
	First, Last int64
	usual       int64 // ns; an interval below that is neither the longest nor tells of a lost frame
	burst       int64 // frames that came with the newest one's time stamp before it: an adapter delivered them at once

	Short       int64 // frames too short for a wanted signal
	ShortLength int   // bytes of the last of these

	Nominal float64 // s, as described; 0: not known
	Period  float64 // s, median of the first intervals; 0: not known yet

	Lost       int64   // frames missing by the gaps between time stamps, against the period in use
	Gap        float64 // s, longest interval
	GapAt      int64   // when it began
	CounterOff int64   // frames missing by the counter
	Counted    int64   // frames whose counter could be followed
	Jumps      int64   // counter values that fit no number of missing frames
	StepsBack  int64   // time stamps before that of the frame before
	Together   int64   // frames with the time stamp of the frame before

	// Of an interval that was too long: by how many frames what came since is behind, the least of it, and for how long
	// what comes is waited for, ns. A frame that came late is followed by others that come sooner; behind one that is lost all are late.
	behind, least float64
	open          int64   // 0: there is none
	pace          float64 // s, of what comes; rather too short, as frames that are lost would be taken for late ones else, and that is worse

	intervals []float64 // s, while the period is learnt
	bursts    []int64   // frames that came together at the beginning of each, beside one
	increment []float64
	counter   float64
	modulus   float64 // counter values; 0: no counter
	step      float64 // counter increment per frame
	haveCount bool
	counterAt int64
}

// Message notes that the message arrived at the time at, ns.
func (t *Timing) Message(at int64) {
	if t.Count == 0 {
		t.First = at
		t.Count, t.Last = 1, at
		return
	}
	d := at - t.Last
	t.Count++
	t.Last = at
	if t.open != 0 {
		t.catchUp(d)
	}
	if d == 0 { // when it was sent nobody knows
		t.burst++
		t.Together++
		return
	}
	burst := t.burst
	t.burst = 0
	if uint64(d) < uint64(t.usual) { // not of one that went back either
		return
	}
	if d < 0 {
		t.StepsBack++
		t.haveCount = false
		return
	}
	s := float64(d) * 1e-9
	if t.Period == 0 {
		t.intervals, t.bursts = append(t.intervals, s), append(t.bursts, burst)
		if len(t.intervals) >= learn {
			t.learnPeriod()
		}
	} else {
		t.interval(s, 1+burst)
	}
	if s > t.Gap {
		t.Gap, t.GapAt = s, at-d
	}
	if t.Period != 0 { // a nanosecond less than what is lost, for what rounding does
		t.usual = max(min(int64(math.Round(t.Gap*1e9))+1, int64(min(1.5*t.InUse(), 1e9)*1e9)-1), 0)
	}
}

// learnPeriod takes the median interval as the period and counts what was missing so far.
func (t *Timing) learnPeriod() {
	if len(t.intervals) == 0 {
		return
	}
	apart := slices.Clone(t.intervals)
	for i := range apart {
		apart[i] /= float64(1 + t.bursts[i])
	}
	slices.Sort(apart)
	t.Period = math.Max(apart[len(apart)/2], 1e-9)
	// Who reads did not run for a while, and got at once what came meanwhile, or stamps are those of a line that delivers by a clock
	// of its own: the median is that of burst or line, and the mean as described.
	mean, described := float64(t.Last-t.First)*1e-9/float64(t.Count-1), func(s float64) bool { return s > 0.9*t.Nominal && s < 1.1*t.Nominal }
	t.pace = usualMean(apart, 1.5*t.Period)
	if !described(t.Period) && described(mean) {
		t.Period, t.pace = t.Nominal, min(mean, t.Nominal)
	}
	for i, s := range t.intervals {
		for range t.bursts[i] {
			t.catchUp(0)
		}
		t.catchUp(int64(math.Round(s * 1e9)))
		t.interval(s, 1+t.bursts[i])
	}
	t.intervals, t.bursts = nil, nil
}

// usualMean returns the mean of those sorted values that are at most most, at least a nanosecond: of intervals in which nothing was lost.
func usualMean(sorted []float64, most float64) float64 {
	sum, n := 0.0, 0
	for n < len(sorted) && sorted[n] <= most {
		sum += sorted[n]
		n++
	}
	return math.Max(sum/float64(max(n, 1)), 1e-9)
}

// catchesUp is for how many periods behind a long interval it is told whether the frames in it were late or lost.
const catchesUp = 16

// interval looks whether frames are missing in one interval of s seconds, at whose beginning n came.
func (t *Timing) interval(s float64, n int64) {
	p := t.InUse()
	if s <= (float64(n)+0.5)*p {
		return
	}
	if t.open == 0 {
		t.behind = s/p - 1
	} else { // of the one before only what is lost for sure: the rest may be caught up with behind this one
		k := max(0, math.Floor(t.least+0.3))
		t.Lost += int64(min(k, 1e15))
		t.behind = math.Max(t.behind-k, -2)
	}
	t.least, t.open = t.behind, max(int64(catchesUp*1e9*min(p, 1)), 1)
}

// catchUp takes a frame that came d ns after the one before it; behind an interval that was too long it may be one that was late.
func (t *Timing) catchUp(d int64) {
	if t.open == 0 {
		return
	}
	if d >= 0 {
		t.behind += float64(d)*1e-9/t.pace - 1
		t.least = min(t.least, t.behind)
	}
	if d < 0 || d >= t.open {
		t.decide()
		return
	}
	t.open -= d
}

// decide counts as lost what has not been caught up with.
func (t *Timing) decide() {
	if t.open > 0 {
		t.Lost += max(0, int64(math.Round(min(t.least, 1e15))))
		t.open = 0
	}
}

// InUse returns the period that gaps are counted by, s: the one that the message
// keeps, as a description can be wrong by a factor without a frame being lost.
func (t *Timing) InUse() float64 {
	// Close to the described one it is that: |Period/Nominal − 1| < 0.1.
	if t.Period == 0 || t.Period > 0.9*t.Nominal && t.Period < 1.1*t.Nominal {
		return t.Nominal
	}
	return t.Period
}

// delivered returns how often the line delivers, s, where its frames have the stamps of that: often several the same. 0: each has its own.
func (t *Timing) delivered() float64 {
	if t.Together*20 < t.Count || t.Together == t.Count-1 {
		return 0
	}
	return float64(t.Last-t.First) * 1e-9 / float64(t.Count-1-t.Together)
}

// CounterValue follows the message's counter.
func (t *Timing) CounterValue(at int64, v float64) {
	if t.modulus < 2 || math.IsNaN(v) {
		return
	}
	if !t.haveCount {
		t.counter, t.haveCount, t.counterAt = v, true, at
		return
	}
	d := v - t.counter
	if math.Abs(d) >= t.modulus {
		d = math.Mod(d, t.modulus)
	}
	if d < 0 {
		d += t.modulus
	}
	gap := float64(at-t.counterAt) * 1e-9
	t.counter, t.counterAt = v, at
	if t.step == 0 {
		t.increment = append(t.increment, d)
		if len(t.increment) >= learn {
			t.learnStep()
		}
		return
	}
	t.follow(d, gap)
}

func (t *Timing) learnStep() {
	if len(t.increment) == 0 {
		return
	}
	sorted := slices.Sorted(slices.Values(t.increment))
	if t.step = sorted[len(sorted)/2]; t.step == 0 {
		t.modulus = 0 // a counter that stands still counts nothing
	} else {
		for _, d := range t.increment {
			t.follow(d, 0)
		}
	}
	t.increment = nil
}

// follow judges one increment d of the counter; gap is the time it took, s.
func (t *Timing) follow(d, gap float64) {
	t.Counted++
	if p := t.InUse(); p > 0 && gap > p*t.modulus/t.step/2 {
		return // it may have gone round: only the time stamps tell
	}
	n := d / t.step
	if n != math.Trunc(n) || n == 0 {
		t.Jumps++
		return
	}
	t.CounterOff += int64(n) - 1
}

// settle takes as known what could be learnt from fewer frames than learn.
func (t *Timing) settle() Timing {
	c := *t
	if c.Period == 0 {
		c.intervals, c.bursts = slices.Clone(t.intervals), slices.Clone(t.bursts)
		c.learnPeriod()
	}
	if c.step == 0 && c.modulus >= 2 {
		c.increment = slices.Clone(t.increment)
		c.learnStep()
	}
	c.decide()
	return c
}
