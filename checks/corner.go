package checks

import (
	"math"

	"plumbline/checks/fit"
)

// corner is what is known of one corner: its streams, its condition and the evidence on it.
type corner struct {
	// What every sample touches stands together.
	value     [components]float64 // newest of each
	row       Row                 // filled while one message is taken in, as theta, angle, spin and spins are
	theta     float64
	spin      float64
	angle     bool
	spins     bool
	fixed     bool
	was       uint8 // what movement was worked out from
	movement  movement
	group     [components]uint8 // of each component: which of the corner's messages it comes in
	untilTwin int32             // changes until the next that is compared
	compared  int32

	setup *Corner
	index int

	encoder   Encoder
	condition condition
	turn      Turn
	answers   []Answer // by the corner whose angle it is; its own stays empty, that is turn
	rest      Rest
	twins     []twin // by the other corner
	phases    phases

	standstill   standstill
	speedometer  speedometer
	drift        Drift
	still        still
	warmth       warmth
	bunching     Bunching
	blocks       []block     // by group
	radialTiming *Timing     // of the message that the radial forces come in; nil: none
	wheelForce   *wheelForce // nil: nobody looks

	waiting waiting
	hold    [components]held // fixed forces whose axes come in different messages wait for each other
}

type held struct {
	at int64
	v  float64
	// fresh is the bit of Row.New.
	fresh uint8
	ok    bool
}

func newCorner(s *Setup, index int) corner {
	set := &s.Corners[index]
	c := corner{setup: set, index: index, condition: newCondition(set), fixed: set.Forces == Fixed}
	var messages []int
	for q := range components {
		ch := set.Channels[q]
		if ch == None {
			continue
		}
		m := s.Channels[ch].Message
		g := 0
		for g < len(messages) && messages[g] != m {
			g++
		}
		if g == len(messages) {
			messages = append(messages, m)
		}
		c.group[q] = uint8(g)
	}
	if n := set.AngleCounts; n > 0 {
		c.encoder.count = 2 * math.Pi / float64(n)
	}
	if ch := set.Channels[Angle]; ch != None {
		c.encoder.step = s.Channels[ch].Step
	}
	// A coarse encoder needs longer until its counts show the least speed.
	c.encoder.spacing = int64(1e9 * math.Min(math.Max(2.5*c.encoder.count/turningFrom/3, 0.012), 0.25))
	c.encoder.limit = math.Max(s.Limits.AngleJumpRad, AngleJumpCounts*c.encoder.count)
	c.answers = make([]Answer, len(s.Corners))
	c.twins = make([]twin, len(s.Corners))
	c.turn.fixed = c.fixed
	load := set.LoadN
	for k := range c.drift.parts {
		c.drift.parts[k].limit = s.Limits.DriftForceN
		if k >= 2 {
			c.drift.parts[k].limit = s.Limits.DriftMomentNm
		}
	}
	c.drift.steady = math.Max(steadyRatio*load, 60)
	c.rest.spread = math.Max(0.05*load, 60)
	c.rest.creepRad = math.Max(2.5*c.encoder.count, 0.02)
	return c
}

// flush takes what one message brought: first the row, then the angle of the same
// time stamp, which settles all rows up to it.
func (c *corner) flush(at int64, all []corner) {
	if c.row.Have != 0 {
		c.row.At = at
		if b := &c.blocks[c.row.Group]; at >= b.from {
			b.add(&c.row)
		}
		if c.fixed {
			c.pair(Fx, Fz)
			c.pair(Mx, Mz)
		}
		if c.row.has(Fx) || c.row.has(Fz) {
			c.condition.add(at, c.value[Fx], c.value[Fz])
		}
		switch {
		case c.setup.Channels[Angle] == None:
			if c.wheelForce != nil && c.fixed {
				c.wheelForce.add(&c.row, 0, true, c.condition.hang)
			}
			c.atRest(&c.row)
		case c.row.Have != 0:
			if c.waiting.full() {
				c.atRest(c.waiting.first())
			}
			c.waiting.push(&c.row)
			c.settle(all) // where the angle of the same time stamp came first
		}
		c.row.Have, c.row.New = 0, 0
	}
	if c.angle {
		c.angle = false
		runs, jumps := c.encoder.Runs, c.encoder.jump.Count
		c.encoder.add(at, c.theta)
		if c.encoder.Runs != runs || c.encoder.jump.Count != jumps {
			c.turn.abort()
			c.drift.stop()
		}
		c.phases.add(c.index, at, &c.encoder, all)
		c.settle(all)
	}
	if c.spins {
		c.spins = false
		theta, _ := c.encoder.angleAt(at)
		c.speedometer.add(at, c.spin, theta, c.encoder.moving, c.encoder.Runs)
		c.standstill.speed(at, c.spin, c.encoder.still())
	}
}

