package checks

import "math"

const (
	recentSeconds = 10                // of the longer window
	recentSlots   = recentSeconds + 1 // with the second under way
)

// Window is what one channel did in some whole seconds of event time, for who looks at it. It
// judges nothing: it holds movement as well as noise.
type Window struct {
	Samples   int64   // finite values; 0: nothing else is known
	Mean      float64 // SI, as all of these
	Low, High float64
	Deviation float64 // RMS about the mean, with all that moves or turns
	// Noise is the RMS of (a − 2·b + c)/√6 of three values in a row: white noise as large as it
	// is, without what moves slowly. What turns with the wheel stays in with
	// (ω·T)²/√6 of its RMS, T the time between two values. 0 with fewer than three values.
	Noise float64
}

// recent keeps the newest seconds of one channel, and its strip. Its memory is fixed.
type recent struct {
	named []NamedValue // values that are none
	step  float64

	until  int64 // ns, end of the second under way
	now    *bucket
	slots  [recentSlots]bucket // by second modulo recentSlots
	before [2]float64          // the values before the newest, newest first
	have   int
	strip  strip
}

// bucket holds the sums of one second about its first value, so that they do not cancel.
type bucket struct {
	second    int64 // of event time; it holds nothing while n is 0
	n, triple int64
	about     float64
	sum, sq   float64 // of v − about
	low, high float64
	curve     float64 // sum of (a − 2·b + c)²
}

// shown tells whether windows of a quantity are of use: an angle goes round, and
// the others are words rather than sizes.
func (q Quantity) shown() bool {
	switch q {
	case Angle, Status, Serial, Counter:
		return false
	default:
		return true
	}
}

// drawn tells whether a strip of a quantity is of use.
func (q Quantity) drawn() bool { return q.shown() || q == Angle }

// add takes a value. One whose stamp lies before the second under way counts in it.
func (r *recent) add(at int64, v float64) {
	if v-v != 0 { // neither NaN nor infinite
		r.have = 0
		return
	}
	for i := range r.named {
		if math.Abs(v-r.named[i].Value) <= r.step/2 {
			r.have = 0
			return
		}
	}
	r.strip.add(at, v)
	if r.now == nil || at >= r.until {
		r.begin(at)
	}
	b := r.now
	if b.n == 0 {
		b.about, b.low, b.high = v, v, v
	}
	b.n++
	d := v - b.about
	b.sum += d
	b.sq += float64(d * d)
	if v < b.low {
		b.low = v
	}
	if v > b.high {
		b.high = v
	}
	if r.have == 2 {
		c := v - 2*r.before[0] + r.before[1]
		b.curve += float64(c * c)
		b.triple++
	} else {
		r.have++
	}
	r.before[1], r.before[0] = r.before[0], v
}

func (r *recent) begin(at int64) {
	second := at / 1e9
	if at-r.until > 1e9 {
		r.have = 0 // values on both sides of a silence are not in a row
	}
	r.now = &r.slots[uint64(second)%recentSlots]
	*r.now = bucket{second: second}
	r.until = (second + 1) * 1e9
}

// window joins the last whole seconds before the time now, ns.
func (r *recent) window(now int64, seconds int) Window {
	var w Window
	var square, curve float64 // of the deviations from w.Mean; of the triples
	var triples int64
	last := now / 1e9
	for s := last - int64(seconds); s < last; s++ {
		b := &r.slots[uint64(s)%recentSlots]
		if b.n == 0 || b.second != s {
			continue
		}
		n := float64(b.n)
		mean := b.about + b.sum/n
		squares := math.Max(b.sq-b.sum*b.sum/n, 0)
		if w.Samples == 0 {
			w.Low, w.High = b.low, b.high
		}
		w.Low, w.High = math.Min(w.Low, b.low), math.Max(w.High, b.high)
		// Sums of squares of two groups, after Chan, Golub and LeVeque (1979).
		d, all := mean-w.Mean, float64(w.Samples)+n
		square += squares + d*d*float64(w.Samples)*n/all
		w.Mean += d * n / all
		w.Samples += b.n
		curve += b.curve
		triples += b.triple
	}
	if w.Samples > 0 {
		w.Deviation = math.Sqrt(square / float64(w.Samples))
	}
	if triples > 0 {
		w.Noise = math.Sqrt(curve / float64(triples) / 6)
	}
	return w
}
