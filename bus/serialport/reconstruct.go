package serialport

import "math"

// What Reconstruct takes for granted of adapters and devices, in ns.
const (
	minPeriod = 10_000         // of a message
	maxPeriod = 60_000_000_000 // of a message

	settleFor     = 100_000_000 // after which the earliest arrivals are told from the late ones
	blockFor      = 250_000_000 // of each block the earliest arrival is remembered; blocks grow with the time seen
	blockUpTo     = 2_000_000_000
	blocks        = 32         // blocks that are remembered
	latestBy      = 20_000_000 // a burst is no later than this: latency timers of 16 ms are the most common
	lateWindows   = 10         // late windows in a row by which a single lost sample is told
	latestWindows = 3          // and a device that paused
	earliestBy    = 5_000_000  // once settled, nothing is earlier than this
	minTurn       = 50_000_000 // in which a counter may go round
	jitter        = 500_000    // of the earliest arrival of a block
	periodWithin  = 5e-3       // relative; how well the period is known beforehand
)

// Reconstruct tells when samples were taken from their numbers and arrivals.
// An adapter may hold bytes back, but never delivers before they were sent: the
// arrivals, drawn over the sample's number, lie on and above a straight line.
// It is found as the line that supports the earliest arrivals of the last minute from below;
// its slope is that of the edge of their lower convex hull at the middle, weighted
// with the period known beforehand by how far the edge can be trusted.
//
// Sample times are late by the least delay of the line, which cannot be seen from
// here. That is a transfer of some tenths of a millisecond, and as much as one period
// while the adapter's timer and the samples keep the same step. Memory is fixed.
// After a gap, a restart of the device or a step of the clock it begins anew instead of running on.
type Reconstruct struct {
	period  float64 // ns, as known beforehand
	modulus uint64  // of the numbers; 0: they do not wrap, and a lost sample does not show in them

	started bool
	last    uint64  // number of the last sample
	index   float64 // the same, without wraps, counted from the first
	base    int64   // arrival of the first; all times below are after it
	arrived float64 // of the last
	given   int64   // time given last

	slope, offset float64 // the line: offset + slope·index

	window    float64 // when the window began in which residuals are watched
	windowMin float64
	settled   bool // a whole window has been seen
	lates     int  // windows in a row that were late by a sample or more, and their least
	lateMin   float64

	points     [blocks]point // a ring, the oldest at next
	next, used int
	block      float64 // when the block under way began
	lowest     point   // its earliest arrival
}

// point is one arrival of a sample.
type point struct{ index, arrived float64 }

// NewReconstruct returns one for a period in ns. modulus is where the counter
// wraps (65536 for one of 16 bits); 0 says that there is none and samples are numbered
// as they arrive: one that was lost is then noticed by its time alone, within a second or so.
// A period out of range is brought into it: 10 µs to 60 s. A counter must go round
// no faster than in 50 ms, else a late burst cannot be told from a gap.
func NewReconstruct(period int64, modulus uint64) *Reconstruct {
	return newReconstruct(period, modulus)
}

func newReconstruct(period int64, modulus uint64) *Reconstruct {
	return &Reconstruct{period: float64(min(max(period, minPeriod), maxPeriod)), modulus: modulus}
}

// Reset forgets all but period and modulus.
func (r *Reconstruct) Reset() { *r = Reconstruct{period: r.period, modulus: r.modulus} }

// At returns when the sample with that number was taken (ns, as arrival).
// ok is false where that cannot be told: the first tenth of a second, and
// samples that are later than a burst explains. The time is then the arrival.
// Times never go back, but where the clock did.
func (r *Reconstruct) At(n uint64, arrival int64) (at int64, ok bool) {
	if !r.started || !r.advance(n, float64(arrival-r.base)) {
		at = r.after(arrival, arrival)
		r.Reset()
		r.started, r.last, r.base, r.given, r.slope = true, n, arrival, at, r.period
		r.shift(0)
		return at, false
	}
	late := r.arrived - r.line()
	if late < 0 {
		if r.settled && late < -earliestBy {
			r.shift(late)
		} else {
			r.offset += late
		}
		late = 0
	}
	r.windowMin = min(r.windowMin, late)
	if r.lowest.index < 0 || late < r.lowest.arrived-(r.offset+r.slope*r.lowest.index) {
		r.lowest = point{r.index, r.arrived}
	}
	if r.arrived-r.window >= max(settleFor, 4*r.period) {
		r.closeWindow()
	}
	if r.arrived-r.block >= max(min(r.arrived/8, blockUpTo), blockFor, 8*r.period) {
		r.closeBlock()
	}
	at = arrival
	if r.settled && r.arrived-r.line() <= latestBy {
		at, ok = r.base+int64(math.Round(r.line())), true
	}
	r.given = r.after(at, arrival)
	return r.given, ok
}

