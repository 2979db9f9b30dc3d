package checks

import "math"

// lap tells whole revolutions apart: from an angle once round to the same angle.
// A wheel that stops, or goes back by more than a wobble of the hand, begins anew.
type lap struct {
	on     bool
	dir    int8    // +1 forward, −1 back, 0 not known yet
	from   float64 // unwrapped angle at which it began, rad
	most   float64 // farthest from there, rad, ≥ 0
	fromAt int64   // ns
	run    int32   // revolutions without a pause between them share a run
}

// wobble is how far a hand may let a wheel fall back without beginning anew, rad.
const wobble = 0.2

// lapEvent is what a lap makes of one more angle.
type lapEvent uint8

const (
	lapOff   lapEvent = iota // not turning
	lapBegun                 // a new one begins with this angle: earlier sums are void
	lapGoes
	lapDone // the one before is whole, a new one begins with this angle
)

func (l *lap) add(at int64, theta float64, moving bool) lapEvent {
	if !moving {
		l.on = false
		return lapOff
	}
	if !l.on {
		l.begin(at, theta)
		return lapBegun
	}
	moved := theta - l.from
	if l.dir == 0 {
		if math.Abs(moved) < wobble {
			return lapGoes
		}
		l.dir = int8(math.Copysign(1, moved))
	}
	moved *= float64(l.dir)
	switch {
	case moved < l.most-wobble:
		l.begin(at, theta)
		return lapBegun
	case moved >= 2*math.Pi:
		l.from += float64(l.dir) * 2 * math.Pi
		l.most = max(moved-2*math.Pi, 0)
		l.fromAt = at
		return lapDone
	}
	if moved > l.most { // max looks after NaN and −0
		l.most = moved
	}
	return lapGoes
}

func (l *lap) begin(at int64, theta float64) {
	*l = lap{on: true, from: theta, fromAt: at, run: l.run + 1}
}

// part returns how much of the present revolution is done, 0 to 1, and its direction.
func (l *lap) part() (float64, int8) {
	if !l.on {
		return 0, 0
	}
	return l.most / (2 * math.Pi), l.dir
}
