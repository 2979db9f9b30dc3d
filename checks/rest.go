package checks

import (
	"math"

	"plumbline/checks/fit"
)

// settle is how long a wheel must have been at rest in one state before it counts, ns.
const settleNs = 5e8

// restWindowNs is the length of one batch at rest, ns.
const restWindowNs = 1e9

// Rest gathers the radial force of a wheel that stands still on the ground, one
// batch a second: samples of one second are correlated, seconds hardly.
type Rest struct {
	Force    fit.Welford // |f| of each whole second, N
	Samples  int64
	From, To int64 // ns

	since    int64 // at rest and in one state since then; 0: not
	start    int64
	n        int64
	sum      float64
	low      float64
	high     float64
	theta    float64
	spread   float64 // of |f| within a second that still counts as at rest, N
	creepRad float64 // angle within a second that still counts as at rest
}

// add takes the radial force of a row.
func (r *Rest) add(at int64, fx, fz, theta float64, moving, loaded bool) {
	if moving || !loaded {
		r.since, r.start = 0, 0
		return
	}
	if r.since == 0 || at < r.since {
		r.since, r.start = at, 0
	}
	if at-r.since < settleNs {
		return
	}
	f := math.Sqrt(float64(fx*fx) + float64(fz*fz))
	if r.start == 0 || at < r.start {
		r.begin(at, f, theta)
	}
	if at-r.start >= restWindowNs {
		if r.high-r.low <= r.spread && math.Abs(theta-r.theta) <= r.creepRad {
			if r.Force.N() == 0 {
				r.From = r.start
			}
			r.Force.Add(r.sum / float64(r.n))
			r.Samples += r.n
			r.To = at
		}
		r.begin(at, f, theta)
	}
	r.n++
	r.sum += f
	r.low, r.high = math.Min(r.low, f), math.Max(r.high, f)
}

func (r *Rest) begin(at int64, f, theta float64) {
	r.start, r.n, r.sum, r.low, r.high, r.theta = at, 0, 0, f, f, theta
}
