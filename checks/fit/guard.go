package fit

import "math"

// Decision is the outcome of comparing an uncertain value with limits. Its
// zero value is Undecided.
type Decision uint8

// The decisions.
const (
	Undecided Decision = iota // the limit lies within the uncertainty
	Within
	Beyond
)

// String returns the decision as a word.
func (d Decision) String() string {
	switch d {
	case Within:
		return "within"
	case Beyond:
		return "beyond"
	case Undecided:
	}
	return "undecided"
}

// Guard decides whether |value| keeps limit, with a guard band as wide as the
// expanded uncertainty U (JCGM 106:2012, guarded acceptance and guarded
// rejection with w = U): within if |value| + U ≤ limit, beyond if
// |value| − U > limit, else undecided. A value that is infinite is never within.
// Undecided as well if any of the three is NaN or if U or limit is negative.
func Guard(value, U, limit float64) Decision {
	value = math.Abs(value)
	switch {
	case !(U >= 0) || !(limit >= 0):
		return Undecided
	case finite(value) && value+U <= limit:
		return Within
	case value-U > limit:
		return Beyond
	}
	return Undecided
}
