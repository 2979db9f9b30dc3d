package checks

// evidence is a number that changes where what a check rests on does.
type evidence uint64

// and takes one more count into it.
func (e evidence) and(n int64) evidence {
	return (e^evidence(n))*1099511628211 + 1 // the prime of FNV-1a
}

func (e evidence) flag(b bool) evidence {
	if b {
		return e.and(1)
	}
	return e.and(0)
}

// How often checks of slow evidence are judged, s.
const (
	followTurns = 5  // turns of a lifted wheel, loads at rest
	followRests = 30 // noise and optical sensors
	followRolls = 60 // windows of the roll
)

// followRuleOf returns how a check is followed. One that is not listed is judged with the slow ones.
func followRuleOf(check string) followRule {
	switch check {
	case "alive":
		return followRule{depth: viewTurns, seen: (*Judge).seenAlive, against: (*Judge).againstAlive}
	case "bus":
		return followRule{depth: viewTurns, seen: (*Judge).seenBus, against: (*Judge).againstBus}
	case "frozen":
		return followRule{depth: viewTurns, seen: eachSignal((*Judge).seenFrozen), against: againstSignal((*Judge).againstFrozen)}
	case "clipped":
		return followRule{
			depth: viewTurns,
			seen:  eachSignal(func(_ *Judge, c *channel, e evidence) evidence { return e.and(c.signal.Clips) }),
			against: againstSignal(func(_ *Judge, _ *corner, _ Quantity, c *channel) (int64, bool) {
				return c.signal.Clips, false
			}),
		}
	case "range":
		return followRule{
			depth: viewTurns,
			seen:  eachSignal(func(_ *Judge, c *channel, e evidence) evidence { return e.and(c.signal.odds()) }),
			against: againstSignal(func(_ *Judge, _ *corner, _ Quantity, c *channel) (int64, bool) {
				return c.signal.odds(), false
			}),
		}
	case "spikes":
		return followRule{
			depth: viewTurns,
			seen:  eachSignal(func(_ *Judge, c *channel, e evidence) evidence { return e.and(c.signal.Spikes) }),
		}
	case "status":
		return followWatch(Status)
	case "supply":
		return followWatch(Supply)
	case "temperature":
		return followWatch(Temperature)
	case "angle-jumps":
		return followRule{depth: viewTurns, seen: (*Judge).seenJumps, against: (*Judge).againstJumps}
	case "angle-stuck":
		return followRule{depth: viewTurns, seen: (*Judge).seenStuck, against: (*Judge).againstStuck}
	case "identity":
		return followRule{depth: viewTurns, seen: (*Judge).seenSerials}
	case "placement":
		return followRule{every: followTurns, depth: viewTurns, seen: (*Judge).seenPlaces}
	case "angle-steps":
		return followRule{every: followTurns, depth: viewTurns, seen: (*Judge).seenSteps}
	case "angle-sense":
		return followRule{every: followTurns, depth: viewTurns, seen: (*Judge).seenSenses}
	case "zero", "weight", "axes", "drag":
		return followRule{every: followTurns, depth: viewTurns, seen: (*Judge).seenTurns}
	case "angle-offset", "angle-slip", "skew":
		return followRule{every: followTurns, depth: viewSlips, seen: (*Judge).seenTurns}
	case "noise", "hum":
		return followRule{every: followRests, depth: viewTurns, seen: (*Judge).seenBlocks}
	case "load":
		return followRule{every: followTurns, depth: viewTurns, seen: (*Judge).seenRests}
	case "clearance", "camber", "dropout", "rest-speed":
		return followRule{every: followRests, depth: viewTurns, seen: (*Judge).seenOptics}
	case "drift":
		return followRule{every: followTurns, depth: viewTurns, seen: (*Judge).seenDrift, against: (*Judge).againstDrift}
	case "coupling", "angle-spin":
		return followRule{every: followRolls, depth: viewTurns}
	case "radius", "agreement", "slip":
		return followRule{every: followRolls, depth: viewAll, seen: func(j *Judge) evidence { return evidence(j.rolls.Seen) }}
	}
	return followRule{every: followRolls, depth: viewAll}
}

func (j *Judge) seenAlive() evidence {
	e := evidence(min(j.elapsed(), aliveAfter+1))
	for i := range j.messages {
		m := &j.messages[i]
		t := &m.timing
		e = e.and(t.Lost).and(t.CounterOff).and(t.Jumps).and(t.Short).and(m.away).and(min(t.Count, learn+1)).flag(j.quiet(m))
	}
	return e
}

// quiet tells whether a message has been away for longer than it may.
func (j *Judge) quiet(m *message) bool {
	if m.timing.Count == 0 {
		return true
	}
	return float64(j.now-m.timing.Last)*1e-9 > m.timing.allowed(&j.setup.Limits)
}

