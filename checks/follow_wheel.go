package checks

import "math"

func (j *Judge) seenJumps() evidence {
	var e evidence
	for i := range j.corners {
		e = e.and(j.corners[i].encoder.jump.Count)
	}
	return e
}

func (j *Judge) againstJumps(p place) (n int64, on bool) {
	for i := range j.corners {
		if c := &j.corners[i]; c.setup.Name == p.subject {
			return c.encoder.jump.Count, false
		}
	}
	return 0, false
}

// says is how much says that a wheel turns while its angle stands still, in tenths.
func (s *standstill) says() int64 { return int64(10 * (s.Turned + s.Spin.Most + s.Others.Most)) }

func (j *Judge) seenStuck() evidence {
	var e evidence
	for i := range j.corners {
		e = e.and(j.corners[i].standstill.says())
	}
	return e
}

func (j *Judge) againstStuck(p place) (n int64, on bool) {
	for i := range j.corners {
		if c := &j.corners[i]; c.setup.Name == p.subject {
			return c.standstill.says(), false
		}
	}
	return 0, false
}

func (j *Judge) seenSerials() evidence {
	var e evidence
	for i := range j.corners {
		if ch := j.corners[i].setup.Channels[Serial]; ch != None {
			l := &j.channels[ch].level
			e = e.and(int64(math.Float64bits(l.Last))).flag(l.Count > 0)
		}
	}
	return e
}

// seenPlaces takes what equals by chance in steps of many.
func (j *Judge) seenPlaces() evidence {
	const many = 64
	e := j.seenTurns() ^ j.seenSerials()
	e = e.and(int64(len(j.marks)))
	for i := range j.corners {
		for k := range j.corners[i].twins {
			n := int64(0)
			for _, equal := range j.corners[i].twins[k].Equal {
				n += equal
			}
			e = e.and(n / many)
		}
	}
	for i := range j.optics {
		e = e.and(int64(j.optics[i].coverN))
	}
	return e
}

func (j *Judge) seenSteps() evidence {
	var e evidence
	for i := range j.corners {
		x := &j.corners[i].encoder
		whole := x.Travel >= 2*math.Pi
		e = e.flag(whole).flag(x.OffGrid*100 > x.Samples).flag(x.places >= 50).and(x.grid).flag(x.High-x.Low > 0.9*2*math.Pi).flag(x.High-x.Low > 2*math.Pi+2*x.step+1e-9)
	}
	return e
}

func (j *Judge) seenSenses() evidence {
	e := j.seenTurns()
	for i := range j.rolls.senses {
		s := &j.rolls.senses[i]
		e = e.and(s.against).and(s.againstSpeed)
	}
	return e
}

func (j *Judge) seenTurns() evidence {
	var e evidence
	for i := range j.corners {
		t := &j.corners[i].turn
		e = e.and(t.Done[0]).and(t.Done[1])
	}
	return e
}

// loudShare is from which share of what noise and hum allow a second is looked at: below it neither can fail, as the mean
// of some seconds is no more than the loudest, and a line no more than all that scatters.
const loudShare = 0.8

// seenBlocks takes the seconds at rest where one of those that are kept is loud.
func (j *Judge) seenBlocks() evidence {
	var e evidence
	for i := range j.corners {
		for k := range j.corners[i].blocks {
			b := &j.corners[i].blocks[k]
			for x, q := range b.components {
				hum := j.setup.Limits.HumForceN
				if q >= Mx {
					hum = j.setup.Limits.HumMomentNm
				}
				bound := loudShare * min(b.limits[x]*b.limits[x], hum*hum/2)
				for n := range b.kept[x][:min(b.Taken, keptBlocks)] {
					if b.kept[x][n].variance > bound {
						e = e.and(b.Taken)
						break
					}
				}
			}
		}
	}
	return e
}

func (j *Judge) seenRests() evidence {
	e := j.seenTurns()
	for i := range j.corners {
		e = e.and(j.corners[i].rest.Force.N())
	}
	return e
}

func (j *Judge) seenOptics() evidence {
	var e evidence
	for i := range j.optics {
		e = e.and(j.optics[i].restN).and(j.optics[i].shares.N())
	}
	return e
}
