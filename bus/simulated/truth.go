package simulated

import "math"

// Truth is what is really the case, to compare verdicts with.
type Truth struct{ Corners []CornerTruth }

// CornerTruth is the truth about the wheel, transducer and electronics at a
// corner, faults included. Exchanged cables do not move it: it belongs to the
// wheel, not to the label.
type CornerTruth struct {
	Name           string
	Zero           [6]float64 // reading without load, rotating axes: Fx Fy Fz in N, Mx My Mz in N·m; before any drift
	AngleOffsetRad float64    // transmitted minus true, in (−π, π]
	Weight         float64    // measured over expected weight of the hanging wheel
	AxesRe, AxesIm float64    // ε: the rotating force f is read as f + ε·conj(f)
	DragNm         float64    // friction about the axle
	SlipRad        float64    // counts lost per revolution, as an angle
	SkewS          float64    // how much later the angle is than the forces
	LoadN          float64    // contact load on level ground
	RadiusM        float64    // rolling
	NoiseN         float64    // white noise of each force, RMS
	NoiseNm        float64    // of each moment
	DriftN         float64    // that the zero of Fx moves until the end of the drive
	SupplyV        float64
	TemperatureC   float64 // at the start
	Serial         uint32
}

// Truth returns what is really the case.
func (v *Vehicle) Truth() Truth {
	var t Truth
	for i := range v.wheels {
		w := &v.wheels[i]
		t.Corners = append(t.Corners, CornerTruth{
			Name: v.cfg.Corners[i].Name, Zero: w.sensor.zero,
			AngleOffsetRad: math.Remainder(w.angle.offsetRad, 2*math.Pi),
			Weight:         w.sensor.weight, AxesRe: real(w.sensor.axes), AxesIm: imag(w.sensor.axes),
			DragNm: w.dragNm, SlipRad: w.angle.slip * 2 * math.Pi, SkewS: w.angle.lateS,
			LoadN: w.loadN, RadiusM: w.radiusM, NoiseN: w.sensor.noiseN, NoiseNm: w.sensor.noiseNm, DriftN: w.sensor.drift,
			SupplyV: w.state.supplyV, TemperatureC: w.state.temperatureC, Serial: w.state.serial,
		})
	}
	return t
}

// TrueAngle returns the angle by which the wheel at a corner has really turned
// at an event time, rad, continuous; NaN where there is no such corner.
func (v *Vehicle) TrueAngle(corner string, at int64) float64 {
	i := v.cfg.corner(corner)
	if i < 0 {
		return math.NaN()
	}
	theta, _, _ := v.movement.angle(i, float64(at-v.cfg.Start)/1e9)
	return theta
}
