package simulated

import (
	"errors"
	"fmt"
	"math"

	"plumbline/bus"
)

// ills is what is wrong with the transport of one message.
type ills struct {
	silent      bool
	lost        float64 // share of the frames
	ringLost    float64 // share of the frames while the wheel stands near ringAt
	chafes      float64 // share of the frames while the wheel rolls near chafeAt
	chafesLeft  float64 // share of the frames in curves to the left
	lostLater   float64 // share of the frames at the end of the drive; it grows from nothing
	gapS        float64 // every gapEach
	slow        float64 // of the rate
	counterJump uint64  // every counterEach
	rebootS     float64
	away        []window
}

// window is a stretch of time, s since the start.
type window struct{ from, to float64 }

const (
	gapFirst    = 6.0 // s
	gapEach     = 20.0
	counterEach = 1.0
	dropsEach   = 10 // s
)

func healthy() ills { return ills{slow: 1} }

// arrives reports whether the frame of the cycle at t is heard.
func (s *sender) arrives(v *Vehicle, t float64) bool {
	i := &s.ills
	ok := !i.silent
	if i.lost > 0 && s.faults.Float64() < i.lost {
		ok = false
	}
	if i.ringLost > 0 {
		theta, _, _ := v.movement.angle(v.plugs[s.subject].forces, t)
		if nearRing(theta) && s.faults.Float64() < i.ringLost {
			ok = false
		}
	}
	if (i.chafes > 0 || i.chafesLeft > 0) && s.chafed(v, t) {
		ok = false
	}
	if i.lostLater > 0 && s.faults.Float64() < i.lostLater*v.movement.driven(t) {
		ok = false
	}
	if i.gapS > 0 && t >= gapFirst && math.Mod(t-gapFirst, gapEach) < i.gapS {
		ok = false
	}
	away := false
	for _, w := range i.away {
		away = away || t >= w.from && t < w.to
	}
	if s.silent && !away {
		s.sent = 0 // it was switched on again and counts anew
		s.silent = false
	}
	s.silent = s.silent || away
	return ok && !away
}

// Where a cable chafes.
const (
	chafeAt   = 1.2  // rad
	chafeYawS = 0.05 // rad/s to the left
)

// chafed reports whether the frame of the cycle at t is lost to a cable that chafes: where the suspension or the
// steering has brought it, so never while the wheel hangs.
func (s *sender) chafed(v *Vehicle, t float64) bool {
	k := v.movement.at(&v.wheels[v.plugs[s.subject].forces], t)
	share := 0.0
	switch {
	case k.lift > 0 || k.omega == 0:
	case math.Cos(k.theta-chafeAt) > nearCos:
		share = s.ills.chafes
	}
	if k.yawRate > chafeYawS {
		share = max(share, s.ills.chafesLeft)
	}
	return share > 0 && s.faults.Float64() < share
}

// befall applies the faults of the configuration: to the wheels, the lenses,
// the plugs and, by message, to ills.
func (v *Vehicle) befall(ills []ills) error {
	var errs []error
	for _, f := range v.cfg.Faults {
		k, err := f.kind()
		if err != nil {
			errs = append(errs, err)
			continue
		}
		value := f.Value
		if value == 0 {
			value = k.Default
		}
		if err := k.holds(value); err != nil {
			errs = append(errs, fmt.Errorf("simulated: fault %s: %w", f.Kind, err))
			continue
		}
		who, err := v.cfg.subjects(k, f.Corner)
		if err != nil {
			errs = append(errs, fmt.Errorf("simulated: fault %s: %w", f.Kind, err))
			continue
		}
		switch {
		case k.Subject == OneBus:
			v.befallBus(k.Name, who[0], value, ills)
		case k.Subject == TwoCorners:
			v.befallPlugs(k.Name, who[0], who[1])
		case v.befallMessages(k.Name, who, value, ills):
		case who[0] >= len(v.wheels):
			v.lenses[who[0]-len(v.wheels)].befall(k.Name, value)
		default:
			v.wheels[who[0]].befall(k.Name, value, &v.cfg.Corners[who[0]])
		}
	}
	return errors.Join(errs...)
}

