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
// |value| − U > limit, else undecided. Undecided as well if any of the three is NaN or if U or
// limit is negative.
func Guard(value, U, limit float64) Decision {
	if !(limit >= 0) {
		return Undecided
	}
	return GuardInterval(math.Abs(value), U, math.Inf(-1), limit)
}

// GuardInterval decides in the same way whether value lies in lo…hi. An end
// may be infinite, a value that is infinite is never within. Undecided if any
// number is NaN, U is negative or lo > hi.
func GuardInterval(value, U, lo, hi float64) Decision {
	switch {
	case !(U >= 0) || !(lo <= hi):
		return Undecided
	case finite(value) && value-U >= lo && value+U <= hi:
		return Within
	case value+U < lo || value-U > hi:
		return Beyond
	}
	return Undecided
}
