package checks

import (
	"math"
	"strings"
)

// Hang says whether a wheel is lifted or carries the vehicle.
type Hang uint8

// The states of a wheel.
const (
	Unknown Hang = iota
	Lifted
	Loaded
)

// gravity is the standard acceleration of free fall, m/s² (CGPM 1901).
const gravity = 9.80665

// condition says in which state one wheel is, from the size of its radial force.
// The zero offset is not known when that is decided, so the bound lies far from
// both: a quarter of the way from the hanging weight to the resting load.
type condition struct {
	hang   Hang
	since  int64 // ns, when hang became so
	said   Hang  // a person's word, until the signals agree; Unknown: none
	up     float64
	down   float64 // bounds of the squared force, N²: above up loaded, below down lifted
	square float64 // smoothed |f|², N²
	seen   bool
	least  float64 // |fx| + |fz| below which a force has no direction, N
}

// newCondition sets the bounds from the hanging weight and the load, with a tenth of hysteresis to either side.
func newCondition(c *Corner) condition {
	load := c.LoadN
	if load <= 0 {
		load = 3000 // common practice: a light passenger car; a setup that judges forces gives its own
	}
	hanging := c.WheelMassKg * gravity
	bound := hanging + math.Max((load-2*hanging)/4, load/10)
	return condition{up: square(1.1 * bound), down: square(0.9 * bound), least: math.Max(hanging/2, leastAnswerN)}
}

func square(x float64) float64 { return x * x }

// add takes one pair of radial forces, N.
func (c *condition) add(at int64, fx, fz float64) {
	s := float64(fx*fx) + float64(fz*fz)
	if !c.seen {
		c.square, c.seen = s, true
	} else {
		c.square += float64((s - c.square) / 8)
	}
	hang := c.hang
	switch {
	case c.square > c.up:
		hang = Loaded
	case c.square < c.down:
		hang = Lifted
	}
	if c.said == hang {
		c.said = Unknown // the signals have come round: from here on they know
	}
	if c.said != Unknown {
		hang = c.said
	}
	if hang != c.hang {
		c.hang, c.since = hang, at
	}
}

// mark takes a person's word about one corner or all of them. It returns what kind of
// word it was: "turn", "lift", "down", or "" where the text is only kept.
func (j *Judge) markWord(at int64, text string) (word string, corner int) {
	fields := strings.Fields(strings.ToLower(text))
	all := strings.Join(fields, " ")
	set := func(h Hang, which int) {
		for i := range j.corners {
			if which < 0 || which == i {
				c := &j.corners[i].condition
				c.said = h
				if c.hang != h {
					c.hang, c.since = h, at
				}
			}
		}
	}
	switch {
	case all == "on the lift":
		set(Lifted, -1)
		return "lift", -1
	case all == "down":
		set(Loaded, -1)
		return "down", -1
	case len(fields) >= 2 && (fields[0] == "turn" || fields[0] == "lift"):
		name := strings.Join(fields[1:], " ")
		for i := range j.setup.Corners {
			if strings.EqualFold(strings.Join(strings.Fields(j.setup.Corners[i].Name), " "), name) {
				if fields[0] == "lift" {
					set(Lifted, i)
				}
				return fields[0], i
			}
		}
	}
	return j.boardWord(fields)
}
