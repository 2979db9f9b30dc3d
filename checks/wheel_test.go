package checks

import (
	"math"
	"math/rand/v2"
)

// rig feeds a Judge with the signals of wheels, straight from the formulas of a turning
// frame: a force f in fixed axes reads f·exp(iθ) in the wheel's. It is the least that the
// checks can be shown; whole vehicles come through the bus.
type rig struct {
	setup  Setup
	judge  *Judge
	random *rand.Rand
	at     int64 // ns
	wheels []*wheel
	rateHz float64
	angle  []func(theta float64) float64 // what becomes of the true angle on its way
	send   func(at int64, message int, samples []Sample)
}

// wheel is one corner of a rig.
type wheel struct {
	theta  float64 // true angle, rad
	omega  float64
	fz, fx float64 // fixed axes, N
	my     float64
	zero   [components]float64
	delta  float64 // transmitted minus true, rad
	noiseN float64
	scale  [2]float64 // of the rotating axes
	serial float64
}

const (
	rigMassKg = 25.0
	rigLoadN  = 6000.0
	rigCounts = 2048
)

// newRig returns a rig with one corner a name, all standing on the ground.
func newRig(seed uint64, names ...string) *rig {
	r := &rig{random: rand.New(rand.NewPCG(seed, 1)), at: 1_700_000_000e9, rateHz: 200}
	s := &r.setup
	s.Sources = []string{"wheels"}
	s.Limits = DefaultLimits()
	add := func(name string, q Quantity, message int, step float64) int32 {
		s.Channels = append(s.Channels, Channel{Name: name, Quantity: q, Message: message, Step: step, Low: -1e5, High: 1e5})
		return int32(len(s.Channels) - 1)
	}
	for i, n := range names {
		c := Corner{
			Name: n, Axle: 1 + i/2, Side: Side(i % 2), AngleCounts: rigCounts, Bolts: 5, WheelMassKg: rigMassKg,
			LoadN: rigLoadN, Serial: uint64(1000 + i), HasSerial: true, Channels: NoChannels(),
		}
		forces, angle := len(s.Messages), len(s.Messages)+1
		s.Messages = append(s.Messages, Message{Name: n + "_Forces", Period: 0.005, Length: 8}, Message{Name: n + "_Angle", Period: 0.005, Length: 8})
		for q := range Quantity(components) {
			c.Channels[q] = add(n+"_Forces."+q.String(), q, forces, 0.1)
		}
		c.Channels[Angle] = add(n+"_Angle.Theta", Angle, angle, 2*math.Pi/65536)
		c.Channels[Serial] = add(n+"_Angle.Serial", Serial, angle, 1)
		s.Corners = append(s.Corners, c)
		r.wheels = append(r.wheels, &wheel{noiseN: 6, scale: [2]float64{1, 1}, serial: float64(1000 + i), theta: r.random.Float64() * 6})
		r.angle = append(r.angle, func(theta float64) float64 { return theta })
	}
	r.down()
	return r
}

func (r *rig) down() {
	for _, w := range r.wheels {
		w.fz, w.omega, w.my = rigLoadN-rigMassKg*9.80665, 0, 0
	}
}

func (r *rig) lift() {
	for _, w := range r.wheels {
		w.fz, w.omega, w.my = -rigMassKg*9.80665, 0, 0
	}
}

// start makes the Judge; what the setup holds must be settled by then.
func (r *rig) start() {
	if r.judge == nil {
		r.judge = New(r.setup)
		r.send = func(at int64, message int, samples []Sample) { r.judge.Message(at, message, 8, false, samples) }
	}
}

// run lets so many seconds pass.
func (r *rig) run(seconds float64) {
	r.start()
	for range int(seconds * r.rateHz) {
		r.step()
	}
}

// turn turns one wheel by so many turns at the speed omega, rad/s, against a drag in N·m.
func (r *rig) turn(i int, turns, omega, drag float64) {
	w := r.wheels[i]
	w.omega, w.my = omega, math.Copysign(drag, omega)
	r.run(turns * 2 * math.Pi / math.Abs(omega))
	w.omega, w.my = 0, 0
	r.run(0.7)
}

// test is a whole function test of all wheels.
func (r *rig) test() {
	r.run(5)
	r.lift()
	r.run(2)
	for i := range r.wheels {
		r.turn(i, 5.2, 4.2, 2)
		r.turn(i, 5.2, -4.0, 2)
	}
	r.down()
	r.run(4)
}

func (r *rig) step() {
	dt := 1 / r.rateHz
	r.at += int64(dt * 1e9)
	for i, w := range r.wheels {
		w.theta += w.omega * dt
		s, c := math.Sincos(w.theta)
		rotating := [components]float64{
			(w.fx*c - w.fz*s) * w.scale[0], 0, (w.fx*s + w.fz*c) * w.scale[1], 0, w.my, 0,
		}
		corner := &r.setup.Corners[i]
		var row []Sample
		for q := range rotating {
			noise := w.noiseN
			if Quantity(q) >= Mx {
				noise /= 6
			}
			v := rotating[q] + w.zero[q] + noise*r.random.NormFloat64()
			row = append(row, Sample{At: r.at, Channel: corner.Channels[q], Value: math.Round(v*10) / 10})
		}
		at := r.at + int64(i)*100_000
		r.send(at, 2*i, row)
		count := 2 * math.Pi / float64(corner.AngleCounts)
		sent := math.Floor(r.angle[i](w.theta+w.delta)/count) * count
		sent = math.Mod(math.Mod(sent, 2*math.Pi)+2*math.Pi, 2*math.Pi)
		r.send(at, 2*i+1, []Sample{
			{At: at, Channel: corner.Channels[Angle], Value: sent},
			{At: at, Channel: corner.Channels[Serial], Value: w.serial},
		})
	}
}

// find returns the finding of a check about a subject and channel.
func find(r Result, check, subject, channel string) Finding {
	for _, f := range r.Findings {
		if f.Check == check && f.Subject == subject && f.Channel == channel {
			return f
		}
	}
	return Finding{Sentence: "no such finding"}
}
