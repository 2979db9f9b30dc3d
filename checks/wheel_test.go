package checks

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
)

// rig feeds a Judge with the signals of wheels, straight from the formulas of a turning
// frame: a force f in fixed axes reads f·exp(iθ) in the wheel's, and an amplifier that
// resolves it multiplies by exp(−iθ) of the angle that it transmits. It is the least that
// the checks can be shown; whole vehicles come through the bus.
type rig struct {
	setup  Setup
	judge  *Judge
	random *rand.Rand
	at     int64 // ns
	wheels []*wheel
	rateHz float64
	// stagger is the time from one corner's messages to the next one's, ns.
	stagger int64

	angle []func(theta float64) float64 // by wheel: what becomes of the true angle on its way
	// Whose signals come over the plugs of a corner.
	forceFrom, angleFrom, serialFrom []int
	opposite                         map[int]int // wheels that a differential couples

	// spoil, if set, changes a value on its way; drop, if set, takes a message away.
	spoil func(corner int, q Quantity, v float64) float64
	drop  func(message int) bool
	send  func(at int64, message int, samples []Sample)

	row, turned []Sample
}

// wheel is one corner of a rig.
type wheel struct {
	theta   float64 // true angle, rad
	omega   float64
	fx, fz  float64 // fixed axes, N
	mx, my  float64 // fixed axes, N·m
	zero    [components]float64
	delta   float64 // transmitted minus true, rad
	lateS   float64 // by which the angle comes later than the force, s
	noiseN  float64
	tauS    float64 // correlation time of the noise, s; 0: white
	epsilon complex128
	swapped bool // the two radial axes are exchanged
	counts  int  // of the encoder, per turn; 0: not rounded
	serial  float64

	noise [components]float64
}

const (
	rigMassKg = 25.0
	rigLoadN  = 6000.0
	rigCounts = 2048
	hangingN  = rigMassKg * 9.80665
)

// newRig returns a rig with one corner a name, all standing on the ground.
func newRig(seed uint64, names ...string) *rig {
	r := &rig{random: rand.New(rand.NewPCG(seed, 1)), at: 1_700_000_000e9, rateHz: 200, stagger: 100_000, opposite: map[int]int{}}
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
		r.wheels = append(r.wheels, &wheel{noiseN: 6, counts: rigCounts, serial: float64(1000 + i), theta: r.random.Float64() * 6})
		r.angle = append(r.angle, func(theta float64) float64 { return theta })
		r.forceFrom, r.angleFrom, r.serialFrom = append(r.forceFrom, i), append(r.angleFrom, i), append(r.serialFrom, i)
	}
	r.down()
	return r
}

// resolved makes the amplifier send the forces in fixed axes.
func (r *rig) resolved() {
	for i := range r.setup.Corners {
		r.setup.Corners[i].Forces = Fixed
	}
}

func (r *rig) down() {
	for i, w := range r.wheels {
		load := rigLoadN
		if l := r.setup.Corners[i].LoadN; l > 0 {
			load = l
		}
		w.fz, w.omega, w.my = load-hangingN, 0, 0
	}
}

func (r *rig) lift() {
	for _, w := range r.wheels {
		w.fz, w.omega, w.my = -hangingN, 0, 0
	}
}

// start makes the Judge; what the setup holds must be settled by then.
func (r *rig) start() {
	if r.judge == nil {
		r.judge = New(r.setup)
		if r.send == nil {
			r.send = func(at int64, message int, samples []Sample) { r.judge.Message(at, message, 8, false, samples) }
		}
	}
}

// run lets so many seconds pass.
func (r *rig) run(seconds float64) {
	r.start()
	for range int(seconds * r.rateHz) {
		r.step()
	}
}