// after makes a time come after the last one given, unless the clock went back since.
func (r *Reconstruct) after(at, arrival int64) int64 {
	if at <= r.given && r.given-arrival < latestBy {
		return r.given + 1
	}
	return min(at, arrival)
}

// shift moves the line in time and forgets the points, which lie where it was.
// Its slope stays: it is that of the device's clock.
func (r *Reconstruct) shift(by float64) {
	r.offset += by
	r.used, r.next, r.settled, r.lates = 0, 0, false, 0
	r.lowest = point{r.index, r.arrived}
	r.window, r.block = r.arrived, r.arrived
	r.windowMin, r.lateMin = math.Inf(1), math.Inf(1)
}

// line is where the current sample lies on the line.
func (r *Reconstruct) line() float64 { return r.offset + r.slope*r.index }

// advance counts on to a sample. It returns false where the number cannot follow the last.
func (r *Reconstruct) advance(n uint64, arrived float64) bool {
	step := n - r.last
	if r.modulus > 0 {
		step = (n%r.modulus + r.modulus - r.last%r.modulus) % r.modulus
		// How often the counter has gone round meanwhile is told by the time.
		turn := float64(r.modulus) * r.slope
		rounds := math.Round((arrived - r.arrived - float64(step)*r.slope) / turn)
		step += uint64(max(rounds, 0)) * r.modulus
	}
	if step == 0 || step > math.MaxInt32 {
		return false
	}
	r.last, r.arrived = n, arrived
	r.index += float64(step)
	return true
}

// closeWindow looks at the earliest arrival of a window. Where even that is
// late, window after window, the numbers do not tell the time any more.
func (r *Reconstruct) closeWindow() {
	late, bound, windows := r.windowMin, float64(latestBy), latestWindows
	if r.modulus == 0 && 0.75*r.period < latestBy {
		bound, windows = 0.75*r.period, lateWindows
	}
	r.window, r.windowMin = r.arrived, math.Inf(1)
	if !r.settled || late <= bound {
		r.settled, r.lates, r.lateMin = true, 0, math.Inf(1)
		return
	}
	r.lates++
	r.lateMin = min(r.lateMin, late)
	switch {
	case r.modulus == 0 && (r.lates == windows || late > latestBy/2):
		// Samples were lost that nobody counted.
		r.index += math.Round(r.lateMin / r.period)
		r.lates, r.lateMin = 0, math.Inf(1)
	case r.lates == windows:
		r.shift(r.lateMin)
	}
}

// closeBlock remembers the earliest arrival of a block and draws the line anew.
func (r *Reconstruct) closeBlock() {
	r.block = r.arrived
	r.points[r.next] = r.lowest
	r.next = (r.next + 1) % blocks
	r.used = min(r.used+1, blocks)
	r.lowest.index = -1
	r.draw()
}

// draw finds the line from the points.
func (r *Reconstruct) draw() {
	at := func(i int) point { return r.points[(r.next-r.used+i+blocks)%blocks] }
	if r.used >= 2 {
		first, last := at(0), at(r.used-1)
		span := (last.index - first.index) * r.period
		edge := r.hullSlope(at, (first.index+last.index)/2)
		// Both are weighted by the inverse of their variance.
		known := 1 / (periodWithin * periodWithin)
		seen := span * span / (2 * jitter * jitter)
		r.slope = (known*r.period + seen*edge) / (known + seen)
	}
	r.offset = math.Inf(1)
	for i := range r.used {
		p := at(i)
		r.offset = min(r.offset, p.arrived-r.slope*p.index)
	}
}

// hullSlope returns the slope of that edge of the lower convex hull of at least two points that spans the middle.
func (r *Reconstruct) hullSlope(at func(int) point, middle float64) float64 {
	var hull [blocks]point
	n := 0
	for i := range r.used {
		p := at(i)
		for n >= 2 && cross(hull[n-2], hull[n-1], p) <= 0 {
			n--
		}
		hull[n] = p
		n++
	}
	for i := 1; i < n; i++ {
		if hull[i].index >= middle {
			return (hull[i].arrived - hull[i-1].arrived) / (hull[i].index - hull[i-1].index)
		}
	}
	return r.period
}

// cross is positive where c lies to the left of the way from a to b.
func cross(a, b, c point) float64 {
	return (b.index-a.index)*(c.arrived-a.arrived) - (b.arrived-a.arrived)*(c.index-a.index)
}
