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
