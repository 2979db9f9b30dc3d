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

	stands [keptRests]stand // the newest seconds, newest at (Force.N()−1) mod keptRests

	since    int64 // at rest and in one state since then; 0: not
	start    int64
	n        int64
	sum      float64
	x, z     float64 // sums of both forces, N
	low      float64
	high     float64
	theta    float64
	spread   float64 // of |f| within a second that still counts as at rest, N
	creepRad float64 // angle within a second that still counts as at rest
}

// stand is the mean radial force of a second at rest, N in the axes in which it is sent, and the angle, rad.
type stand struct{ fx, fz, theta float64 }

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
		if r.high-r.low <= r.spread && math.Abs(theta-r.theta) <= r.creepRad && r.steady() {
			if r.Force.N() == 0 {
				r.From = r.start
			}
			n := float64(r.n)
			r.stands[r.Force.N()%keptRests] = stand{r.x / n, r.z / n, (r.theta + theta) / 2}
			r.Force.Add(r.sum / n)
			r.Samples += r.n
			r.To = at
		}
		r.begin(at, f, theta)
	}
	r.n++
	r.sum += f
	r.x += fx
	r.z += fz
	r.low, r.high = math.Min(r.low, f), math.Max(r.high, f)
}

// steady tells whether the force pointed one way all through: that of a wheel whose angle is stuck goes round.
func (r *Rest) steady() bool { return math.Sqrt(float64(r.x*r.x)+float64(r.z*r.z)) > 0.98*r.sum }

func (r *Rest) begin(at int64, f, theta float64) {
	r.start, r.n, r.sum, r.low, r.high, r.theta = at, 0, 0, f, f, theta
	r.x, r.z = 0, 0
}
