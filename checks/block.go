package checks

import (
	"math"

	"plumbline/checks/fit"
)

const (
	blockRows  = 1024 // kept of one second
	blockLeast = 16   // rows of a block at the least
	blockNs    = 1e9
	keptBlocks = 16
	never      = math.MaxInt64
)

// block gathers the rows of one message of a wheel at rest for a second at a time, and keeps of
// each such second, and of each component, what tells noise and mains. So that it costs
// next to nothing a second is taken at once only at the beginning, later one in thirty.
// Its memory is fixed.
type block struct {
	components []Quantity
	timing     *Timing
	steps      []float64 // of the components
	limits     []float64 // of their noise
	signals    []*Signal

	from   int64 // rows are taken from then on
	at     []int64
	v      [][]float64 // by component; NaN: missing
	n      int
	skip   int
	whole  bool // waits for a later time stamp
	Taken  int64
	kept   [][keptBlocks]second // by component, a ring
	tones  []tones              // by component, while one is looked at
	diffs  []float64
	spared []float64 // values with spikes taken out
}

// second is what one second at rest told of one component.
type second struct {
	variance float64 // about the mean, without spikes, (N or N·m)²
	mean     float64 // without spikes, N or N·m
	power    [toneCount]float64
	calm     bool // noise about a mean that stays, not a movement
	flat     bool // one value throughout
	samples  int
	from, to int64
	clips    int64
}

// newBlocks returns one block for each message that carries components of the corner.
func newBlocks(j *Judge, c *corner) []block {
	var out []block
	for q := range Quantity(components) {
		ch := c.setup.Channels[q]
		if ch == None {
			continue
		}
		g := int(c.group[q])
		for len(out) <= g {
			out = append(out, block{from: never, at: make([]int64, blockRows), diffs: make([]float64, blockRows), spared: make([]float64, blockRows)})
		}
		b := &out[g]
		limit := j.setup.Limits.NoiseForceN
		if q >= Mx {
			limit = j.setup.Limits.NoiseMomentNm
		}
		b.timing = &j.messages[j.setup.Channels[ch].Message].timing
		b.components = append(b.components, q)
		b.steps = append(b.steps, j.setup.Channels[ch].Step)
		b.limits = append(b.limits, limit)
		b.signals = append(b.signals, &j.channels[ch].signal)
		b.v = append(b.v, make([]float64, blockRows))
		b.kept = append(b.kept, [keptBlocks]second{})
		b.tones = append(b.tones, tones{})
	}
	return out
}

// restart ends the second under way; the next begins half a second after at, if the wheel is at rest.
func (b *block) restart(at int64, rest bool) {
	b.n, b.whole, b.skip = 0, false, 0
	b.from = never
	if rest {
		b.from = at + settleNs
	}
}

// add takes a row; it must not be earlier than b.from.
func (b *block) add(r *Row) {
	if b.whole {
		if r.At > b.at[b.n-1] {
			b.look()
			b.n, b.whole = 0, false
			b.from = r.At + b.pause()
		}
		return
	}
	if b.skip > 0 {
		b.skip--
		return
	}
	if b.n == 0 {
		if b.timing.Period == 0 && b.timing.Nominal == 0 {
			return
		}
	} else if r.At <= b.at[b.n-1] {
		return
	}
	b.skip = b.stride() - 1
	b.at[b.n] = r.At
	for k, q := range b.components {
		b.v[k][b.n] = math.NaN()
		if r.Have&(1<<q) != 0 {
			b.v[k][b.n] = r.V[q]
		}
	}
	b.n++
	// With the interval after the last row: 200 rows of 5 ms are a second, and hold whole periods of mains.
	lasts := float64(r.At-b.at[0]) * float64(b.n) / float64(max(b.n-1, 1))
	b.whole = b.n == blockRows || b.n >= blockLeast && lasts >= blockNs-1e6
}

// stride is how many rows make one that is kept, so that a second fits.
func (b *block) stride() int {
	p := b.timing.Period
	if p == 0 {
		p = b.timing.Nominal
	}
	if p <= 0 {
		return 1
	}
	return max(1, int(math.Ceil(float64(1.05/p)/blockRows)))
}

// pause returns how long to wait after a second that was looked at, ns.
func (b *block) pause() int64 {
	switch {
	case b.Taken < 8:
		return 0
	case b.Taken < keptBlocks:
		return 10e9
	}
	return 30e9
}

