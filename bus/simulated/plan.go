package simulated

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

const (
	pauseS     = 0.7 // between turning forward and back, and before the next wheel
	handRampS  = 0.6 // until the wheel turns as fast as it should
	handRevS   = 0.7 // revolutions per second
	gentleMps2 = 1.2 // acceleration where the script does not say
)

// planner turns a script into pieces. It carries the state from one to the next.
type planner struct {
	cfg    *Config
	wheels []wheel
	rng    *rand.Rand
	pieces []piece
	spans  []Span

	t, s, v     float64
	theta, lift []float64
	windUp      []windUp
}

// plan returns the movement and when each phase takes place.
func plan(cfg *Config, wheels []wheel) (*movement, []Span, error) {
	b := &planner{cfg: cfg, wheels: wheels, rng: stream(cfg.Seed, "motion")}
	for i := range wheels {
		b.theta = append(b.theta, 2*math.Pi*b.rng.Float64())
		b.lift = append(b.lift, 0)
		b.windUp = append(b.windUp, windUp{})
		b.settle(i, 0.003, 0.005)
	}
	for i, ph := range cfg.Script {
		if bad := math.Abs(ph.Seconds) + math.Abs(ph.Turns) + math.Abs(ph.Back) + math.Abs(ph.SpeedMps) + math.Abs(ph.RampSeconds) + math.Abs(ph.YawRad); !(bad < 1e6) || ph.Seconds < 0 || ph.Turns < 0 || ph.RampSeconds < 0 {
			return nil, nil, fmt.Errorf("simulated: script: phase %d (%s): numbers out of range", i+1, ph.Kind)
		}
		from := b.t
		if err := b.phase(ph); err != nil {
			return nil, nil, fmt.Errorf("simulated: script: phase %d (%s): %w", i+1, ph.Kind, err)
		}
		b.spans = append(b.spans, Span{ph, cfg.Start + nanos(from), cfg.Start + nanos(b.t)})
	}
	if len(b.pieces) == 0 {
		return nil, nil, fmt.Errorf("simulated: script: no phase: want at least %q", Rest)
	}
	m := &movement{pieces: b.pieces, wheels: wheels}
	m.driveFrom, m.driveTo = b.driveSpan()
	return m, b.spans, nil
}

func nanos(s float64) int64 { return int64(math.Round(s * 1e9)) }

// settle draws the strain that a wheel stands with: shares of its load.
func (b *planner) settle(i int, fxShare, fyShare float64) {
	load := b.wheels[i].loadN
	b.windUp[i] = windUp{
		fxN:     load * fxShare * (2*b.rng.Float64() - 1),
		fyN:     load * fyShare * b.wheels[i].side * (0.5 + b.rng.Float64()),
		downAtM: b.s,
	}
}

func (b *planner) phase(ph Phase) error {
	seconds := ph.Seconds
	if seconds == 0 {
		seconds = 4
	}
	switch ph.Kind {
	case Rest:
		b.stop()
		b.add(piece{length: seconds})
	case Lift, Lower:
		b.stop()
		return b.raise(ph, seconds)
	case Turn:
		b.stop()
		return b.turn(ph)
	case Drive:
		if slices.Max(b.lift) > 0 {
			return fmt.Errorf("a wheel is lifted: let the vehicle down first (%s)", Lower)
		}
		rampS := ph.RampSeconds
		if rampS == 0 {
			rampS = max(1, math.Abs(ph.SpeedMps-b.v)/gentleMps2)
		}
		b.add(piece{length: rampS, drive: ramp{rate1: ph.SpeedMps}, roughness: ph.Roughness})
		if ph.Seconds > 0 {
			b.add(piece{length: ph.Seconds, drive: ramp{rate1: ph.SpeedMps}, yaw: ph.YawRad, roughness: ph.Roughness})
		}
	default:
		return fmt.Errorf("unknown kind: want one of %s, %s, %s, %s, %s", Rest, Lift, Turn, Lower, Drive)
	}
	return nil
}

// stop brings a rolling vehicle to rest before anything else is done with it.
func (b *planner) stop() {
	if b.v != 0 {
		b.add(piece{length: max(1, math.Abs(b.v)/gentleMps2)})
	}
}