// turn turns one wheel by so many turns at the speed omega, rad/s, against a drag in N·m. Over a
// differential the opposite wheel goes the other way round and carries no moment.
func (r *rig) turn(i int, turns, omega, drag float64) {
	w := r.wheels[i]
	w.omega, w.my = omega, math.Copysign(drag, omega)
	if drag < 0 {
		w.my = -w.my // turned by the engine
	}
	if k, ok := r.opposite[i]; ok {
		r.wheels[k].omega = -omega
		defer func() { r.wheels[k].omega = 0 }()
	}
	r.run(turns * 2 * math.Pi / math.Abs(omega))
	w.omega, w.my = 0, 0
	if k, ok := r.opposite[i]; ok {
		r.wheels[k].omega = 0
	}
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

// brief is a function test with no more than is needed, of these wheels in this order.
func (r *rig) brief(order ...int) {
	r.run(4.6)
	r.lift()
	r.run(0.7)
	for _, i := range order {
		r.turn(i, 3.3, 5.5, 2)
		r.turn(i, 3.3, -5, 2)
	}
	r.down()
	r.run(0.5)
}

// sent returns the angle that wheel i's encoder sends.
func (r *rig) sent(i int) float64 {
	w := r.wheels[i]
	a := r.angle[i](w.theta - w.omega*w.lateS + w.delta)
	if w.counts > 0 {
		count := 2 * math.Pi / float64(w.counts)
		a = math.Floor(a/count) * count
	}
	return math.Mod(math.Mod(a, 2*math.Pi)+2*math.Pi, 2*math.Pi)
}

// components returns what the strain gauges of a wheel give, in axes that turn with it.
func (r *rig) rotating(w *wheel) [components]float64 {
	e := cmplx.Exp(complex(0, w.theta))
	f := complex(w.fx, w.fz) * e
	f += w.epsilon * cmplx.Conj(f)
	if w.swapped {
		f = complex(imag(f), real(f))
	}
	m := complex(w.mx, 0) * e
	v := [components]float64{real(f), 0, imag(f), real(m), w.my, imag(m)}
	keep := 0.0
	if w.tauS > 0 {
		keep = math.Exp(-1 / r.rateHz / w.tauS)
	}
	for q := range v {
		size := w.noiseN
		if Quantity(q) >= Mx {
			size /= 6
		}
		w.noise[q] = keep*w.noise[q] + math.Sqrt(1-keep*keep)*size*r.random.NormFloat64()
		v[q] += w.zero[q] + w.noise[q]
	}
	return v
}

func (r *rig) step() {
	dt := 1 / r.rateHz
	r.at += int64(dt * 1e9)
	for _, w := range r.wheels {
		w.theta += w.omega * dt
	}
	for i := range r.wheels {
		corner := &r.setup.Corners[i]
		theta := r.sent(r.angleFrom[i])
		v := r.rotating(r.wheels[r.forceFrom[i]])
		if corner.Forces == Fixed {
			e := cmplx.Exp(complex(0, -theta))
			f, m := complex(v[Fx], v[Fz])*e, complex(v[Mx], v[Mz])*e
			v[Fx], v[Fz], v[Mx], v[Mz] = real(f), imag(f), real(m), imag(m)
		}
		at := r.at + int64(i)*r.stagger
		r.row, r.turned = r.row[:0], r.turned[:0]
		for q := range Quantity(components) {
			if ch := corner.Channels[q]; ch != None {
				step := r.setup.Channels[ch].Step
				r.row = append(r.row, Sample{Channel: ch, Value: r.spoiled(i, q, math.Round(v[q]/step)*step)})
			}
		}
		if ch := corner.Channels[Angle]; ch != None {
			r.turned = append(r.turned, Sample{Channel: ch, Value: r.spoiled(i, Angle, theta)})
		}
		if ch := corner.Channels[Serial]; ch != None {
			r.turned = append(r.turned, Sample{Channel: ch, Value: r.spoiled(i, Serial, r.wheels[r.serialFrom[i]].serial)})
		}
		for k, samples := range [][]Sample{r.row, r.turned} {
			if r.drop == nil || !r.drop(2*i+k) {
				r.send(at, 2*i+k, samples)
			}
		}
	}
}

func (r *rig) spoiled(corner int, q Quantity, v float64) float64 {
	if r.spoil == nil {
		return v
	}
	return r.spoil(corner, q, v)
}

// exchange exchanges what comes over the plugs of two corners.
func exchange(from []int, i, k int) { from[i], from[k] = from[k], from[i] }

// find returns the finding of a check about a subject and channel.
func find(r Result, check, subject, channel string) Finding {
	for _, f := range r.Findings {
		if f.Check == check && f.Subject == subject && f.Channel == channel {
			return f
		}
	}
	return Finding{Sentence: "no such finding"}
}
