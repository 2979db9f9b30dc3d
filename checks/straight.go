package checks

import (
	"cmp"
	"math"
	"slices"
)

// How far a window may lie from the straight roll; common practice.
const (
	straightRatio   = 0.003 // of left against right; a curve of 270 m radius at a track of 1.6 m
	straightSlipRad = 0.01  // where no axle has both wheels
)

// straights are the windows in which the vehicle rolled straight on.
//
// In a curve the outer wheel of an axle turns more than the inner one: (right − left)/(right + left) moves away from
// what different tyres make of it, on all axles alike. The straight roll is where these values
// lie densest, not their mean: curves to one side do not shift it. Where no axle has
// both wheels the slip angle at a ground speed sensor takes its place.
type straights struct {
	rows   [][]float64
	curves int          // windows left out
	lean   float64      // (right − left)/(right + left) that all axles share: no straight road was there
	rest   [][2]float64 // speed x and y of each ground speed sensor at rest, m/s
	wheels []commonOff  // by ground speed sensor: what all wheels share
	radii  []Finding    // of radius, by corner
}

func newStraights(v *view) straights {
	r := &v.rolls
	n := r.kept()
	s := straights{rest: make([][2]float64, len(r.optics))}
	for k, o := range r.optics {
		for m, q := range [...]Quantity{SpeedX, SpeedY} {
			if rest := v.optics[o].atRest(one(q)); rest.N() > 0 {
				s.rest[k][m] = rest.Mean()
			}
		}
	}
	if n == 0 {
		return s
	}
	straight := make([]bool, n)
	found := false
	var leans []float64
	for _, p := range v.pairs() {
		ratios := make([]float64, n)
		counts := 0.0
		var turned []float64
		for k := range n {
			row := r.row(k)
			left, right := math.Abs(row[1+p[0]]), math.Abs(row[1+p[1]])
			ratios[k] = (right - left) / (right + left)
			if left+right > 0 {
				turned = append(turned, (left+right)/2)
			}
		}
		for _, c := range p {
			counts = math.Max(counts, v.corners[c].encoder.count)
		}
		if len(turned) == 0 {
			continue
		}
		slices.Sort(turned)
		within := straightRatio + 0.6*counts/turned[len(turned)/2]
		middle := densest(ratios, within)
		found = true
		leans = append(leans, middle)
		for k, x := range ratios {
			straight[k] = straight[k] || math.Abs(x-middle) <= within
		}
	}
	if !found {
		v.straightBySlip(straight)
	}
	s.lean = shared(leans, v.setup.Limits.AgreementRatio/2)
	for k := range n {
		if straight[k] {
			s.rows = append(s.rows, r.row(k))
		}
	}
	s.curves = n - len(s.rows)
	return s
}

// pairs lists the left and the right corner of each axle that has both angles.
func (v *view) pairs() [][2]int {
	var out [][2]int
	for i := range v.corners {
		a := v.corners[i].setup
		if a.Side != Left || !a.fitted(Angle) {
			continue
		}
		for k := range v.corners {
			b := v.corners[k].setup
			if b.Side == Right && b.Axle == a.Axle && b.fitted(Angle) && !slices.ContainsFunc(out, func(p [2]int) bool { return p[0] == i || p[1] == k }) {
				out = append(out, [2]int{i, k})
			}
		}
	}
	return out
}

// straightBySlip takes the slip angle for the curve; without one every window counts.
func (v *view) straightBySlip(straight []bool) {
	r := &v.rolls
	angles := make([]float64, len(straight))
	known := false
	for k := range angles {
		angles[k] = math.NaN()
		for o := range r.optics {
			x, y := r.row(k)[1+r.corners+3*o], r.row(k)[2+r.corners+3*o]
			if a := math.Atan2(y, x); a-a == 0 {
				if math.Abs(a) > math.Pi/2 { // rolling back, or a sensor turned round
					a = math.Atan2(-y, -x)
				}
				angles[k], known = a, true
				break
			}
		}
	}
	middle := densest(angles, straightSlipRad)
	for k, a := range angles {
		straight[k] = !known || math.Abs(a-middle) <= straightSlipRad
	}
}

// densest returns the median of the values in that interval of twice the half width which holds the most of
// them; NaN without values.
func densest(x []float64, half float64) float64 {
	sorted := slices.DeleteFunc(slices.Clone(x), func(v float64) bool { return v-v != 0 })
	if len(sorted) == 0 {
		return math.NaN()
	}
	slices.Sort(sorted)
	best, most, from := 0, 0, 0
	for to := range sorted {
		for sorted[to]-sorted[from] > 2*half {
			from++
		}
		if n := to - from + 1; n > most {
			best, most = from, n
		}
	}
	return sorted[best+most/2]
}

// shared returns what all of at least two values have in common, where that exceeds a bound: the smallest, if
// all have one sign; else 0.
func shared(x []float64, bound float64) float64 {
	if len(x) < 2 {
		return 0
	}
	least := slices.MinFunc(x, func(a, b float64) int { return cmp.Compare(math.Abs(a), math.Abs(b)) })
	for _, v := range x {
		if v*least <= 0 {
			return 0
		}
	}
	if math.Abs(least) <= bound {
		return 0
	}
	return least
}

// turned returns by how much corner i turned in a window, rad ≥ 0, as it would have on a straight road; NaN: not known.
func (v *view) turned(row []float64, i int) float64 {
	d := math.Abs(row[1+i])
	if v.corners[i].setup.Side == Right {
		return d * (1 - v.straight.lean)
	}
	return d * (1 + v.straight.lean)
}

// speeds returns what ground speed sensor k of the roll showed in a window, m/s, without what it shows at rest.
func (v *view) speeds(row []float64, k int) (x, y float64) {
	at := 1 + v.rolls.corners + 3*k
	return row[at] - v.straight.rest[k][0], row[at+1] - v.straight.rest[k][1]
}

// speed returns the size of what ground speed sensor k of the roll showed in a window, m/s: however it is mounted.
func (v *view) speed(row []float64, k int) float64 {
	x, y := v.speeds(row, k)
	if y-y != 0 {
		return math.Abs(x)
	}
	return math.Sqrt(float64(x*x) + float64(y*y))
}
