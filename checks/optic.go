package checks

import (
	"math"

	"plumbline/checks/fit"
)

// readings is how many quantities an optical sensor has.
const readings = int(Quantities - HeightOuter)

// Lengths of what is averaged, and when it counts as steady.
const (
	quarterNs   = 25e7  // ns
	keptRests   = 64    // newest seconds at rest
	stepM       = 0.02  // a board or a hand changes a height by more than this, m
	stepMps     = 0.3   // and a speed by more than this, m/s
	calmM       = 0.005 // between quarters of a second at rest, m
	keptCovers  = 16
	longestHide = 240 // quarters: what stays longer is no board but the new state
)

// reading holds one value of each quantity from HeightOuter on; NaN where there is none.
type reading [readings]float64

func (r *reading) of(q Quantity) float64 { return r[q-HeightOuter] }

// optic gathers what one optical sensor shows: means of quarters of a second, from which
// come its newest seconds at rest, and the share of values that are none.
type optic struct {
	setup *Optic
	last  reading // newest valid of each
	spoke bool    // there is one

	from, until int64 // ns, of the quarter under way
	sum         reading
	n           [readings]int64
	seen, bad   int64 // distances or speeds in it

	share    [4]int64    // seen and bad on the ground: of the second under way, and ever
	shares   fit.Welford // share of each second
	quarters int         // in that second
	dropFrom int64       // ns
	dropTo   int64

	rests    [keptRests]reading // means of seconds at rest, newest at (restN−1) mod keptRests
	restN    int64
	restS    int64 // samples in them
	restFrom int64 // ns
	restTo   int64

	second  [4]reading // quarters of the second under way
	secondN int
	secondS int64
	pending reading // a whole second, which the quarter after it has to confirm
	waits   bool
	waitsS  int64
	waitTo  int64

	base   reading // newest second of this rest
	based  bool
	hidden int // quarters in a row in which something was held under it
	covers [keptCovers]cover
	coverN int

	still     opticStill
	rolled    [3]running // speed x, speed y, slip since the roll last asked
	twins     []opticTwin
	untilTwin int32 // changes until the next that is compared
	compared  int32
	counted   uint16 // bit k: reading k is a distance or speed, of which invalid ones are counted
}

// cover is a moment at which something was held under a sensor that stood.
type cover struct {
	from, to int64 // ns
	size     float64
	unit     string
}

// running is a mean under way.
type running struct {
	sum float64
	n   int64
}

func (m *running) take() float64 {
	v := math.NaN()
	if m.n > 0 {
		v = m.sum / float64(m.n)
	}
	*m = running{}
	return v
}

// opticTwin counts how often a reading, when it changed, had become what another sensor's was.
type opticTwin struct{ equal, changes [readings]int64 }

func newOptic(s *Setup, i int) optic {
	o := optic{setup: &s.Optics[i], twins: make([]opticTwin, len(s.Optics))}
	for _, q := range [...]Quantity{HeightOuter, HeightInner, HeightThird, SpeedX, SpeedY} {
		if o.setup.Channels[q] != None {
			o.counted |= 1 << (q - HeightOuter)
		}
	}
	if o.counted == 0 { // only what the sensor itself derives
		o.counted = 1<<(Camber-HeightOuter) | 1<<(Slip-HeightOuter)
	}
	for k := range o.last {
		o.last[k] = math.NaN()
	}
	o.still.configure(o.setup, &s.Limits)
	return o
}

// valid tells whether a sample is a measurement: finite, not at an end of the raw range, not one that its
// description names as none, and no height of nothing. The lower end of an unsigned speed is a standstill.
func (s *Sample) valid(q Quantity, none []NamedValue) bool {
	v := s.Value
	height := q <= HeightThird
	switch {
	case v-v != 0, s.State == AtHigh, s.State == AtLow && (v != 0 || height), height && v <= 0:
		return false
	}
	for i := range none {
		if v == none[i].Value {
			return false
		}
	}
	return true
}

// optic takes one sample of an optical sensor.
func (j *Judge) optic(at int64, i int, q Quantity, s *Sample) {
	if q < HeightOuter {
		return
	}
	o := &j.optics[i]
	if at >= o.until {
		o.quarter(at, &j.ground)
	}
	k := q - HeightOuter
	ok := s.valid(q, j.setup.Channels[s.Channel].Named)
	if o.counted&(1<<k) != 0 {
		o.seen++
		if !ok {
			o.bad++
		}
	}
	if !ok {
		return
	}
	v := s.Value
	if v != o.last[k] && len(j.optics) > 1 {
		if o.untilTwin--; o.untilTwin <= 0 {
			if o.compared++; o.compared >= twinMany {
				o.untilTwin = twinRarely
			}
			j.claim(at, i, q, v)
		}
	}
	o.last[k], o.spoke = v, true
	o.sum[k] += v
	o.n[k]++
	if q >= SpeedX {
		m := &o.rolled[q-SpeedX]
		m.sum += v
		m.n++
	}
}