// pair joins two axes of fixed forces that come in different messages: a rotation needs
// both. The later one completes the pair with the earlier one's value, if that is fresh.
func (c *corner) pair(x, z Quantity) {
	if c.group[x] == c.group[z] {
		return
	}
	for _, q := range [2]Quantity{x, z} {
		if !c.row.has(q) {
			continue
		}
		other := x + z - q
		c.hold[q] = held{c.row.At, c.row.V[q], c.row.New & (1 << q), true}
		c.row.Have &^= 1 << q
		if o := &c.hold[other]; o.ok && c.row.At-o.at < 50e6 {
			c.row.V[q], c.row.V[other] = c.hold[q].v, o.v
			c.row.Have |= 1<<x | 1<<z
			c.row.New |= o.fresh
			c.hold[q].ok, o.ok = false, false
		}
		return
	}
}

// settle takes the waiting rows that the newest angle has bracketed.
func (c *corner) settle(all []corner) {
	e := &c.encoder
	for c.waiting.n > 0 {
		r := c.waiting.first()
		newest := e.have - 1
		if newest < 0 || r.At > e.at[newest] {
			return
		}
		if theta, ok := e.angleAt(r.At); ok {
			c.judgeRow(r, theta, all)
		} else {
			c.waiting.Dropped++
		}
		c.waiting.drop()
	}
}

// atRest takes a row that no angle came for: it can still tell the load.
func (c *corner) atRest(r *Row) {
	if fx, fz, ok := c.radial(r); ok {
		theta, _ := c.encoder.angleAt(r.At)
		c.rest.add(r.At, fx, fz, theta, c.encoder.moving, c.condition.hang == Loaded)
	}
}

// radial returns both radial forces of a row. Rotating ones that come in different messages
// each have their own place in a turn; where the size is wanted, the later completes the pair.
func (c *corner) radial(r *Row) (fx, fz float64, ok bool) {
	if r.has(Fx) && r.has(Fz) {
		return r.V[Fx], r.V[Fz], true
	}
	if c.fixed || c.group[Fx] == c.group[Fz] || !r.has(Fx) && !r.has(Fz) {
		return 0, 0, false
	}
	x, z := &c.hold[Fx], &c.hold[Fz]
	if r.has(Fx) {
		*x = held{at: r.At, v: r.V[Fx], ok: true}
	} else {
		*z = held{at: r.At, v: r.V[Fz], ok: true}
	}
	if !x.ok || !z.ok || max(x.at-z.at, z.at-x.at) >= 50e6 {
		return 0, 0, false
	}
	x.ok, z.ok = false, false
	return x.v, z.v, true
}

// judgeRow hands one row to the evidence that it belongs to.
func (c *corner) judgeRow(r *Row, theta float64, all []corner) {
	if c.wheelForce != nil {
		c.wheelForce.add(r, theta, c.fixed, c.condition.hang)
	}
	moving := c.encoder.moving
	lifted := c.condition.hang == Lifted
	fx, fz, both := c.radial(r)
	if both {
		c.rest.add(r.At, fx, fz, theta, moving, c.condition.hang == Loaded)
	}
	var cos, sin float64
	if moving || c.fixed && lifted {
		sin, cos = fit.Sincos(theta)
	}
	if both {
		c.standstill.force(r.At, fx, fz, moving, c.condition.hang, c.condition.least)
		if moving {
			c.bunching.add(r.At, theta, cos, sin, c.radialTiming.InUse(), lifted)
		} else {
			c.bunching.stop()
		}
	}
	if !lifted {
		c.turn.stop()
		c.drive(r, theta, cos, sin, moving)
		return
	}
	c.drift.stop()
	if c.fixed {
		r.turn(Fx, Fz, cos, sin)
		r.turn(Mx, Mz, cos, sin)
	}
	c.turn.add(r, theta, cos, sin, moving)
	if !both {
		return
	}
	if c.fixed {
		fx, fz = r.V[Fx], r.V[Fz]
	}
	if c.turn.radial(fx, fz, theta, cos, sin); c.turn.model.known && moving {
		c.bunching.residual(fz-c.turn.model.fz(cos, sin), c.turn.model.scatter, cos, sin)
	}
	for i := range all {
		o := &all[i]
		if i == c.index {
			continue
		}
		t, turns := o.encoder.before(r.At)
		if !turns && !c.answers[i].lap.on {
			continue
		}
		s, k := fit.Sincos(t)
		c.answers[i].add(r.At, fx, fz, t, k, s, turns)
	}
}

// drive hands a row of a wheel on the ground to the evidence of the drive.
func (c *corner) drive(r *Row, theta, cos, sin float64, moving bool) {
	if moving && c.fixed {
		r.turn(Fx, Fz, cos, sin)
		r.turn(Mx, Mz, cos, sin)
	}
	c.drift.add(r, theta, cos, sin, moving)
}

// turn brings one pair of axes from the fixed into the rotating frame: f·exp(iθ).
func (r *Row) turn(x, z Quantity, cos, sin float64) {
	if !r.has(x) || !r.has(z) {
		r.Have &^= 1<<x | 1<<z // half of a pair cannot be turned
		return
	}
	a, b := r.V[x], r.V[z]
	r.V[x] = float64(a*cos) - float64(b*sin)
	r.V[z] = float64(a*sin) + float64(b*cos)
}
