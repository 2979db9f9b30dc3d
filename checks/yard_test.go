package checks

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// yard is a rig that rolls, with a sensor bar beside each of the first two wheels and a ground
// speed sensor. Its optics send with every second message of the first wheel's forces.
type yard struct {
	*rig
	bars []*bar
	road *road

	speed  float64   // m/s
	yaw    float64   // rad/m, positive to the left
	radius []float64 // rolling, m
	n      int
	buf    []Sample

	change func(samples []Sample)                        // of all messages, on their way; nil: nothing
	hear   func(at int64, message int, samples []Sample) // of an optical sensor; nil: the Judge
}

// bar is a sensor bar: heights in m, camber in rad, white noise in m.
type bar struct{ outer, inner, third, camber, noise float64 }

// road is a ground speed sensor on the vehicle's middle.
type road struct {
	mount   float64 // turned about the vertical axis, rad
	factor  float64
	rest    [2]float64 // m/s that it shows at rest
	ownSlip float64    // by which its own slip is off, rad
	noise   float64    // m/s
}

const (
	yardTyre   = "205/55 R16"
	yardTrackM = 1.6
)

var yardRadiusM = tyre{205, 55, 16}.radiusM()

// newYard returns a vehicle whose bars are 0.20 m high and stand at −0.8°.
func newYard(seed uint64, names ...string) *yard {
	y := &yard{rig: newRig(seed, names...), road: &road{factor: 1, noise: 0.01}}
	s := &y.setup
	for i := range names {
		s.Corners[i].Tyre = yardTyre
		y.radius = append(y.radius, yardRadiusM)
	}
	add := func(name string, q Quantity, step, low, high float64) int32 {
		s.Channels = append(s.Channels, Channel{Name: name + "." + q.String(), Quantity: q, Message: len(s.Messages) - 1, Step: step, Low: low, High: high})
		return int32(len(s.Channels) - 1)
	}
	for i := range min(2, len(names)) {
		name := "bar " + names[i]
		s.Messages = append(s.Messages, Message{Name: name, Period: 0.01, Length: 8})
		o := Optic{Name: name, Kind: CamberBar, Corner: i, BaselineM: 0.4, ClearanceM: 0.2, ClearanceToleranceM: 0.03, Channels: NoChannels()}
		for _, q := range []Quantity{HeightOuter, HeightInner, HeightThird} {
			o.Channels[q] = add(name, q, 1e-5, 0, 0.65535)
		}
		o.BaselineThirdM = 0.25
		o.Channels[Camber] = add(name, Camber, 1e-5, -0.5, 0.5)
		s.Optics = append(s.Optics, o)
		half := 0.2 * math.Tan(-0.8*math.Pi/180)
		y.bars = append(y.bars, &bar{outer: 0.2 + half, inner: 0.2 - half, third: 0.2, camber: -0.8 * math.Pi / 180, noise: 3e-4})
	}
	s.Messages = append(s.Messages, Message{Name: "Road", Period: 0.01, Length: 6})
	o := Optic{Name: "road", Kind: GroundSpeed, Corner: -1, Channels: NoChannels()}
	o.Channels[SpeedX] = add("Road", SpeedX, 0.003, -90, 90)
	o.Channels[SpeedY] = add("Road", SpeedY, 0.003, -90, 90)
	o.Channels[Slip] = add("Road", Slip, 1e-4, -1.5, 1.5)
	s.Optics = append(s.Optics, o)
	return y
}

// optic returns the setup of an optical sensor.
func (y *yard) optic(name string) *Optic {
	for i := range y.setup.Optics {
		if y.setup.Optics[i].Name == name {
			return &y.setup.Optics[i]
		}
	}
	panic("no optic " + name)
}

// begin makes the Judge and lets the optics send.
func (y *yard) begin() {
	if y.judge != nil {
		return
	}
	y.start()
	y.send = func(at int64, message int, samples []Sample) {
		if y.change != nil {
			y.change(samples)
		}
		y.judge.Message(at, message, 8, false, samples)
		if message == 0 {
			if y.n++; y.n%2 == 0 {
				y.sendOptics(at)
			}
		}
	}
}

func (y *yard) sendOptics(at int64) {
	first := 2 * len(y.wheels)
	for i, b := range y.bars {
		o := &y.setup.Optics[i]
		noise := func() float64 { return b.noise * y.random.NormFloat64() }
		y.put(o, at, HeightOuter, b.outer+noise())
		y.put(o, at, HeightInner, b.inner+noise())
		y.put(o, at, HeightThird, b.third+noise())
		y.put(o, at, Camber, b.camber+noise()/0.4)
		y.emit(at, first+i)
	}
	r, o := y.road, y.optic("road")
	sin, cos := math.Sincos(r.mount)
	vx := r.factor*y.speed*cos + r.rest[0] + r.noise*y.random.NormFloat64()
	vy := r.factor*(y.speed*sin+1.3*y.yaw*y.speed) + r.rest[1] + r.noise*y.random.NormFloat64()
	slip := 0.0
	if math.Abs(vx) > 0.5 {
		slip = math.Atan(vy/vx) + r.ownSlip
	}
	y.put(o, at, SpeedX, vx)
	y.put(o, at, SpeedY, vy)
	y.put(o, at, Slip, slip)
	y.emit(at, first+len(y.bars))
}

func (y *yard) put(o *Optic, at int64, q Quantity, v float64) {
	ch := o.Channels[q]
	if ch == None {
		return
	}
	if step := y.setup.Channels[ch].Step; step > 0 {
		v = math.Round(v/step) * step
	}
	s := Sample{Channel: ch, Value: v}
	if y.spoil != nil {
		if s.Value = y.spoil(-1-len(y.buf), q, v); math.IsInf(s.Value, 1) {
			s.Value, s.State = y.setup.Channels[ch].High, AtHigh
		}
	}
	y.buf = append(y.buf, s)
}

func (y *yard) emit(at int64, message int) {
	if y.change != nil {
		y.change(y.buf)
	}
	switch {
	case y.drop != nil && y.drop(message):
	case y.hear != nil:
		y.hear(at, message, y.buf)
	default:
		y.judge.Message(at, message, 8, false, y.buf)
	}
	y.buf = y.buf[:0]
}

// stand lets so many seconds pass at rest.
func (y *yard) stand(seconds float64) {
	y.begin()
	y.roll(seconds, 0, 0)
}

// roll rolls the vehicle on the ground at a speed in m/s and a curvature in 1/m.
func (y *yard) roll(seconds, speed, yaw float64) {
	y.begin()
	y.speed, y.yaw = speed, yaw
	for i, w := range y.wheels {
		across := yardTrackM / 2
		if y.setup.Corners[i].Side == Right {
			across = -across
		}
		w.omega = speed * (1 - yaw*across) / y.radius[i]
	}
	y.run(seconds)
	y.speed, y.yaw = 0, 0
	for _, w := range y.wheels {
		w.omega = 0
	}
}

// judged returns the result after it has been held against the rules.
func (y *yard) judged(t *testing.T) Result {
	t.Helper()
	r := y.judge.Result()
	keepsRules(t, &y.setup, r)
	return r
}

// only lists what of these checks neither passed nor is absent.
func only(r Result, checks ...string) []string {
	var out []string
	for _, f := range r.Findings {
		if slices.Contains(checks, f.Check) && (f.Verdict == Fail || f.Verdict == Inconclusive) {
			out = append(out, strings.Join(strings.Fields(f.Check+" "+f.Subject+" "+f.Channel+" "+f.Verdict.String()), " "))
		}
	}
	return out
}