// quarter ends the quarter of a second under way.
func (o *optic) quarter(at int64, g *ground) {
	if o.until != 0 {
		o.close(at, g)
	}
	o.from, o.until = at, at+quarterNs
	o.sum, o.n = reading{}, [readings]int64{}
	o.seen, o.bad = 0, 0
}

func (o *optic) close(at int64, g *ground) {
	var mean reading
	var samples int64
	for k := range mean {
		mean[k] = math.NaN()
		if o.n[k] > 0 {
			mean[k] = o.sum[k] / float64(o.n[k])
			samples += o.n[k]
		}
	}
	gone := at-o.until > blindNs // it fell silent in between
	stands := g.stood(o.from) && !gone
	hidden := stands && o.hides(&mean, at)
	if !g.lifted && !hidden && o.seen > 0 {
		o.drops(at)
	}
	if !stands {
		o.secondN, o.waits, o.based, o.hidden = 0, false, false, 0
		return
	}
	if o.waits && !hidden {
		o.keep()
	}
	if hidden {
		o.secondN, o.waits = 0, false
		return
	}
	if o.secondN == 0 {
		o.secondS = 0
	}
	o.second[o.secondN] = mean
	o.secondS += samples
	if o.secondN++; o.secondN < len(o.second) {
		return
	}
	o.secondN = 0
	if total, calm := o.calm(); calm {
		o.pending, o.waits, o.waitsS, o.waitTo = total, true, o.secondS, at
	}
}

// drops counts what was no measurement in the quarter under way.
func (o *optic) drops(at int64) {
	if o.dropFrom == 0 {
		o.dropFrom = o.from
	}
	o.dropTo = at
	s := &o.share
	s[0] += o.seen
	s[1] += o.bad
	s[2] += o.seen
	s[3] += o.bad
	if o.quarters++; o.quarters < 4 {
		return
	}
	o.shares.Add(float64(s[1]) / float64(s[0]))
	s[0], s[1], o.quarters = 0, 0, 0
}

// calm returns the mean of the second under way, and whether it stood still in it.
func (o *optic) calm() (mean reading, calm bool) {
	calm = true
	for k := range mean {
		low, high, sum, n := math.Inf(1), math.Inf(-1), 0.0, 0
		for i := range o.second {
			if v := o.second[i][k]; v-v == 0 {
				low, high = math.Min(low, v), math.Max(high, v)
				sum += v
				n++
			}
		}
		mean[k] = math.NaN()
		if n > 0 {
			mean[k] = sum / float64(n)
		}
		switch q := HeightOuter + Quantity(k); {
		case q <= HeightThird:
			calm = calm && !(high-low > calmM)
		case q == SpeedX || q == SpeedY:
			calm = calm && !(high-low > stepMps)
		}
	}
	return mean, calm
}

// keep takes the second that the quarter under way confirmed.
func (o *optic) keep() {
	if o.restN == 0 {
		o.restFrom = o.waitTo - 4*quarterNs
	}
	o.rests[o.restN%keptRests] = o.pending
	o.restN++
	o.restS += o.waitsS
	o.restTo = o.waitTo
	o.base, o.based, o.waits = o.pending, true, false
}

// hides tells whether something is held under the sensor in the quarter under way.
func (o *optic) hides(mean *reading, at int64) bool {
	if !o.based {
		return false
	}
	size, unit := 0.0, ""
	for k := range mean {
		q := HeightOuter + Quantity(k)
		d := mean[k] - o.base[k]
		switch {
		case q <= HeightThird && math.Abs(d) > math.Max(stepM, math.Abs(size)):
			size, unit = d, "m"
		case (q == SpeedX || q == SpeedY) && math.Abs(d) > math.Max(stepMps, math.Abs(size)):
			size, unit = d, "m/s"
		}
	}
	if unit == "" {
		o.hidden = 0
		return false
	}
	o.hidden++
	switch {
	case o.hidden > longestHide:
		o.based, o.hidden = false, 0
	case o.hidden == 2:
		if o.coverN == keptCovers {
			copy(o.covers[:], o.covers[1:])
			o.coverN--
		}
		o.covers[o.coverN] = cover{o.from - quarterNs, at, size, unit}
		o.coverN++
	case o.hidden > 2:
		o.covers[o.coverN-1].to = at
	}
	return true
}

// stop ends what is under way: the clock has stepped.
func (o *optic) stop() {
	o.until, o.secondN, o.waits, o.based, o.hidden = 0, 0, false, false, 0
	o.rolled = [3]running{}
}

// newest calls f with each of the newest seconds at rest.
func (o *optic) newest(f func(*reading)) {
	for k := range min(o.restN, keptRests) {
		f(&o.rests[k])
	}
}

// atRest returns mean and scatter of a number of each second at rest; seconds without it do not count.
func (o *optic) atRest(number func(*reading) float64) fit.Welford {
	var b fit.Welford
	o.newest(func(r *reading) {
		if v := number(r); v-v == 0 {
			b.Add(v)
		}
	})
	return b
}

// one returns the reading of a quantity.
func one(q Quantity) func(*reading) float64 {
	return func(r *reading) float64 { return r.of(q) }
}
