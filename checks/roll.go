package checks

import (
	"math"
	"slices"
)

// Lengths and bounds of a rolling window; common practice.
const (
	halfRollNs   = 5e8  // a window has two halves
	keptRolls    = 512  // newest windows
	rollChange   = 0.03 // by which the halves of a steady window differ at the most
	slowestRoll  = 1.5  // rad/s
	signedRollMs = 0.3  // m/s from which the sign of a ground speed tells the direction
)

// Roll gathers windows of a second in which the wheels rolled steadily on the ground: how far
// each turned, and what the ground speed sensors showed on average. All wheels are asked for
// the same time, so they can be compared however they are sampled. Curves are told apart when
// somebody asks. Memory is fixed.
type Roll struct {
	Seen int64 // windows ever

	corners int
	optics  []int     // that see the ground speed
	rows    []float64 // ring of windows
	ends    []int64   // when each ended, ns
	senses  []sense   // by corner
	radii   []float64 // nominal, by corner, m; 0: not known

	on      bool
	from    int64 // ns, when the half under way began
	half    []float64
	before  []float64 // the half before it
	has     bool
	start   []float64 // angle at the beginning of the half, rad
	breaks  []int64   // runs and jumps of the encoder then
	through []bool    // it has turned all through the half
}

// sense counts halves of windows in which an angle counted as the others did, or against them.
type sense struct{ with, against, withSpeed, againstSpeed int64 }

// A row holds the duration, s, the angle by which each corner turned, rad, and speed x, speed y and slip of each
// ground speed sensor; NaN where it is not known.
func (r *Roll) stride() int { return 1 + r.corners + 3*len(r.optics) }

func newRoll(s *Setup) Roll {
	r := Roll{corners: len(s.Corners), radii: nominalRadii(s.Corners)}
	for i := range s.Optics {
		if s.Optics[i].Kind == GroundSpeed {
			r.optics = append(r.optics, i)
		}
	}
	if !slices.ContainsFunc(s.Corners, func(c Corner) bool { return c.fitted(Angle) }) {
		return r
	}
	n := r.stride()
	r.rows, r.ends = make([]float64, keptRolls*n), make([]int64, keptRolls)
	r.half, r.before = make([]float64, n), make([]float64, n)
	r.senses = make([]sense, r.corners)
	r.start, r.breaks, r.through = make([]float64, r.corners), make([]int64, r.corners), make([]bool, r.corners)
	return r
}

// kept returns how many windows there are.
func (r *Roll) kept() int { return int(min(r.Seen, keptRolls)) }

// row returns a window, from the oldest that is kept.
func (r *Roll) row(k int) []float64 {
	n := r.stride()
	at := r.at(k) * n
	return r.rows[at : at+n]
}

// at returns where a window lies in the ring.
func (r *Roll) at(k int) int { return int((r.Seen - int64(r.kept()) + int64(k)) % keptRolls) }

// span returns when the windows that are kept began and ended, ns; there must be one.
func (r *Roll) span() (from, to int64) {
	return r.ends[r.at(0)] - int64(1e9*r.row(0)[0]), r.ends[r.at(r.kept()-1)]
}

// stop ends the window under way.
func (r *Roll) stop() { r.on, r.has = false, false }

// roll is part of a look at the vehicle.
func (j *Judge) roll(at int64) {
	r := &j.rolls
	switch {
	case r.rows == nil:
	case !j.ground.rolling:
		r.stop()
	case !r.on || at-r.from > 2*halfRollNs || at < r.from:
		r.stop()
		j.beginHalf(at)
	default:
		for i := range r.through {
			c := &j.corners[i].encoder
			r.through[i] = r.through[i] && c.moving && c.breaks() == r.breaks[i]
		}
		if at-r.from >= halfRollNs {
			j.endHalf(at)
			j.beginHalf(at)
		}
	}
}

// breaks changes where the angle cannot be followed through.
func (e *Encoder) breaks() int64 { return e.Runs + e.jump.Count }

// ahead returns the unwrapped angle at a time soon after the newest sample, going on at its speed; ok is
// false where that would be a guess.
func (e *Encoder) ahead(at int64) (theta float64, ok bool) {
	if e.have < 2 {
		return 0, false
	}
	dt := float64(at-e.at[1]) * 1e-9
	between := float64(e.at[1]-e.at[0]) * 1e-9
	if dt < 0 || dt > math.Max(0.05, 1.5*between) {
		return 0, false
	}
	return e.unw[1] + float64(e.Omega*dt), true
}

func (j *Judge) beginHalf(at int64) {
	r := &j.rolls
	r.on, r.from = true, at
	for i := range r.start {
		e := &j.corners[i].encoder
		r.start[i], r.through[i] = e.ahead(at)
		r.through[i] = r.through[i] && e.moving
		r.breaks[i] = e.breaks()
	}
	for _, o := range r.optics {
		j.optics[o].rolled = [3]running{}
	}
}

func (j *Judge) endHalf(at int64) {
	r := &j.rolls
	h := r.half
	h[0] = float64(at-r.from) * 1e-9
	for i := range r.start {
		h[1+i] = math.NaN()
		if theta, ok := j.corners[i].encoder.ahead(at); ok && r.through[i] {
			if d := theta - r.start[i]; math.Abs(d) >= slowestRoll*h[0] {
				h[1+i] = d
			}
		}
	}
	for k, o := range r.optics {
		for m := range 3 {
			h[1+r.corners+3*k+m] = j.optics[o].rolled[m].take()
		}
	}
	r.sense()
	if !r.has || !r.steady() {
		copy(r.before, h)
		r.has = true
		return
	}
	r.has = false
	r.Seen++
	row := r.row(r.kept() - 1)
	for k := range row {
		row[k] = r.before[k] + h[k]
		if k > r.corners {
			row[k] /= 2 // speeds are means
		}
	}
	r.ends[r.at(r.kept()-1)] = at
}

// steady tells whether the two halves of a window were as fast.
func (r *Roll) steady() bool {
	var before, now float64
	for i := range r.corners {
		if a, b := r.before[1+i], r.half[1+i]; a-a == 0 && b-b == 0 {
			before += math.Abs(a) / r.before[0]
			now += math.Abs(b) / r.half[0]
		}
	}
	return before > 0 && math.Abs(now-before) <= rollChange*(now+before)/2
}

// sense compares the directions in which the angles counted in the half under way.
func (r *Roll) sense() {
	h := r.half
	up, down := 0, 0
	for i := range r.corners {
		count(&up, h[1+i] > 0)
		count(&down, h[1+i] < 0)
	}
	speed := 0.0
	for k := range r.optics {
		if v := h[1+r.corners+3*k]; math.Abs(v) > signedRollMs {
			speed = v
			break
		}
	}
	for i := range r.corners {
		d, s := h[1+i], &r.senses[i]
		if d-d != 0 {
			continue
		}
		same, other := up, down
		if d < 0 {
			same, other = down, up
		}
		switch {
		case same == 1 && other >= 1:
			s.against++
		case same > other:
			s.with++
		}
		switch {
		case speed*d > 0:
			s.withSpeed++
		case speed*d < 0:
			s.againstSpeed++
		}
	}
}
