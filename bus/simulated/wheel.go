package simulated

import "math"

// wheel is one corner of the vehicle as it really is: the wheel and its tyre,
// the ground under it and the transducer on it. Which plug it answers to is
// another matter (plug).
type wheel struct {
	index, opposite int     // opposite wheel of the axle, −1: none
	side            float64 // +1 left, −1 right
	xShare          float64 // +1 on the first axle, −1 on the last
	yM              float64 // position across the vehicle, positive left
	driven          bool

	massKg, overhangM float64
	loadN             float64 // contact load on level ground
	radiusM           float64 // rolling
	dragNm, rubNm     float64 // friction about the axle; more of it at one place of the turn
	variationN        float64 // radial force variation of the tyre once per turn
	variationAt       float64 // rad
	unbalanceKgM      float64
	unbalanceAt       float64 // rad

	sensor sensor
	angle  encoder
	state  housekeeping
}

const (
	trackM       = 1.62
	rollingShare = 0.011 // rolling resistance over load; common value for radial tyres, from memory
	aeroNs2m2    = 1.1   // N per (m/s)² of the whole vehicle
	lateralShift = 0.42  // load moved across an axle, of lateral acceleration times mass
	alongShift   = 0.30
	hubKgM2      = 0.08 // inertia inboard of the measuring element
	ringAt       = 3.5  // rad: where the pick-up ring rubs or loses the signal
)

// loads are the forces and moments that act on the vehicle side, in the axes of
// ISO 8855, about the centre of the measuring plane: N and N·m.
type loads struct{ fx, fy, fz, mx, my, mz float64 }

// traffic is what the wheels share: who pushes the vehicle and against what.
type traffic struct {
	massKg  float64 // all that stands on the wheels of the configuration
	resistN float64 // rolling resistance and friction of all wheels
	drivers float64 // how many wheels are driven
	oneHand bool
}

// loads returns what the wheel does to the vehicle while it moves as k says.
//
// The wheel's weight hangs on the vehicle side: Fz = −m·g, about the x axis
// Mx = y·Fz with y = +e on the left, −e on the right. The ground adds the
// contact forces F at r = (x, y, −R): M = r × F.
func (w *wheel) loads(k *motion, all *traffic) loads {
	var l loads
	weight := w.massKg * g
	y := w.side * w.overhangM
	l.fx = -w.massKg * k.accel
	l.fy = -w.massKg * k.lateral
	l.fz = -weight
	l.mx = -y * weight

	// Friction about the axle drives the hub the way the wheel turns.
	way := min(max(k.omega/0.05, -1), 1)
	drag := w.dragNm
	if w.rubNm != 0 {
		drag += w.rubNm * max(0, math.Cos(k.theta-ringAt))
	}
	if k.lift > 0 {
		turning := drag*way + hubKgM2*k.alpha
		l.my += k.lift * turning
		if all.oneHand {
			own := w.massKg * w.radiusM * w.radiusM / 2
			l.fx += k.lift * (turning + own*k.alpha) / w.radiusM
		}
	}
	if k.lift < 1 {
		c := w.contact(k, all, drag, way)
		l.fx += c.fx
		l.fy += c.fy
		l.fz += c.fz
		x := rollingShare * w.radiusM * min(max(k.speed/0.05, -1), 1)
		l.mx += y*c.fz + w.radiusM*c.fy
		l.my += -w.radiusM*c.fx - x*c.fz
		l.mz += x*c.fy - y*c.fx
	}
	return l
}

// contact returns the forces between ground and tyre, on the tyre.
func (w *wheel) contact(k *motion, all *traffic, drag, way float64) loads {
	share := w.loadN / g // kg of the vehicle on this wheel
	moved := -share * (alongShift*k.accel*w.xShare + lateralShift*k.lateral*w.side)
	down := 1 - k.lift
	fz := max(0, w.loadN+moved) * down

	rolling := min(max(k.speed/0.05, -1), 1)
	fx := -rollingShare*fz*rolling - drag*way*down/w.radiusM
	push := all.massKg*k.accel + aeroNs2m2*k.speed*math.Abs(k.speed) + all.resistN*rolling
	// Where no wheel is driven, somebody pushes the body.
	if push*rolling < 0 { // all wheels brake
		fx += push * share / all.massKg
	} else if w.driven {
		fx += push / all.drivers
	}
	fx += k.windFx * down
	fy := share*k.lateral*fz/w.loadN + k.windFy*down
	if w.variationN != 0 && rolling != 0 {
		fz += w.variationN * down * min(math.Abs(k.speed), 1) * math.Cos(k.theta-w.variationAt)
	}
	return loads{fx: fx, fy: fy, fz: fz}
}

// shake returns how much the road shakes a wheel: RMS of Fz, N.
func (w *wheel) shake(k *motion) float64 {
	return w.loadN * (1 - k.lift) * min(0.08, (0.0006+0.0045*k.roughness)*math.Abs(k.speed))
}