// look works out what a whole second tells.
func (b *block) look() {
	at := b.at[:b.n]
	slot := b.Taken % keptBlocks
	b.Taken++
	for k := range b.components {
		s := &b.kept[k][slot]
		*s = second{samples: b.n, from: at[0], to: at[b.n-1]}
		b.level(k, s)
	}
	b.listen(slot)
}

// level tells the scatter of component k about its mean, and learns what a spike is there.
func (b *block) level(k int, s *second) {
	x, sig := b.spared[:b.n], b.signals[k]
	if copy(x, b.v[k][:b.n]); !fill(x) {
		s.samples = 0
		return
	}
	d := b.diffs[:b.n-1]
	equal := 0
	for i := range d {
		d[i] = math.Abs(x[i+1] - x[i])
		if d[i] == 0 {
			equal++
		}
	}
	s.flat = equal == len(d)
	s.clips = sig.Clips
	if share := float64(equal) / float64(len(d)); !sig.shares || share < sig.Share {
		sig.Share, sig.shares = share, true
	}
	// Half of the steps between independent normal values are below 0.954 standard deviations.
	sd := selectMiddle(d) / 0.9538725524
	limit := math.Max(spikeSDs*sd, math.Max(6*b.steps[k], 2*b.limits[k]))
	steady := spare(x, limit)
	copy(b.v[k], x)
	sig.learn(b.at[b.n-1], limit)
	var all fit.Welford
	for _, v := range x {
		all.Add(v)
	}
	s.variance, s.mean = all.Variance(), all.Mean()
	if s.variance-s.variance != 0 { // values beyond all measure
		s.samples = 0
	}
	s.calm = steady && (s.variance <= square(b.limits[k]) || !wanders(x, all.Mean()))
}

// spikeSDs is how far off a spike is, in standard deviations as the middle step tells them.
const spikeSDs = 10

// fill replaces values that are missing by those before them; false where more than a tenth is.
func fill(x []float64) bool {
	missing, last := 0, math.NaN()
	for i, v := range x {
		if math.IsNaN(v) {
			missing++
			x[i] = last
			continue
		}
		last = v
	}
	for i := len(x) - 1; i > 0; i-- { // before the first
		if math.IsNaN(x[i-1]) {
			x[i-1] = x[i]
		}
	}
	return missing*10 <= len(x)
}

// spare takes out of x the samples that jump away by more than limit and come back at once; false where one does not come back.
func spare(x []float64, limit float64) bool {
	for i := 1; i < len(x); i++ {
		if math.Abs(x[i]-x[i-1]) <= limit {
			continue
		}
		n := 1
		for n <= spikeSamples && i+n < len(x) && math.Abs(x[i+n]-x[i-1]) > limit/2 {
			n++
		}
		if n > spikeSamples {
			return false
		}
		for ; n > 0 && i < len(x); n-- {
			x[i] = x[i-1]
			i++
		}
	}
	return true
}

// wanders tells whether the scatter comes from a mean that moves, as of a wheel that is turned
// though its angle does not say so: the means of eighths scatter by more than what is within them explains.
func wanders(x []float64, mean float64) bool {
	const parts = 8
	n := len(x) / parts
	var between, within float64
	for p := range parts {
		var w fit.Welford
		for _, v := range x[p*n : (p+1)*n] {
			w.Add(v)
		}
		between += square(w.Mean() - mean)
		if n > 1 {
			within += w.Variance()
		}
	}
	// The ratio is F with parts − 1 and parts·(n − 1) degrees of freedom; of white noise it is above the bound less than once in 10,000.
	f := between / (parts - 1) * float64(n) / (within / parts)
	if n < 8 {
		return f > 20
	}
	return f > 6
}

// selectMiddle returns the upper median of d, which it puts into another order.
func selectMiddle(d []float64) float64 {
	lo, hi, k := 0, len(d)-1, len(d)/2
	for lo < hi {
		p := d[(lo+hi)/2]
		i, j := lo, hi
		for i <= j {
			for d[i] < p {
				i++
			}
			for d[j] > p {
				j--
			}
			if i <= j {
				d[i], d[j] = d[j], d[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return d[k]
		}
	}
	return d[k]
}
