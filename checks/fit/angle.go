package fit

import "math"

const turn = 2 * math.Pi

// Wrap brings an angle into (−π, π]. Wrap(−π) is π. Whole turns of the float64
// 2·math.Pi are taken off without rounding, however many; that constant is
// 2.4e-16 short of 2π, so a thousand turns are off by 2.4e-13 rad. Of NaN and
// ±Inf it is NaN.
func Wrap(rad float64) float64 {
	if rad > -math.Pi && rad <= math.Pi { // nearly always
		return rad
	}
	rad = math.Remainder(rad, turn) // −π…π, exact
	if rad <= -math.Pi {
		return math.Pi
	}
	return rad
}

// WrapPositive brings an angle into [0, 2π).
func WrapPositive(rad float64) float64 {
	if rad >= 0 && rad < turn {
		return rad
	}
	rad = math.Remainder(rad, turn)
	if rad < 0 {
		rad += turn
	}
	if rad >= turn || rad == 0 { // a tiny negative angle rounds to a whole turn; no −0
		return 0
	}
	return rad
}

// Difference returns a − b the short way round, in (−π, π].
func Difference(a, b float64) float64 { return Wrap(a - b) }

// Circular keeps the mean direction of a stream of angles. The zero value is
// empty.
type Circular struct {
	n    int64
	c, s float64
}

// Add adds one angle by its cosine and sine.
func (m *Circular) Add(c, s float64) {
	m.n++
	m.c += c
	m.s += s
}

// AddAngle adds one angle.
func (m *Circular) AddAngle(rad float64) {
	s, c := math.Sincos(rad)
	m.Add(c, s)
}

// Merge adds the angles of o.
func (m *Circular) Merge(o *Circular) {
	m.n += o.n
	m.c += o.c
	m.s += o.s
}

// N returns how many angles were added.
func (m *Circular) N() int64 { return m.n }

// Mean returns the mean direction in (−π, π] and the mean resultant length,
// 0…1: 1 where all angles are the same, near 0 where they have no common
// direction. The direction is NaN where the resultant is 0 within rounding,
// both are NaN without angles.
func (m *Circular) Mean() (rad, length float64) {
	if m.n == 0 {
		return math.NaN(), math.NaN()
	}
	n := float64(m.n)
	c, s := m.c/n, m.s/n
	length = min(1, math.Sqrt(float64(c*c)+float64(s*s)))
	if length < 1e-15 {
		return math.NaN(), length
	}
	return Wrap(math.Atan2(s, c)), length
}