func (j *Judge) againstAlive(p place) (n int64, on bool) {
	for i := range j.setup.Messages {
		m := &j.messages[i]
		if !j.belongs(i, p.subject) {
			continue
		}
		t := &m.timing
		n += m.away + t.Short
		if t.Jumps*100 > t.Counted {
			n += t.Jumps
		}
		if t.lostAtLeast() > j.setup.Limits.FramesLostRatio {
			n += t.Lost + t.CounterOff
		}
		late := t.Nominal > 0 && t.Period > 1.1*t.Nominal
		_, missing := (&view{Judge: j}).missingPage(i)
		on = on || j.quiet(m) || late || missing
	}
	return n, on
}

// belongs tells whether a message is one of a corner's, an optic's or a source's.
func (j *Judge) belongs(message int, subject string) bool {
	if j.setup.Sources[j.setup.Messages[message].Source] == subject {
		return true
	}
	for _, i := range j.messages[message].corners {
		if j.setup.Corners[i].Name == subject {
			return true
		}
	}
	for _, i := range j.messages[message].optics {
		if j.setup.Optics[i].Name == subject {
			return true
		}
	}
	return false
}

func (j *Judge) seenBus() evidence {
	var e evidence
	for s := range j.buses {
		b := &j.buses[s]
		e = e.and(b.ErrorFrames).and(b.NoAck).and(b.Garbage).and(b.BusOffs).and(int64(b.Link)).and(int64(b.Worst)).flag(b.Load > fullBus)
		for p, n := range b.Lost {
			if Place(p) != LostRecorder {
				e = e.and(n)
			}
		}
		for _, n := range b.Strangers {
			e = e.flag(n >= leastStrangers)
		}
	}
	for i := range j.messages {
		e = e.flag(j.messages[i].timing.Count > 0)
	}
	return e
}

func (j *Judge) againstBus(p place) (n int64, on bool) {
	for s, name := range j.setup.Sources {
		if name != p.subject {
			continue
		}
		b := &j.buses[s]
		n = b.ErrorFrames + b.Garbage + b.BusOffs
		for place, lost := range b.Lost {
			if Place(place) != LostRecorder {
				n += lost
			}
		}
		if b.Load > fullBus {
			n += b.LoadAt
		}
		switch b.Link {
		case LinkDown, LinkAbsent, LinkNoValidFrame, LinkPassive, LinkBusOff:
			on = true
		case LinkUnknown, LinkSilent, LinkActive, LinkWarning:
		}
	}
	return n, on
}

// eachSignal returns evidence over all components of wheels.
func eachSignal(one func(*Judge, *channel, evidence) evidence) func(*Judge) evidence {
	return func(j *Judge) evidence {
		var e evidence
		for i := range j.channels {
			if c := &j.channels[i]; c.corner >= 0 && c.quantity < components {
				e = one(j, c, e)
			}
		}
		return e
	}
}

// againstSignal returns what speaks against one component.
func againstSignal(one func(*Judge, *corner, Quantity, *channel) (int64, bool)) func(*Judge, place) (int64, bool) {
	return func(j *Judge, p place) (int64, bool) {
		for i := range j.corners {
			c := &j.corners[i]
			if c.setup.Name != p.subject {
				continue
			}
			for q := range Quantity(components) {
				if ch := c.setup.Channels[q]; ch != None && q.String() == p.channel {
					return one(j, c, q, &j.channels[ch])
				}
			}
		}
		return 0, false
	}
}

// odds is how many values cannot be.
func (s *Signal) odds() int64 {
	n := int64(0)
	for k := range s.odd {
		n += s.odd[k].count
	}
	return n
}

// stillLong tells whether the value that a channel shows has stood for as long as counts.
func (j *Judge) stillLong(c *channel) bool {
	s := &c.signal
	return s.same+1 >= frozenSamples && float64(c.level.LastAt-s.since)*1e-9 >= frozenS
}

func (j *Judge) seenFrozen(c *channel, e evidence) evidence {
	s := &c.signal
	e = e.and(s.Longest.samples).and(s.InRuns)
	if j.stillLong(c) {
		e = e.and(s.same / 128) // what is natural grows with the samples
	}
	return e
}

func (j *Judge) againstFrozen(_ *corner, _ Quantity, c *channel) (int64, bool) {
	return c.signal.InRuns, j.stillLong(c)
}

// followWatch follows a slow channel of each corner.
func followWatch(q Quantity) followRule {
	of := func(j *Judge, i int) *Watch {
		if ch := j.corners[i].setup.Channels[q]; ch != None {
			return &j.channels[ch].watch
		}
		return nil
	}
	return followRule{
		depth: viewTurns,
		seen: func(j *Judge) evidence {
			var e evidence
			for i := range j.corners {
				if w := of(j, i); w != nil {
					e = e.and(w.Out).and(w.Odd).flag(w.Count > 0).flag(w.out)
				}
			}
			return e
		},
		against: func(j *Judge, p place) (int64, bool) {
			for i := range j.corners {
				if w := of(j, i); w != nil && j.corners[i].setup.Name == p.subject {
					return w.Out, w.out
				}
			}
			return 0, false
		},
	}
}