func (b *planner) raise(ph Phase, seconds float64) error {
	only := -1
	if ph.Corner != "" {
		if only = b.cfg.corner(ph.Corner); only < 0 {
			return fmt.Errorf("no corner %q", ph.Corner)
		}
	}
	lift := slices.Clone(b.lift)
	for i := range lift {
		switch {
		case only >= 0 && i != only:
		case ph.Kind == Lift:
			lift[i] = 1
		default:
			lift[i] = 0
			if b.lift[i] > 0 {
				b.settle(i, 0.008, 0.015)
			}
		}
	}
	b.add(piece{length: seconds, lift1: lift})
	return nil
}

func (b *planner) turn(ph Phase) error {
	w := b.cfg.corner(ph.Corner)
	if w < 0 {
		return fmt.Errorf("no corner %q", ph.Corner)
	}
	if b.lift[w] < 1 {
		return fmt.Errorf("corner %s stands on the ground: lift it first", ph.Corner)
	}
	opposite := -1
	if b.cfg.Differential && b.wheels[w].driven && b.wheels[w].opposite >= 0 && b.lift[b.wheels[w].opposite] == 1 {
		opposite = b.wheels[w].opposite
	}
	human := unevenness{k: [2]float64{2.7, 7.3}, p: [2]float64{2 * math.Pi * b.rng.Float64(), 2 * math.Pi * b.rng.Float64()}}
	human.a = [2]float64{0.22 / human.k[0], 0.10 / human.k[1]}
	q := 0.0
	way := func(turns, sign float64) {
		rate := 2 * math.Pi * handRevS * (0.9 + 0.2*b.rng.Float64())
		seconds := ph.Seconds
		if seconds == 0 {
			seconds = 6
		}
		hold := max(0, seconds-2*handRampS)
		if turns > 0 {
			rate = min(rate, 2*math.Pi*turns/handRampS)
			hold = 2*math.Pi*turns/rate - handRampS // each ramp covers half of what the rate would
		}
		rate *= sign
		for _, leg := range [...]struct{ length, rate0, rate1 float64 }{{handRampS, 0, rate}, {hold, rate, rate}, {handRampS, rate, 0}} {
			if leg.length <= 0 {
				continue
			}
			p := piece{length: leg.length, hand: ramp{q, leg.rate0, leg.rate1}, human: human}
			b.addTurn(p, w, opposite)
			q, _, _ = p.hand.at(leg.length, leg.length)
		}
		b.add(piece{length: pauseS})
	}
	way(ph.Turns, 1)
	back := ph.Back
	if back == 0 {
		back = ph.Turns
	}
	if back >= 0 {
		way(back, -1)
	}
	return nil
}

func (b *planner) addTurn(p piece, turned, opposite int) {
	p.humanAt0, _, _ = p.human.at(p.hand.start)
	b.append(p, turned, opposite)
}

func (b *planner) add(p piece) { b.append(p, -1, -1) }

// append completes a piece by the state so far and moves the state to its end.
func (b *planner) append(p piece, turned, opposite int) {
	p.from, p.turned, p.opposite = b.t, turned, opposite
	p.drive.start, p.drive.rate0 = b.s, b.v
	p.theta0, p.lift0 = slices.Clone(b.theta), slices.Clone(b.lift)
	if p.lift1 == nil {
		p.lift1 = p.lift0
	}
	p.windUp = slices.Clone(b.windUp)
	b.pieces = append(b.pieces, p)
	for i := range b.wheels {
		b.theta[i], _, _ = p.angle(&b.wheels[i], p.length)
	}
	copy(b.lift, p.lift1)
	b.s, b.v, _ = p.drive.at(p.length, p.length)
	b.v = p.drive.rate1
	b.t += p.length
}

// driveSpan returns when the vehicle begins to roll first and stops last; the
// whole script where it never rolls.
func (b *planner) driveSpan() (from, to float64) {
	to = b.t
	seen := false
	for _, p := range b.pieces {
		if !p.moves() {
			continue
		}
		if !seen {
			from, seen = p.from, true
		}
		to = p.from + p.length
	}
	return from, to
}
