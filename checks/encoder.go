package checks

import (
	"math"

	"plumbline/checks/fit"
)

// Speeds between which a wheel neither begins nor ceases to count as turning, rad/s.
// A hand turns a wheel at 2 to 8; a resting one creeps by less than a count.
const (
	turningFrom = 0.6
	turningTo   = 0.3
)

// Encoder follows the rotation angle of one corner by itself: it unwraps it,
// knows its speed, and keeps what tells of range, resolution and jumps.
// Angles are rad, times ns of event time.
type Encoder struct {
	count float64 // rad per encoder count; 0: not known
	step  float64 // raw step of the channel, rad
	limit float64 // of a jump, rad

	Samples int64
	NotANum int64
	Runs    int64 // how often following began anew after a gap or a step of time

	// Two newest samples of this run, unwrapped: rows between them are interpolated.
	have   int // how many of the two are there, 0–2
	at     [2]int64
	unw    [2]float64
	turns  [2]bool // whether it counted as turning then
	raw    float64
	Omega  float64 // rad/s over the last 50 ms or so
	moving bool

	past  [4]mark // older samples of this run, 12 ms apart or more, newest first
	nPast int

	Low, High float64 // range of the transmitted angle, rad
	Travel    float64 // Σ|Δθ| while turning, rad

	origin   float64 // first transmitted angle: the grid of counts is laid from there
	index    int64
	grid     int64 // greatest common divisor of the steps, in counts
	places   int64 // steps that went into it
	OffGrid  int64 // samples that lie on no count
	jump     jumps
	shortest float64 // shortest interval, s
	spacing  int64   // ns between the marks that the speed is told from
}

type mark struct {
	at  int64
	unw float64
}

// jumps holds the last steps of the angle until their neighbours tell whether they fit.
type jumps struct {
	n         int
	d, dt     [3]float64
	speed     [3]float64 // d/dt
	samples   [3]float64 // that a step went over: more than one where several came with one stamp
	together  float64    // samples that came with the newest one's stamp
	at        int64      // end of the middle step
	Count     int64
	Largest   float64
	LargestAt int64
	Judged    int64
}

// add takes one sample of the transmitted angle.
func (e *Encoder) add(at int64, theta float64) {
	if !(math.Abs(theta) < 1e12) { // no angle
		e.NotANum++
		return
	}
	if e.Samples == 0 {
		e.Low, e.High, e.origin = theta, theta, theta
	}
	e.Samples++
	if theta < e.Low {
		e.Low = theta
	}
	if theta > e.High {
		e.High = theta
	}
	e.onGrid(theta)
	if e.have == 0 {
		e.begin(at, theta)
		return
	}
	newest := e.have - 1
	dt := float64(at-e.at[newest]) * 1e-9
	if dt == 0 {
		e.jump.together++
		return
	}
	if e.shortest == 0 || dt > 0 && dt < e.shortest {
		e.shortest = dt
	}
	if dt < 0 || math.Abs(e.Omega)*dt > math.Pi || dt > 0.5 && dt > 20*e.shortest {
		// More than half a turn may have passed unseen, or time stepped back.
		e.Runs++
		e.begin(at, theta)
		return
	}
	d := fit.Wrap(theta - e.raw)
	e.raw = theta
	e.at[0], e.unw[0], e.turns[0] = e.at[newest], e.unw[newest], e.turns[newest]
	e.at[1], e.unw[1] = at, e.unw[newest]+d
	e.have = 2
	e.speed()
	e.turns[1] = e.moving
	if e.moving {
		e.Travel += math.Abs(d)
	}
	e.step3(at, d, dt)
}

// begin starts a run: nothing is carried over.
func (e *Encoder) begin(at int64, theta float64) {
	e.have, e.nPast, e.Omega, e.moving = 1, 0, 0, false
	e.at[0], e.unw[0], e.raw, e.turns[0] = at, theta, theta, false
	e.jump.n, e.jump.together = 0, 0
	e.pushPast()
}

func (e *Encoder) pushPast() {
	copy(e.past[1:], e.past[:3])
	newest := e.have - 1
	e.past[0] = mark{e.at[newest], e.unw[newest]}
	e.nPast = min(e.nPast+1, len(e.past))
}

