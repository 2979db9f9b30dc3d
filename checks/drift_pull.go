package checks

import (
	"math"
	"math/cmplx"

	"plumbline/checks/fit"
)

// How the pull of a brake is taken off my; common practice.
const (
	pullKept  = 60 // newest standstills that tell the errors that turn with the wheel, a whole number of windows
	pullTerms = 5  // that they are told with
)

// pull is the force along the vehicle in one standstill.
type pull struct {
	fx    float64 // N
	fxU   float64 // N, standard uncertainty by the count of the encoder
	theta float64 // transmitted angle, rad
}

// pulled follows my at standstill with the moment −R·Fx of a held brake taken off. Fx brings errors that turn with
// the wheel: where it stands on its circumference is chance, and what is left of the zero of the radial axes
// (once per turn) and of ε (twice) times the load is then larger than what my alone scatters by. They
// stay the same all through a drive, so all standstills together tell them.
type pulled struct {
	trend
	base  [standsBase]stood
	later [pullKept]stood // ring
	n     int             // taken
	floor float64         // N·m, standard uncertainty of one of them by the count of the encoder
}

// stood is one standstill: my + R·Fx, N·m, and the transmitted angle, rad.
type stood struct{ my, theta float64 }

// add takes a standstill: my + R·Fx, N·m, the transmitted angle, rad, and the standard uncertainty that the count of the
// encoder gives it, N·m.
func (p *pulled) add(my, theta, count float64, from, to int64) {
	if s := my + theta + count; s-s != 0 {
		return
	}
	if p.n < standsBase {
		p.base[p.n] = stood{my, theta}
	} else {
		p.later[(p.n-standsBase)%pullKept] = stood{my, theta}
	}
	p.n++
	p.floor = math.Max(p.floor, count)
	if !p.take(my, from, to) {
		return
	}
	a, b := p.atLeast(scatter(&p.Base), standsBase), p.atLeast(scatter(&p.Window), standsWindow)
	now, u := p.Window.Mean()-p.Base.Mean(), fit.Expanded(a, b)
	if x, ux, ok := p.fitted(); ok && ux < u {
		now, u = x, ux
	}
	p.conclude(now, u)
}

// atLeast returns the uncertainty of a mean of n standstills, no less than the count of the encoder makes it.
func (p *pulled) atLeast(x fit.Part, n float64) fit.Part {
	x.U = math.Max(x.U, p.floor/math.Sqrt(n))
	return x
}

// fitted returns by how much the newest window has moved, with its expanded uncertainty, where the errors that turn with
// the wheel are fitted along with the mean of each window (analysis of covariance). What goes on within the windows is
// fitted as well: a wheel that comes to rest a little farther round each time would else take a drift for such an error.
func (p *pulled) fitted() (moved, u float64, ok bool) {
	later := min(p.n-standsBase, pullKept) / standsWindow * standsWindow
	windows := later / standsWindow
	n := standsBase + later
	columns := make([][]float64, 1+windows+pullTerms)
	for k := range columns {
		columns[k] = make([]float64, n)
	}
	y := make([]float64, n)
	terms := columns[1+windows:]
	for i := range n {
		x, place := &p.base[i%standsBase], i
		if k := i - standsBase; k >= 0 {
			x, place = &p.later[(p.n-standsBase-later+k)%pullKept], k%standsWindow
			columns[1+k/standsWindow][i] = 1
		}
		y[i] = x.my
		columns[0][i] = 1
		sin, cos := fit.Sincos(x.theta)
		terms[0][i], terms[1][i] = cos, sin
		terms[2][i], terms[3][i] = float64(cos*cos)-float64(sin*sin), 2*float64(sin*cos)
		terms[4][i] = float64(place) - float64(standsWindow-1)/2
	}
	r, err := fit.LeastSquares(columns, y)
	if err != nil || r.DOF < 1 || !(r.ResidualSD > 0) {
		return 0, 0, false
	}
	se := r.SE[windows] * math.Max(1, p.floor/r.ResidualSD)
	u = fit.Expanded(fit.Part{U: se, DOF: float64(r.DOF)})
	return r.Coef[windows], u, u-u == 0
}

// longitudinal returns the mean force along the vehicle in the standstill under way.
func (c *corner) longitudinal() (pull, bool) {
	r := &c.rest
	n := min(r.Force.N()-c.still.loads, keptRests)
	zero := c.turn.zero()
	var along, size fit.Welford
	var p pull
	for k := range n {
		s := &r.stands[(r.Force.N()-1-k)%keptRests]
		f, back := complex(s.fx, s.fz), cmplx.Rect(1, -s.theta)
		if !c.fixed {
			f *= back
		}
		f -= zero * back
		along.Add(real(f))
		size.Add(cmplx.Abs(f))
		p.theta = s.theta
	}
	if n == 0 {
		return pull{}, false
	}
	p.fx, p.fxU = along.Mean(), size.Mean()*fit.Rectangular(c.encoder.count/2)
	return p, true
}

// zero returns the mean zero of the radial forces by the turns, N in rotating axes; 0 without enough of them.
func (t *Turn) zero() complex128 {
	var sum complex128
	n := 0.0
	for _, list := range [2][]Revolution{t.Forward, t.Back} {
		for k := range list {
			if r := &list[k]; r.Have&(1<<Fx|1<<Fz) == 1<<Fx|1<<Fz {
				sum += complex(r.Constant[Fx], r.Constant[Fz])
				n++
			}
		}
	}
	if n < turnsForUncertainty {
		return 0
	}
	return sum / complex(n, 0)
}
