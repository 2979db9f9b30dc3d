package checks

import (
	"math"
	"math/cmplx"

	"plumbline/checks/fit"
)

// Sector is a quarter of a turn of a lifted wheel, with the sums from which the
// direction of the hanging weight there can be told once the zero is known. A whole turn
// tells it better, but three turns make only three of those, and a slope wants many.
type Sector struct {
	Run   int32
	Dir   int8
	Turns float64 // mean signed turns since the run began
	n     float64
	f     [2]complex128 // Σ f·exp(∓iθ)
	e     [2]complex128 // Σ exp(−iθ), Σ exp(−2iθ)
}

// keptSectors is how many of the newest are kept.
const keptSectors = 4 * kept

// sectors cuts the run under way into quarters of a turn.
type sectors struct {
	list  []Sector // newest last
	at    int32    // quarter under way
	start float64  // unwrapped angle at which the run began
	from  float64
	now   Sector
}

func (s *sectors) begin(theta float64, run int32) {
	s.end()
	s.start = theta
	s.reset(theta, 0, run)
}

func (s *sectors) reset(theta float64, at, run int32) {
	s.at, s.from, s.now = at, theta, Sector{Run: run}
}

// add takes a row in rotating axes.
func (s *sectors) add(fx, fz, theta, cos, sin float64, run int32) {
	turns := (theta - s.start) / (2 * math.Pi)
	if at := int32(math.Floor(turns * 4)); at != s.at {
		s.end()
		s.reset(theta, at, run)
	}
	n := &s.now
	n.n++
	n.Turns += turns
	xc, xs, zc, zs := float64(fx*cos), float64(fx*sin), float64(fz*cos), float64(fz*sin)
	n.f[0] += complex(xc+zs, zc-xs)
	n.f[1] += complex(xc-zs, zc+xs)
	n.e[0] += complex(cos, -sin)
	n.e[1] += complex(float64(cos*cos)-float64(sin*sin), -2*sin*cos)
	n.Dir = 1
	if theta < s.from {
		n.Dir = -1
	}
}

// end keeps the quarter under way if most of it was seen.
func (s *sectors) end() {
	if s.now.n == 0 {
		return
	}
	n := s.now
	s.now = Sector{}
	if n.n < 4 {
		return
	}
	n.Turns /= n.n
	if len(s.list) == keptSectors {
		copy(s.list, s.list[1:])
		s.list = s.list[:keptSectors-1]
	}
	s.list = append(s.list, n)
}

// delta returns the offset of the angle in one sector, rad.
func (n *Sector) delta(b background) float64 {
	if b.reversed {
		return phase1(n.f[1] - b.zero*cmplx.Conj(n.e[0]) - b.other*cmplx.Conj(n.e[1]))
	}
	return -phase1(n.f[0] - b.zero*n.e[0] - b.other*n.e[1])
}

// background is what is in the radial force of a lifted wheel beside its weight.
type background struct {
	zero     complex128 // what does not turn, N
	other    complex128 // the sequence that does not dominate, N
	reversed bool       // the angle counts against the forces
}

// background sums up what the whole turns of corner i tell.
func (v *view) background(i int) background {
	s := &v.spins[i]
	b := background{reversed: s.reversed()}
	for k := range s.revolutions {
		r := &s.revolutions[k]
		b.zero += complex(r.Constant[Fx], r.Constant[Fz])
		if b.reversed {
			b.other += r.Plus
		} else {
			b.other += r.Minus
		}
	}
	n := complex(float64(max(len(s.revolutions), 1)), 0)
	b.zero /= n
	b.other /= n
	return b
}

// phase1 is the angle by which a vector is ahead of straight down.
func phase1(f complex128) float64 {
	return math.Atan2(real(f), -imag(f))
}

// driftPerTurn returns the common slope of δ over the signed number of turns, rad per turn, with its
// standard uncertainty. Each run and direction has an offset of its own.
func driftPerTurn(list []Sector, b background) (slope float64, part fit.Part, ok bool) {
	type point struct{ x, y float64 }
	var runs [][]point
	for i := range list {
		n := &list[i]
		y := n.delta(b)
		if i == 0 || n.Run != list[i-1].Run || n.Dir != list[i-1].Dir {
			runs = append(runs, nil)
		} else {
			run := runs[len(runs)-1]
			last := run[len(run)-1].y
			y = last + fit.Wrap(y-last)
		}
		runs[len(runs)-1] = append(runs[len(runs)-1], point{n.Turns, y})
	}
	var sxx, sxy float64
	dof := -1
	for _, run := range runs {
		var x, y fit.Welford
		for _, p := range run {
			x.Add(p.x)
			y.Add(p.y)
		}
		for k := range run {
			run[k].x -= x.Mean()
			run[k].y -= y.Mean()
			sxx += float64(run[k].x * run[k].x)
			sxy += float64(run[k].x * run[k].y)
		}
		dof += len(run) - 1
	}
	if dof < 4 || sxx == 0 {
		return 0, part, false
	}
	slope = sxy / sxx
	var squares float64
	for _, run := range runs {
		for _, p := range run {
			squares += square(p.y - float64(slope*p.x))
		}
	}
	return slope, fit.Part{U: math.Sqrt(squares / float64(dof) / sxx), DOF: float64(dof)}, true
}