// speed looks back over the last marks; a whole window keeps single counts from showing as speed.
func (e *Encoder) speed() {
	oldest := e.past[e.nPast-1]
	dt := float64(e.at[1]-oldest.at) * 1e-9
	d := e.unw[1] - oldest.unw
	e.Omega = d / dt
	fast, some := math.Abs(e.Omega), math.Abs(d) > 2.5*e.count
	switch {
	case !e.moving && fast > turningFrom && some:
		e.moving = true
	case e.moving && (fast < turningTo || !some):
		e.moving = false
	}
	if e.at[1]-e.past[0].at >= e.spacing {
		e.pushPast()
	}
}

// still tells whether the angle is known not to move: after a gap it takes some samples to know.
func (e *Encoder) still() bool { return !e.moving && e.have > 0 && e.nPast == len(e.past) }

// angleAt returns the unwrapped angle at a time between the two newest samples; exact is
// false where the time lies outside and the nearer sample is given.
func (e *Encoder) angleAt(at int64) (theta float64, exact bool) {
	switch {
	case e.have == 0:
		return 0, false
	case e.have == 1 || at <= e.at[0]:
		return e.unw[0], at == e.at[0]
	case at >= e.at[1]:
		return e.unw[1], at == e.at[1]
	}
	part := float64(at-e.at[0]) / float64(e.at[1]-e.at[0])
	return e.unw[0] + float64(part*(e.unw[1]-e.unw[0])), true
}

// before returns the unwrapped angle of the last sample before a time, and whether it turned then. What
// has that very time does not count, so the order of messages that share a time stamp does not either.
func (e *Encoder) before(at int64) (theta float64, turns bool) {
	for k := e.have - 1; k >= 0; k-- {
		if e.at[k] < at {
			return e.unw[k], e.turns[k]
		}
	}
	return e.unw[0], false
}

// roundToInt added and taken away again rounds to a whole number, which math.Round does in several times the time.
const roundToInt = 3 << 51

// onGrid learns the resolution: the greatest common divisor of all steps from the
// first angle, in encoder counts.
func (e *Encoder) onGrid(theta float64) {
	if e.count == 0 {
		return
	}
	x := (theta - e.origin) / e.count
	n := float64(x+roundToInt) - roundToInt
	// The transmitted number is rounded to its raw step, once at each end.
	if math.Abs(x-n)*e.count > e.step+1e-9 {
		e.OffGrid++
		return
	}
	i := int64(n)
	if i == e.index {
		return
	}
	d := i - e.index
	e.index = i
	if d < 0 {
		d = -d
	}
	e.places++
	for e.grid != 1 && d != 0 { // 1 has no other divisor
		e.grid, d = d, e.grid%d
	}
}

// step3 judges the middle of three steps against its neighbours: a jump is what neither the
// speed before nor the speed after explains. Time stamps are used, so lost frames are no jumps; nor are stamps that scatter.
func (e *Encoder) step3(at int64, d, dt float64) {
	j := &e.jump
	if j.n == 3 {
		j.d[0], j.d[1] = j.d[1], j.d[2]
		j.dt[0], j.dt[1] = j.dt[1], j.dt[2]
		j.speed[0], j.speed[1] = j.speed[1], j.speed[2]
		j.samples[0], j.samples[1] = j.samples[1], j.samples[2]
		j.n = 2
	}
	j.d[j.n], j.dt[j.n], j.speed[j.n], j.samples[j.n] = d, dt, d/dt, 1+j.together
	j.n++
	j.together = 0
	if j.n == 3 {
		// Any speed between that before and that after is an explanation.
		before, after := float64(j.speed[0]*j.dt[1]), float64(j.speed[2]*j.dt[1])
		off := math.Abs(j.d[1]-(before+after)/2) - math.Abs(before-after)/2 // of the range between them; below 0 within it
		// Where frames are missing the speed itself may have changed: 50 rad/s² is a hard brake on a small wheel.
		change := float64(25 * j.dt[1] * (j.dt[0] + j.dt[1] + j.dt[2]))
		if change < math.Pi/4 { // else no step could be told from a jump
			j.Judged++
			if off -= change; off > j.Largest || off > e.limit {
				off = min(off, j.counted()-change)
				if off > j.Largest {
					j.Largest, j.LargestAt = off, j.at
				}
				if off > e.limit {
					j.Count++
				}
			}
		}
	}
	j.at = at
}

// counted tells by how much the middle of three steps is off where samples are as far apart as their number says: the stamps of
// a line that delivers in bursts scatter, and the wheel turns evenly all the same.
func (j *jumps) counted() float64 {
	before, after := j.d[0]/j.samples[0]*j.samples[1], j.d[2]/j.samples[2]*j.samples[1]
	return math.Abs(j.d[1]-(before+after)/2) - math.Abs(before-after)/2
}
