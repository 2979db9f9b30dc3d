package checks

import "math"

// forceAxes are the components that are shown in wheel axes.
const forceAxes = 3

// wheelForce keeps what a wheel's forces do in wheel axes, which do not turn with it, for who looks.
type wheelForce struct {
	recent [forceAxes]recent // fx, fy, fz
	loaded Histogram         // of fz while the wheel is on the ground
}

// add takes a row as it was sent, with the angle of the same moment.
func (w *wheelForce) add(r *Row, theta float64, fixed bool, hang Hang) {
	if r.has(Fy) {
		w.recent[Fy].add(r.At, r.V[Fy])
	}
	if !r.has(Fx) || !r.has(Fz) {
		return // half of a pair cannot be turned
	}
	x, z := r.V[Fx], r.V[Fz]
	if !fixed { // f = f_r·exp(−iθ)
		sin, cos := math.Sincos(theta)
		x, z = float64(x*cos)+float64(z*sin), float64(z*cos)-float64(x*sin)
	}
	w.recent[Fx].add(r.At, x)
	w.recent[Fz].add(r.At, z)
	if hang == Loaded {
		w.loaded.Add(z)
	}
}

// shown puts what is known at the time now, ns.
func (w *wheelForce) shown(now int64, to *CornerState) {
	for q := range forceAxes {
		to.Force[q] = w.recent[q].window(now, 1)
	}
	to.VerticalForce = w.loaded
}
