package simulated

import (
	"math"
	"math/rand/v2"
)

// The components in the order of all arrays of six.
const (
	fx = iota
	fy
	fz
	mx
	my
	mz
)

// sensor is the force side of a transducer and what is wrong with it.
type sensor struct {
	zero   [6]float64 // rotating axes, N and N·m
	drift  float64    // N that the zero of Fx moves until the end of the drive; a tenth of it, N·m, for Mx
	driftY float64    // N that the zero of Fy moves until then
	driftM float64    // N·m that the zero of My moves until then
	weight float64    // sensitivity to Fx and Fz: 1 is right
	axes   complex128 // ε: the sensor reads f + ε·conj(f)
	mirror bool       // Fx and Mx count the wrong way

	noiseN, noiseNm float64 // white, RMS
	laterN          float64 // white noise to which it grows by the end of the drive; a fifth of it, N·m, in the moments
	slowN, slowS    float64 // correlated, RMS and s
	humN            float64 // amplitude of 50 Hz; a fifth of it, N·m, in the moments
	spikesPerS      float64
	ringNoiseN      float64 // RMS near ringAt; a fifth of it, N·m, in the moments

	frozen  [6]float64 // s since the start from which a component stands still; +Inf: never
	clipN   float64    // the amplifier's range ends here; 0: where the message ends
	stuckAt float64    // share of the message's range that Fz shows now and then; 0: never
}

// Spoiled by a constant each; the check sees them, nobody tunes them.
const (
	humHz     = 50.0
	spikeN    = 1500.0
	looseEach = 6.0 // s between two moments of a loose contact
	looseFor  = 0.3 // s that one lasts
)

// reading is the state that a message carries from one sample to the next.
type reading struct {
	slow, road [3]float64 // correlated noise, of unit variance
	held       [6]float64
	isHeld     [6]bool
}

// memory is how the correlated noise of a message goes on over one period.
type memory struct{ slowKeep, slowNew, roadKeep, roadNew float64 }

const roadS = 0.02 // correlation time of the shaking of a rolling tyre

func newMemory(periodS, slowS float64) memory {
	if slowS <= 0 {
		slowS = 0.2
	}
	a, b := math.Exp(-periodS/slowS), math.Exp(-periodS/roadS)
	return memory{a, math.Sqrt(1 - a*a), b, math.Sqrt(1 - b*b)}
}

// read turns three components of the true load (first: fx for the forces, mx
// for the moments) into what the rotating sensor shows at t.
func (s *sensor) read(out *[3]float64, first int, l *loads, k *motion, w *wheel, t float64, mem *memory, r *reading, rng *rand.Rand) {
	x, y, z := l.fx, l.fy, l.fz
	white, fifth, side := s.noiseN, 1.0, s.driftY
	if first == mx {
		side = s.driftM
		x, y, z = l.mx, l.my, l.mz
		white, fifth = s.noiseNm, 0.2
	}
	if shake := w.shake(k); shake > 0 {
		for i := range r.road {
			r.road[i] = mem.roadKeep*r.road[i] + mem.roadNew*rng.NormFloat64()
		}
		if first == fx {
			x += 0.3 * shake * r.road[0]
			y += 0.25 * shake * r.road[1]
			z += shake * r.road[2]
		} else {
			x += 0.25 * shake * w.radiusM * r.road[0]
			y += 0.3 * shake * w.radiusM * r.road[1]
			z += 0.02 * shake * w.radiusM * r.road[2]
		}
	}

	// f·e^{iθ}: the fixed force seen by axes that turn with the wheel.
	sin, cos := math.Sincos(k.theta)
	xr, zr := x*cos-z*sin, x*sin+z*cos
	if first == fx {
		if w.unbalanceKgM != 0 && k.omega != 0 {
			pull := w.unbalanceKgM * k.omega * k.omega
			xr += pull * math.Cos(w.unbalanceAt)
			zr += pull * math.Sin(w.unbalanceAt)
		}
		re, im := real(s.axes), imag(s.axes)
		xr, zr = s.weight*(xr+re*xr+im*zr), s.weight*(zr-re*zr+im*xr)
	}
	if s.mirror {
		xr = -xr
	}
	out[0], out[1], out[2] = xr+s.zero[first], y+s.zero[first+1], zr+s.zero[first+2]
	if s.drift != 0 {
		move := s.drift * k.driven
		if first == mx {
			move *= 0.1
		}
		out[0] += move
	}
	out[1] += k.driven * side
	if s.laterN != 0 {
		white = math.Hypot(white, s.laterN*fifth*k.driven)
	}
	if s.ringNoiseN != 0 && nearRing(k.theta) {
		white = math.Hypot(white, s.ringNoiseN*fifth)
	}
	for i := range out {
		out[i] += white * rng.NormFloat64()
		if s.slowN != 0 {
			r.slow[i] = mem.slowKeep*r.slow[i] + mem.slowNew*rng.NormFloat64()
			out[i] += s.slowN * fifth * r.slow[i]
		}
	}
}

// hum adds the mains that the cables pick up, alike in all components that are sent.
func (s *sensor) hum(out *[3]float64, first int, t float64) {
	if s.humN == 0 {
		return
	}
	hum := s.humN * math.Sin(2*math.Pi*humHz*t)
	if first == mx {
		hum *= 0.2
	}
	for i := range out {
		out[i] += hum
	}
}

// spoil applies what the amplifier does to finished values: spikes, the end of
// its range, a loose contact, values that stand still. fullN is the message's range.
func (s *sensor) spoil(out *[3]float64, first int, t, periodS, fullN float64, r *reading, faults *rand.Rand) {
	if first == fx {
		if s.spikesPerS > 0 && faults.Float64() < s.spikesPerS*periodS {
			out[faults.IntN(3)] += math.Copysign(spikeN, faults.Float64()-0.5)
		}
		if s.stuckAt != 0 && math.Mod(t, looseEach) >= looseEach-looseFor {
			out[2] = s.stuckAt * fullN
		}
		if s.clipN > 0 {
			for i, v := range out {
				if math.Abs(v) > s.clipN {
					out[i] = math.Copysign(math.Inf(1), v) // full scale in the message
				}
			}
		}
	}
	for i := range out {
		c := first + i
		if t < s.frozen[c] {
			continue
		}
		if !r.isHeld[c] {
			r.held[c], r.isHeld[c] = out[i], true
		}
		out[i] = r.held[c]
	}
}

// nearRing reports whether the wheel stands where the pick-up ring is bad:
// a sixth of the turn.
func nearRing(theta float64) bool { return math.Cos(theta-ringAt) > nearCos }

// nearCos is the cosine of 30°.
const nearCos = 0.8660254037844386

// resolve turns rotating components into fixed ones by the amplifier's angle:
// f·e^{−iθ}.
func resolve(out *[3]float64, theta float64) {
	sin, cos := math.Sincos(theta)
	out[0], out[2] = out[0]*cos+out[2]*sin, out[2]*cos-out[0]*sin
}
