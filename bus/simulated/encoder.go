package simulated

import "math"

// encoder is the angle side of a transducer and what is wrong with it.
type encoder struct {
	offsetRad float64 // transmitted minus true
	counts    float64 // per revolution
	reversed  bool
	slip      float64 // share of the counts that is lost
	jumpRad   float64 // to and fro, every jumpEach
	stuckFrom float64 // s since the start; +Inf: never
	lateS     float64 // the angle is this much older than the forces
	spinScale float64 // of the speed channel; 1 is right
	origin    float64 // true angle at the start: counts are lost from there on
}

const (
	jumpFirst = 5.0 // s
	jumpEach  = 10.0
	spinNoise = 0.02 // rad/s, RMS
)

// transmitted returns the angle that the amplifier of wheel w believes at t and
// sends: in [0, 2π), cut down to whole counts.
func (m *movement) transmitted(w *wheel, t float64) float64 {
	e := &w.angle
	theta, _, _ := m.angle(w.index, min(t-e.lateS, e.stuckFrom))
	theta = e.origin + (theta-e.origin)*(1-e.slip)
	if e.reversed {
		theta = -theta
	}
	theta += e.offsetRad
	if e.jumpRad != 0 && t >= jumpFirst && int((t-jumpFirst)/jumpEach)%2 == 0 {
		theta += e.jumpRad
	}
	n := math.Floor(theta / (2 * math.Pi) * e.counts)
	n -= math.Floor(n/e.counts) * e.counts
	return n / e.counts * 2 * math.Pi
}

// spin returns what the speed channel of wheel w should show at t, rad/s. The
// amplifier takes it from the encoder's edges, not from the counted angle: it
// goes on where the count is stuck, and turns round with the encoder's direction.
func (m *movement) spin(w *wheel, t float64) float64 {
	_, omega, _ := m.angle(w.index, t-w.angle.lateS)
	if w.angle.reversed {
		omega = -omega
	}
	return omega * w.angle.spinScale
}
