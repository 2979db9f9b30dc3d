package simulated

import (
	"math"
	"math/rand/v2"
)

// lens is one optical sensor as it really is.
type lens struct {
	kind       OpticKind
	wheel      *wheel // nil: on the vehicle
	baselineM  float64
	clearanceM float64
	camberRad  float64

	slipsM      float64 // m by which the bar slips up until the end of the drive
	camberError float64 // rad, of the sensor's own camber signal
	dropout     float64 // share of invalid values
	restMps     float64 // speed shown where there is none
	mountRad    float64 // turned about the vertical axis
}

const (
	liftM        = 0.27  // a bar that hangs with its wheel is that much higher
	droopRad     = 0.022 // camber that a hanging wheel gains
	heightNoiseM = 0.0003
	speedNoise   = 0.008 // m/s, RMS, at rest
)

// camber returns the two heights, m, and the sensor's own camber angle, rad.
// γ = atan((outer − inner)/baseline). Invalid values are +Inf: the message
// shows its highest raw value, which the DBC names as not available.
func (o *lens) camber(k *motion, rng, faults *rand.Rand) [3]float64 {
	height := o.clearanceM + liftM*k.lift + o.slipsM*k.driven
	gamma := o.camberRad + droopRad*k.lift
	half := o.baselineM / 2 * math.Tan(gamma)
	noise := heightNoiseM * (1 + min(10, 0.5*math.Abs(k.speed)*(0.2+k.roughness)))
	outer := height + half + noise*rng.NormFloat64()
	inner := height - half + noise*rng.NormFloat64()
	out := [3]float64{outer, inner, math.Atan((outer-inner)/o.baselineM) + o.camberError}
	if o.dropout > 0 {
		lost := false
		for i := range out[:2] {
			if faults.Float64() < o.dropout {
				out[i], lost = math.Inf(1), true
			}
		}
		if lost {
			out[2] = math.Inf(1)
		}
	}
	return out
}

// speed returns forward and lateral speed, m/s, and the slip angle, rad, 0
// below walking pace. The sensor sits on the first axle's middle.
func (o *lens) speed(k *motion, rng, faults *rand.Rand) [3]float64 {
	vx := k.speed
	vy := 1.3 * k.yawRate // it sits before the centre about which the vehicle turns
	noise := speedNoise + 0.002*math.Abs(vx)
	sin, cos := math.Sincos(o.mountRad)
	seenX := vx*cos - vy*sin + o.restMps + noise*rng.NormFloat64()
	seenY := vx*sin + vy*cos + noise*rng.NormFloat64()
	out := [3]float64{seenX, seenY, 0}
	if math.Abs(seenX) > 0.5 {
		out[2] = math.Atan(seenY / seenX)
	}
	if o.dropout > 0 && faults.Float64() < o.dropout {
		out = [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}
	}
	return out
}
