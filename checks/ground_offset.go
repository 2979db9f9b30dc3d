package checks

import (
	"math"
	"math/cmplx"

	"plumbline/checks/fit"
)

// zeroVector is the zero of corner i's radial forces in rotating axes, N, with its standard uncertainty on
// either axis; 0 where its turns have not shown it.
func (v *view) zeroVector(i int) (zero complex128, part fit.Part) {
	if v.wiring.bonds == nil || !v.wiring.bonds[i].own || len(v.spins[i].revolutions) < turnsForUncertainty {
		return 0, fit.TypeB(0)
	}
	x, xs, _, _ := v.constant(i, Fx)
	z, zs, _, _ := v.constant(i, Fz)
	part = xs
	if zs.U > part.U {
		part = zs
	}
	if s := x + z + part.U; s-s != 0 {
		return 0, fit.TypeB(0)
	}
	return complex(x, z), part
}

// rested returns what corner i's radial force is at rest on the ground in each of the newest seconds, N in the wheel's
// rotating axes without its zero, and the transmitted angle there, rad.
func (v *view) rested(i int) (force []complex128, theta []float64) {
	r := &v.corners[i].rest
	zero, _ := v.zeroVector(i)
	n := min(r.Force.N(), keptRests)
	force, theta = make([]complex128, 0, n), make([]float64, 0, n)
	for k := range n {
		s := &r.stands[k]
		f := complex(s.fx, s.fz)
		if v.corners[i].fixed {
			f *= cmplx.Rect(1, s.theta)
		}
		force = append(force, f-zero)
		theta = append(theta, s.theta)
	}
	return force, theta
}

// restForce is the size of corner i's radial force at rest on the ground, N, one value a second.
func (v *view) restForce(i int) fit.Welford {
	var w fit.Welford
	force, _ := v.rested(i)
	for _, f := range force {
		w.Add(cmplx.Abs(f))
	}
	return w
}

// groundOffset says where the ground contradicts the lift: standing on its wheels a vehicle's load points up, so
// δ = atan2(Fx, Fz) in fixed axes by the transmitted angle. A slope or a tyre that is wound up turn it as well, so it
// never judges; it is said where it differs from δ of the turns by more than twice the limit and
// the uncertainty.
func (v *view) groundOffset(i int, lifted, u float64) string {
	force, theta := v.rested(i)
	if len(force) < restSeconds || math.IsInf(u, 0) || u-u != 0 {
		return ""
	}
	var sum complex128
	for k, f := range force {
		sum += f * cmplx.Rect(1, -theta[k])
	}
	// f = i·W·e^{−iδ}: Fx = W·sin δ, Fz = W·cos δ.
	ground := math.Atan2(real(sum), imag(sum))
	if math.Abs(fit.Wrap(ground-lifted)) <= 2*v.setup.Limits.AngleOffsetRad+u {
		return ""
	}
	return "; standing on the ground its load points " + show(ground, "rad") + " round, where a slope of the floor or a tyre that is wound up counts in: roll it a metre and let it settle"
}
