package checks

import (
	"math"
	"slices"
)

// phase is one movement of an angle in one direction, while some wheel was lifted.
type phase struct {
	corner   int
	dir      int8
	from, to int64 // ns
	travel   float64
}

// phases finds the movements of one corner's angle. Its memory is fixed.
type phases struct {
	list  []phase
	on    bool
	start mark
	most  float64
}

// maxPhases is more than any function test has.
const maxPhases = 64

func (p *phases) add(index int, at int64, e *Encoder, all []corner) {
	if !e.moving {
		if p.on {
			p.close(index, at)
		}
		return
	}
	theta := e.unw[e.have-1]
	if !p.on {
		for i := range all {
			if all[i].condition.hang == Lifted {
				p.on, p.start, p.most = true, mark{at, theta}, 0
				break
			}
		}
		return
	}
	moved := theta - p.start.unw
	if math.Abs(moved) > math.Abs(p.most) {
		p.most = moved
	} else if math.Abs(p.most)-math.Abs(moved) > wobble || moved*p.most < 0 {
		p.close(index, at)
	}
}

// close keeps the movement if the wheel made most of a turn.
func (p *phases) close(index int, at int64) {
	p.on = false
	if math.Abs(p.most) < 1.5*math.Pi || len(p.list) >= maxPhases {
		return
	}
	p.list = append(p.list, phase{index, int8(math.Copysign(1, p.most)), p.start.at, at, math.Abs(p.most)})
}

// all returns the movement under way as well, for a capture that ends in it.
func (p *phases) all(index int, now int64) []phase {
	c := *p
	c.list = slices.Clip(c.list)
	if c.on {
		c.close(index, now)
	}
	return c.list
}
