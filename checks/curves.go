package checks

import "math"

// How curves are told; common practice.
const (
	curveRatio  = 0.008 // (right − left) ÷ (right + left) of an axle beyond which it is a curve: of 100 m at a track of 1.6 m
	curveRad    = 1.5   // rad/s from which it is asked
	curveKeep   = 4     // looks that it is averaged over
	curveLeast  = 2     // curves with errors, at the least
	curveApart  = 5e9   // ns between two of them
	curveShare  = 0.8   // of the errors that lie in curves to one side
	curveStates = 3
)

// steer is where the vehicle is steered.
type steer uint8

const (
	straightOn steer = iota
	leftward
	rightward
)

func (s steer) String() string {
	return [curveStates]string{"straight on", "in curves to the left", "in curves to the right"}[s]
}

// curves counts errors and frames of a rolling wheel by where the vehicle is steered: a cable that chafes where
// the wheel is steered to one side loses frames there alone.
type curves struct {
	frames, errors [curveStates]int64
	episodes       [curveStates]int64 // curves with errors
	at             [curveStates]int64 // ns, of the newest error
	seenFrames     int64
	seenErrors     int64
}

// look takes what came since it was asked last.
func (c *curves) look(at int64, t *tally, s steer, known bool) {
	frames, errors := t.Frames.N()-c.seenFrames, t.errors-c.seenErrors
	c.seenFrames, c.seenErrors = t.Frames.N(), t.errors
	if !known || frames == 0 {
		return
	}
	c.frames[s] += frames
	c.errors[s] += errors
	if errors > 0 {
		if c.at[s] == 0 || at-c.at[s] > curveApart {
			c.episodes[s]++
		}
		c.at[s] = at
	}
}

// bunched tells whether errors come in curves to one side alone. T = Σ (n − e)² ÷ e over the three ways to steer, with
// e what the frames due there would have had, is χ² with 2 degrees of freedom where errors know nothing of it.
func (c *curves) bunched() (side steer, chi float64, ok bool) {
	var frames, errors float64
	for s := range c.frames {
		frames += float64(c.frames[s])
		errors += float64(c.errors[s])
	}
	if errors < leastErrors {
		return straightOn, 0, false
	}
	for s := range steer(curveStates) {
		if e := errors * float64(c.frames[s]) / frames; e > 0 {
			chi += square(float64(c.errors[s])-e) / e
		}
		if s != straightOn && float64(c.errors[s]) >= curveShare*errors && c.episodes[s] >= curveLeast {
			side, ok = s, true
		}
	}
	return side, chi, ok && chi > bunchedLimit
}

// steering averages how much more the right wheel of the first axle with both angles turns than the left one.
type steering struct {
	pair  [2]int // left and right corner
	ok    bool   // there is such an axle
	ratio float64
	known bool
}

func newSteering(s *Setup) steering {
	for i := range s.Corners {
		for k := range s.Corners {
			a, b := &s.Corners[i], &s.Corners[k]
			if a.Side == Left && b.Side == Right && a.Axle == b.Axle && a.fitted(Angle) && b.fitted(Angle) {
				return steering{pair: [2]int{i, k}, ok: true}
			}
		}
	}
	return steering{}
}

// look asks the two wheels.
func (s *steering) look(at int64, all []corner) {
	if !s.ok {
		return
	}
	l, r := &all[s.pair[0]].encoder, &all[s.pair[1]].encoder
	fresh := func(e *Encoder) bool { return e.moving && e.have > 0 && at-e.at[e.have-1] < angleStaleNs }
	if !fresh(l) || !fresh(r) || math.Abs(l.Omega) < curveRad || math.Abs(r.Omega) < curveRad || l.Omega*r.Omega < 0 {
		s.known = false
		return
	}
	x := (math.Abs(r.Omega) - math.Abs(l.Omega)) / (math.Abs(r.Omega) + math.Abs(l.Omega))
	if !s.known {
		s.known, s.ratio = true, x
		return
	}
	s.ratio += (x - s.ratio) / curveKeep
}

// way says where the vehicle is steered: to the left the right wheel turns more, forward as back.
func (s *steering) way() steer {
	switch {
	case s.ratio > curveRatio:
		return leftward
	case s.ratio < -curveRatio:
		return rightward
	}
	return straightOn
}