// befallMessages applies what is wrong with the transport of the messages of
// corners and optics; false: the kind is not of that sort.
func (v *Vehicle) befallMessages(kind string, who []int, value float64, all []ills) bool {
	var only role
	var apply func(*ills)
	every := true
	switch kind {
	case "silent":
		apply = func(i *ills) { i.silent = true }
	case "silent-forces", "silent-moments", "silent-angle", "silent-state":
		every = false
		only = map[string]role{"silent-forces": forces, "silent-moments": moments, "silent-angle": angle, "silent-state": state}[kind]
		apply = func(i *ills) { i.silent = true }
	case "lost":
		apply = func(i *ills) { i.lost = value }
	case "coupling":
		apply = func(i *ills) { i.ringLost = value }
	case "chafe":
		apply = func(i *ills) { i.chafes = value }
	case "chafe-steering":
		apply = func(i *ills) { i.chafesLeft = value }
	case "drift-rate":
		apply = func(i *ills) { i.lostLater = value }
	case "gap":
		apply = func(i *ills) { i.gapS = value }
	case "slow":
		apply = func(i *ills) { i.slow = value }
	case "counter":
		apply = func(i *ills) { i.counterJump = uint64(value) }
	case "off":
		apply = func(i *ills) { i.away = append(i.away, window{value, math.Inf(1)}) }
	case "late":
		apply = func(i *ills) { i.away = append(i.away, window{0, value}) }
	case "reboot":
		apply = func(i *ills) { i.rebootS = value }
	default:
		return false
	}
	for i, m := range v.cfg.messages() {
		subject := m.subject
		if m.role == camber || m.role == speed {
			subject += len(v.wheels)
		}
		for _, w := range who {
			if subject == w && (every || m.role == only) {
				apply(&all[i])
			}
		}
	}
	return true
}

func (v *Vehicle) befallPlugs(kind string, a, b int) {
	p, q := &v.plugs[a], &v.plugs[b]
	switch kind {
	case "harness":
		p.forces, q.forces = q.forces, p.forces
		p.angle, q.angle = q.angle, p.angle
		p.state, q.state = q.state, p.state
	case "angle-cable":
		p.angle, q.angle = q.angle, p.angle
	case "force-cable":
		p.forces, q.forces = q.forces, p.forces
	case "copy":
		q.copyOf = a
	}
}

func (v *Vehicle) befallBus(kind string, source int, value float64, all []ills) {
	switch kind {
	case "bus-drops":
		v.drops = append(v.drops, drop{source: uint16(source), count: uint64(value)})
	case "bus-errors", "bit-rate":
		if kind == "bit-rate" {
			for i, m := range v.cfg.messages() {
				all[i].silent = all[i].silent || m.bus == v.names[source]
			}
		}
		v.senders = append(v.senders, sender{
			role: errorFrames, periodNs: int64(1e9 / value), next: v.cfg.Start + 1_000_000,
			frame: errorFrame(uint16(source), kind), rng: stream(v.cfg.Seed, "errors of "+v.names[source]),
		})
	}
}

// errorFrame returns an error frame as SocketCAN reports it (linux/can/error.h):
// the class in the identifier, the kind of protocol error in byte 2, the error
// counters in bytes 6 and 7.
func errorFrame(source uint16, kind string) bus.Frame {
	const protocol, counters, stuff = 0x008, 0x200, 0x04
	f := bus.Frame{ID: protocol | counters, Source: source, Flags: bus.Error, Len: 8}
	f.Data[2], f.Data[7] = stuff, 24
	if kind == "bit-rate" {
		f.Data[7] = 127 // receive errors beyond this make no listener worse than error passive
	}
	return f
}

// wireBus spreads the losses of the receive queue over the script.
func (v *Vehicle) wireBus() {
	once := v.drops
	v.drops = nil
	for at := v.cfg.Start + dropsEach*1e9; at < v.end; at += dropsEach * 1e9 {
		for _, d := range once {
			d.at = at
			v.drops = append(v.drops, d)
		}
	}
}
