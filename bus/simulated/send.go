package simulated

import (
	"math"
	"math/rand/v2"

	"plumbline/bus"
)

// sender sends one message, cycle after cycle.
type sender struct {
	role     role
	subject  int // index of a plug or a lens
	periodNs int64
	next     int64 // event time of the next cycle, ns
	frame    bus.Frame
	fields   []field
	fullN    float64 // range of a force or moment in this message
	memory   memory
	reading  reading
	rng      *rand.Rand // noise and jitter
	faults   *rand.Rand
	ills     ills
	sent     uint64 // counter
	page     int
	silent   bool // was away in the last cycle
}

// due returns the sender whose cycle comes next, nil after the end.
func (v *Vehicle) due() *sender {
	var first *sender
	for i := range v.senders {
		if s := &v.senders[i]; first == nil || s.next < first.next {
			first = s
		}
	}
	if first == nil || first.next >= v.end {
		return nil
	}
	return first
}

// schedule places the times that are known beforehand, now that the duration is.
func (v *Vehicle) schedule() {
	half := float64(v.end-v.cfg.Start) / 2e9
	for i := range v.senders {
		if s := &v.senders[i]; s.ills.rebootS > 0 {
			s.ills.away = append(s.ills.away, window{half, half + s.ills.rebootS})
		}
	}
}

// send makes one frame and appends it, unless it gets lost on the way. What a
// lost frame would have held is computed all the same, so that the frames that
// do arrive are those of a vehicle without losses.
func (v *Vehicle) send(s *sender, b *bus.Batch) {
	t := float64(s.next-v.cfg.Start) / 1e9
	at := s.next
	if v.cfg.JitterS > 0 {
		at += int64(s.rng.Float64() * v.cfg.JitterS * 1e9)
	}
	at = max(at, v.last)
	v.last = at
	s.next += s.periodNs
	if s.role == errorFrames {
		f := s.frame
		f.At = at
		b.Frames = append(b.Frames, f)
		return
	}
	arrives := s.arrives(v, t)
	p := v.fill(s, t)
	if arrives {
		// Written where it lies: copying a frame costs as much as making it.
		n := len(b.Frames)
		b.Frames = b.Frames[:n+1]
		f := &b.Frames[n]
		*f = s.frame
		f.At = at
		p.store(f.Data[:8])
	}
}

// fill computes the payload of the cycle at t, s since the start.
func (v *Vehicle) fill(s *sender, t float64) payload {
	var p payload
	switch s.role {
	case forces, moments:
		first := fx
		if s.role == moments {
			first = mx
		}
		values := v.components(s, first, t)
		for i, x := range values {
			p.put(&s.fields[i], s.fields[i].raw(x))
		}
		if s.role == forces {
			count := s.sent + s.ills.counterJump*uint64(t/counterEach)
			p.put(&s.fields[3], count&s.fields[3].mask)
			s.sent++
		}
	case angle:
		w := &v.wheels[v.plugs[s.subject].angle]
		p.put(&s.fields[0], s.fields[0].raw(v.movement.transmitted(w, t)*(180/math.Pi)))
		spin := v.movement.spin(w, t) + spinNoise*s.rng.NormFloat64()
		p.put(&s.fields[1], s.fields[1].raw(spin*(30/math.Pi)))
		p.put(&s.fields[2], s.fields[2].raw(v.wheels[v.plugs[s.subject].state].state.status))
	case state:
		h := &v.wheels[v.plugs[s.subject].state].state
		temperature, supply := h.temperature(t, v.movement.driven(t), s.rng), h.supply(t, s.rng)
		shown := [3]float64{temperature, supply, float64(h.serial)}
		p.put(&s.fields[0], uint64(s.page))
		p.put(&s.fields[1+s.page], s.fields[1+s.page].raw(shown[s.page]))
		s.page = (s.page + 1) % len(shown)
	case camber:
		o := &v.lenses[s.subject]
		k := v.movement.at(o.wheel, t)
		shown := o.camber(&k, s.rng, s.faults)
		for i, unit := range [...]float64{1000, 1000, 180 / math.Pi} {
			p.put(&s.fields[i], s.fields[i].raw(shown[i]*unit))
		}
	case speed:
		o := &v.lenses[s.subject]
		k := v.movement.at(&v.wheels[0], t)
		shown := o.speed(&k, s.rng, s.faults)
		for i, unit := range [...]float64{3.6, 3.6, 180 / math.Pi} {
			p.put(&s.fields[i], s.fields[i].raw(shown[i]*unit))
		}
	case errorFrames:
	}
	return p
}

// components returns three forces or moments as the amplifier sends them.
func (v *Vehicle) components(s *sender, first int, t float64) [3]float64 {
	p := &v.plugs[s.subject]
	w := &v.wheels[p.forces]
	var out [3]float64
	k := v.movement.at(w, t)
	l := w.loads(&k, &v.all)
	w.sensor.read(&out, first, &l, &k, w, t, &s.memory, &s.reading, s.rng)
	if v.cfg.Corners[s.subject].Fixed {
		resolve(&out, v.movement.transmitted(&v.wheels[p.angle], t))
	}
	w.sensor.hum(&out, first, t)
	w.sensor.spoil(&out, first, t, float64(s.periodNs)/1e9, s.fullN, &s.reading, s.faults)
	if p.copyOf >= 0 {
		copy(out[:], v.plugs[p.copyOf].shown[first:])
	}
	copy(p.shown[first:first+3], out[:])
	return out
}

// note puts the marks and losses that come before the moment at into the batch.
func (v *Vehicle) note(b *bus.Batch, at int64) {
	for v.marked < len(v.spans) {
		span := &v.spans[v.marked]
		when, text := span.From, ""
		switch span.Phase.Kind {
		case Lift:
			when, text = span.To, "on the lift"
			if span.Phase.Corner != "" {
				when, text = span.From, "lift "+span.Phase.Corner
			}
		case Lower:
			when, text = span.To, "down"
		case Turn:
			text = "turn " + span.Phase.Corner
		case Rest, Drive:
		}
		if when > at {
			break
		}
		v.marked++
		if v.cfg.Marks && text != "" {
			b.Notes = append(b.Notes, bus.Note{Before: len(b.Frames), At: when, Kind: bus.Mark, Text: text})
		}
	}
	for v.dropID < len(v.drops) && v.drops[v.dropID].at <= at {
		d := v.drops[v.dropID]
		v.dropID++
		b.Notes = append(b.Notes, bus.Note{Before: len(b.Frames), At: d.at, Kind: bus.Loss, Source: d.source, Count: d.count, Text: "the receive queue was full"})
	}
}
