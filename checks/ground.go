package checks

import "math"

// lookNs is how often the vehicle as a whole is looked at, ns of event time.
const lookNs = 100e6

// blindNs is after how long without a look or a value nobody knows what was in between, ns.
const blindNs = 2.5e9

// slowMps is below which speed a vehicle counts as standing where nothing but its ground speed tells, m/s.
const slowMps = 0.5

// ground knows whether the vehicle as a whole stands or rolls on the ground. A wheel
// stands while its angle does, its speed channel agrees and its radial force points one way;
// so an angle that is stuck does not make a rolling vehicle rest.
type ground struct {
	next   int64 // ns, of the next look
	feet   []foot
	forces bool // some corner has radial forces

	since   int64 // ns, since when it has stood on the ground; 0: it does not
	lifted  bool  // some wheel hangs
	rolling bool  // it rolls on its wheels
	last    int64 // ns, of the last look
}

// foot is how one corner stands on the ground.
type foot struct {
	angle, force, spin *Timing // of the messages; nil: not fitted

	fx, fz   float64 // radial force in its axes, up to a second ago, N
	at       int64   // ns, of that
	turnedAt int64   // ns, when its direction last was another one
}

// footState is what one look at a corner shows.
type footState struct {
	known, moving, lifted, down bool
}

func newGround(j *Judge) ground {
	g := ground{feet: make([]foot, len(j.corners))}
	for i := range j.corners {
		set := j.corners[i].setup
		timing := func(q Quantity) *Timing {
			if ch := set.Channels[q]; ch != None {
				return &j.messages[j.setup.Channels[ch].Message].timing
			}
			return nil
		}
		g.feet[i] = foot{angle: timing(Angle), spin: timing(Spin)}
		if set.fitted(Fx, Fz) {
			g.feet[i].force, g.forces = timing(Fz), true
		}
	}
	return g
}

// fresh tells whether a message still arrives: one that has stopped says nothing of now.
func (t *Timing) fresh(at int64) bool {
	return t != nil && t.Count > 0 && float64(at-t.Last)*1e-9 <= math.Max(1, 3*t.Period)
}

// look is called before the first message at or after each moment of the grid.
func (j *Judge) look(at int64) {
	g := &j.ground
	if at-g.last > blindNs {
		g.since = 0
	}
	g.last, g.next = at, at+lookNs
	var known, moving, rolling, lifted, down int
	for i := range g.feet {
		s := g.feet[i].look(at, &j.corners[i])
		count(&known, s.known)
		count(&moving, s.moving)
		count(&rolling, s.moving && s.known && !s.lifted)
		count(&lifted, s.lifted)
		count(&down, s.down)
	}
	fast, slow := j.groundSpeed(at)
	if known == 0 {
		count(&moving, fast)
		count(&known, slow)
	}
	g.lifted = lifted > 0
	grounded := lifted == 0 && (down > 0 || !g.forces)
	if !grounded || known == 0 || moving > 0 {
		g.since = 0
	} else if g.since == 0 {
		g.since = at
	}
	g.rolling = grounded && 2*rolling >= known && rolling > 0
	j.roll(at)
	j.drive(at)
	j.paces(at)
}

func count(n *int, yes bool) {
	if yes {
		*n++
	}
}

func (f *foot) look(at int64, c *corner) (s footState) {
	if f.angle.fresh(at) && c.encoder.have > 0 {
		s.known, s.moving = true, c.encoder.moving
	}
	if f.spin.fresh(at) {
		s.moving = s.moving || math.Abs(c.spin) > 2*turningFrom
	}
	if !f.force.fresh(at) {
		return s
	}
	s.lifted, s.down = c.condition.hang == Lifted, c.condition.hang == Loaded
	if !s.down {
		f.at = 0
		return s
	}
	x, z := c.value[Fx], c.value[Fz]
	dot := float64(x*f.fx) + float64(z*f.fz)
	sizes := (float64(x*x) + float64(z*z)) * (float64(f.fx*f.fx) + float64(f.fz*f.fz))
	// 18° from where it pointed: no load that shifts does that.
	if f.at != 0 && (dot < 0 || dot*dot < 0.9*sizes) {
		f.turnedAt = at
		f.at = 0
	}
	if f.at == 0 || at-f.at > 1e9 {
		f.fx, f.fz, f.at = x, z, at
	}
	s.moving = s.moving || f.turnedAt != 0 && at-f.turnedAt < 1e9
	s.known = s.known || c.setup.Forces == Rotating
	return s
}

// groundSpeed tells whether some sensor sees the ground move, and whether all that speak see it stand.
func (j *Judge) groundSpeed(at int64) (fast, slow bool) {
	for i := range j.optics {
		o := &j.optics[i]
		ch := o.setup.Channels[SpeedX]
		if ch == None || !j.messages[j.setup.Channels[ch].Message].timing.fresh(at) || !o.spoke {
			continue
		}
		if math.Abs(o.last[SpeedX-HeightOuter]) > slowMps {
			fast = true
		} else {
			slow = true
		}
	}
	return fast, slow && !fast
}

// stood tells whether the vehicle has stood on the ground from a time on, ns, and has settled before it.
func (g *ground) stood(from int64) bool { return g.since != 0 && from-g.since >= settleNs }
