package checks

import "math"

// corner is what is known of one corner: its streams, its condition and the evidence on it.
type corner struct {
	setup *Corner
	index int

	encoder   Encoder
	condition condition
	turn      Turn
	answers   []Answer // by the corner whose angle it is; its own stays empty, that is turn
	rest      Rest
	twins     []twin // by the other corner
	phases    phases

	group   [components]uint8 // of each component: which of the corner's messages it comes in
	waiting waiting
	fixed   bool
	hold    [components]held // fixed forces whose axes come in different messages wait for each other

	// Filled while one message is taken in.
	row   Row
	theta float64
	angle bool
	value [components]float64 // newest of each
}

type held struct {
	at int64
	v  float64
	ok bool
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
	c.encoder.limit = math.Max(s.Limits.AngleJumpRad, AngleJumpCounts*c.encoder.count)
	c.answers = make([]Answer, len(s.Corners))
	c.twins = make([]twin, len(s.Corners))
	load := set.LoadN
	c.rest.spread = math.Max(0.05*load, 60)
	c.rest.creepRad = math.Max(2.5*c.encoder.count, 0.02)
	return c
}

// flush takes what one message brought: first the row, then the angle of the same
// time stamp, which settles all rows up to it.
func (c *corner) flush(at int64, all []corner) {
	if c.row.Have != 0 {
		c.row.At = at
		if c.fixed {
			c.pair(Fx, Fz)
			c.pair(Mx, Mz)
		}
		if c.row.has(Fx) || c.row.has(Fz) {
			c.condition.add(at, c.value[Fx], c.value[Fz])
		}
		if c.row.Have != 0 {
			c.waiting.push(&c.row)
		}
		c.row.Have = 0
	}
	if c.angle {
		c.angle = false
		runs, jumps := c.encoder.Runs, c.encoder.jump.Count
		c.encoder.add(at, c.theta)
		if c.encoder.Runs != runs || c.encoder.jump.Count != jumps {
			c.turn.abort()
		}
		c.phases.add(c.index, at, &c.encoder, all)
		c.settle(all)
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
		c.hold[q] = held{c.row.At, c.row.V[q], true}
		c.row.Have &^= 1 << q
		if o := &c.hold[other]; o.ok && c.row.At-o.at < 50e6 {
			c.row.V[q], c.row.V[other] = c.hold[q].v, o.v
			c.row.Have |= 1<<x | 1<<z
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

// judgeRow hands one row to the evidence that it belongs to.
func (c *corner) judgeRow(r *Row, theta float64, all []corner) {
	moving := c.encoder.moving
	lifted := c.condition.hang == Lifted
	if r.has(Fx) && r.has(Fz) {
		c.rest.add(r.At, r.V[Fx], r.V[Fz], theta, moving, c.condition.hang == Loaded)
	}
	if !lifted {
		c.turn.stop()
		return
	}
	var cos, sin float64
	if moving || c.fixed {
		sin, cos = math.Sincos(theta)
	}
	if c.fixed {
		r.turn(Fx, Fz, cos, sin)
		r.turn(Mx, Mz, cos, sin)
	}
	c.turn.add(r, theta, cos, sin, moving)
	if !r.has(Fx) || !r.has(Fz) {
		return
	}
	for i := range all {
		o := &all[i]
		if i == c.index || !o.encoder.moving && !c.answers[i].lap.on {
			continue
		}
		t, _ := o.encoder.angleAt(r.At)
		s, k := math.Sincos(t)
		c.answers[i].add(r.At, r.V[Fx], r.V[Fz], t, k, s, o.encoder.moving)
	}
}

// turn brings one pair of axes from the fixed into the rotating frame: f·exp(iθ).
func (r *Row) turn(x, z Quantity, cos, sin float64) {
	if !r.has(x) || !r.has(z) {
		return
	}
	a, b := r.V[x], r.V[z]
	r.V[x] = float64(a*cos) - float64(b*sin)
	r.V[z] = float64(a*sin) + float64(b*cos)
}
