package simulated

import "math"

// piece is a stretch of time in which every speed changes smoothly from one
// value to another. All that moves is given in closed form, so that any message
// can ask for any moment: no step of integration, no error that grows.
type piece struct {
	from, length float64 // s since the start

	turned   int // wheel that is turned by hand, −1: none
	opposite int // wheel that the differential turns the other way, −1: none
	hand     ramp
	human    unevenness
	humanAt0 float64 // human.angle at the beginning of the piece

	drive        ramp
	yaw          float64 // change of heading, rad
	roughness    float64
	theta0       []float64 // true angle of each wheel at the beginning
	lift0, lift1 []float64 // 0 on the ground, 1 hanging
	windUp       []windUp
}

// windUp is the strain that stays in a standing tyre; it goes as the wheel rolls.
type windUp struct {
	fxN, fyN float64
	downAtM  float64 // distance driven when the wheel came down
}

// ramp is a quantity whose rate goes from rate0 to rate1 over the length of a
// piece as 3u² − 2u³.
type ramp struct{ start, rate0, rate1 float64 }

// at returns value, rate and change of rate, t into a piece of the given length.
func (r ramp) at(t, length float64) (value, rate, change float64) {
	d := r.rate1 - r.rate0
	u := t / length
	value = r.start + r.rate0*t + d*length*u*u*u*(1-u/2)
	rate = r.rate0 + d*u*u*(3-2*u)
	change = d / length * 6 * u * (1 - u)
	return value, rate, change
}

// unevenness is how a person turns a wheel: angle = q + Σ aᵢ·sin(kᵢ·q + pᵢ) of a
// smooth q. The pull is lost where the hands grip anew, and it stops when q does.
type unevenness struct{ a, k, p [2]float64 }

// at returns the angle and its first two derivatives with respect to q.
func (h *unevenness) at(q float64) (angle, d1, d2 float64) {
	angle, d1 = q, 1
	for i := range h.a {
		s, c := math.Sincos(h.k[i]*q + h.p[i])
		ak := h.a[i] * h.k[i]
		angle += h.a[i] * s
		d1 += ak * c
		d2 -= ak * h.k[i] * s
	}
	return angle, d1, d2
}

// motion is what one wheel and the vehicle do at one moment.
type motion struct {
	theta, omega, alpha float64 // true angle, its rate and acceleration
	lift                float64 // 0 on the ground, 1 hanging
	speed, accel        float64 // of the vehicle, forward
	lateral             float64 // acceleration to the left
	yawRate             float64
	roughness           float64
	windFx, windFy      float64 // what is left of the wind-up, N
	driven              float64 // share of the drive that is over
}

// movement is the whole script as pieces.
type movement struct {
	pieces []piece
	wheels []wheel
	cur    int // piece of the last question: the next one is close

	driveFrom, driveTo float64 // from the first to the last that rolls, s; the whole script where nothing does
}

func (m *movement) locate(t float64) *piece {
	for m.cur+1 < len(m.pieces) && t >= m.pieces[m.cur+1].from {
		m.cur++
	}
	for m.cur > 0 && t < m.pieces[m.cur].from {
		m.cur--
	}
	return &m.pieces[m.cur]
}

// angle returns true angle, rate and acceleration of wheel w at t.
func (m *movement) angle(w int, t float64) (theta, omega, alpha float64) {
	p := m.locate(t)
	return p.angle(&m.wheels[w], min(max(t-p.from, 0), p.length))
}

func (p *piece) angle(w *wheel, t float64) (theta, omega, alpha float64) {
	theta = p.theta0[w.index]
	if w.index == p.turned || w.index == p.opposite {
		q, q1, q2 := p.hand.at(t, p.length)
		a, d1, d2 := p.human.at(q)
		sign := 1.0
		if w.index == p.opposite {
			sign = -1
		}
		theta += sign * (a - p.humanAt0)
		omega = sign * d1 * q1
		alpha = sign * (d1*q2 + d2*q1*q1)
	}
	if p.moves() {
		s, v, a := p.drive.at(t, p.length)
		u := t / p.length
		yaw := p.yaw * u * u * (3 - 2*u)
		theta += (s - p.drive.start - w.yM*yaw) / w.radiusM
		omega += (v - w.yM*p.yawRate(u)) / w.radiusM
		alpha += a / w.radiusM
	}
	return theta, omega, alpha
}

func (p *piece) moves() bool { return p.drive.rate0 != 0 || p.drive.rate1 != 0 }

func (p *piece) yawRate(u float64) float64 { return p.yaw / p.length * 6 * u * (1 - u) }

// at returns the motion of wheel w at t, s since the start.
func (m *movement) at(w *wheel, t float64) motion {
	p := m.locate(t)
	t = min(max(t-p.from, 0), p.length)
	u := t / p.length
	var k motion
	k.theta, k.omega, k.alpha = p.angle(w, t)
	k.lift = p.lift0[w.index] + (p.lift1[w.index]-p.lift0[w.index])*u*u*(3-2*u)
	s := p.drive.start
	if p.moves() {
		s, k.speed, k.accel = p.drive.at(t, p.length)
		k.yawRate = p.yawRate(u)
		k.lateral = k.speed * k.yawRate
	}
	k.roughness = p.roughness
	wind := &p.windUp[w.index]
	rolled := (s - wind.downAtM) / 0.3 // m of rolling that relax a tyre: about the length of its print
	k.windFx = wind.fxN / (1 + rolled*rolled)
	k.windFy = wind.fyN / (1 + rolled*rolled)
	k.driven = m.driven(p.from + t)
	return k
}

// driven returns which share of the drive is over at t, s since the start.
func (m *movement) driven(t float64) float64 {
	return min(max((t-m.driveFrom)/(m.driveTo-m.driveFrom), 0), 1)
}
