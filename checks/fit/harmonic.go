package fit

import "math"

// MinCoverage is the least [Gram.Coverage] that [Gram.Solve] accepts. It is
// that of angles spread evenly over an arc of about 150°, where each
// coefficient is already three times as uncertain as from a whole turn.
const MinCoverage = 0.1

// Gram sums the basis [1, cos θ, sin θ] of the three-parameter sine fit (IEEE
// Std 1057, with the measured angle in place of ω·t). One Gram serves all
// channels that were sampled at the same angles. The zero value is empty.
type Gram struct {
	n                int64
	c, s, cc, cs, ss float64
}

// Add adds one angle by its cosine and sine.
func (g *Gram) Add(c, s float64) {
	g.n++
	g.c += c
	g.s += s
	g.cc += float64(c * c)
	g.cs += float64(c * s)
	g.ss += float64(s * s)
}

// Merge adds the angles of o.
func (g *Gram) Merge(o *Gram) {
	g.n += o.n
	g.c += o.c
	g.s += o.s
	g.cc += o.cc
	g.cs += o.cs
	g.ss += o.ss
}

// Pairs returns means and covariance of (cos θ, sin θ), with an absolute error of some 1e-16·N of their sums.
// What covers so little of the circle that this would show has no covariance.
func (g *Gram) Pairs() Bivariate {
	if g.n == 0 {
		return Bivariate{}
	}
	n, k := float64(g.n), g.centre()
	b := Bivariate{n: g.n, x: k.c, y: k.s}
	if g.Coverage() > 1e-9 { // of an arc of a degree and a half
		b.sxx, b.sxy, b.syy = n*k.cc, n*k.cs, n*k.ss
	}
	return b
}

// N returns how many angles were added.
func (g *Gram) N() int64 { return g.n }

// Coverage tells how well the angles cover the circle: twice the smaller
// eigenvalue of the covariance matrix of (cos θ, sin θ). It is 1 for angles
// spread evenly over whole turns, 0.19 over half a turn, 0.015 over a quarter
// and 0 at standstill or without angles. The standard uncertainty of a
// coefficient grows with the inverse of its root.
func (g *Gram) Coverage() float64 {
	if g.n == 0 {
		return 0
	}
	k := g.centre()
	half := (k.cc + k.ss) / 2
	return max(0, 2*(half-math.Sqrt(float64((k.cc-half)*(k.cc-half))+float64(k.cs*k.cs))))
}

// centred holds means and central second moments of the basis.
type centred struct{ c, s, cc, cs, ss float64 }

func (g *Gram) centre() centred {
	n := float64(g.n)
	c, s := g.c/n, g.s/n
	return centred{
		c: c, s: s,
		cc: g.cc/n - float64(c*c),
		cs: g.cs/n - float64(c*s),
		ss: g.ss/n - float64(s*s),
	}
}

// Moments sums one channel against the basis of a [Gram]. The first value is
// taken off all others before they are summed, so that a small wave on a large
// constant keeps its digits. The zero value is empty.
type Moments struct {
	n             int64
	ref           float64
	y, yc, ys, yy float64 // of y − ref
}

// Add adds the value y taken at the angle with cosine c and sine s.
func (m *Moments) Add(y, c, s float64) {
	if m.n == 0 {
		m.ref = y
	}
	y -= m.ref
	m.n++
	m.y += y
	m.yc += float64(y * c)
	m.ys += float64(y * s)
	m.yy += float64(y * y)
}

// N returns how many values were added.
func (m *Moments) N() int64 { return m.n }

// Sine is a fitted y(θ) = Mean + Cos·cos θ + Sin·sin θ, in the unit of y.
type Sine struct {
	Mean, Cos, Sin float64
	ResidualSD     float64 // root of the sum of squared residuals over N − 3; the rms error of IEEE Std 1057 divides by N
	N              int64
}

// At returns the value of the sine at the angle with cosine c and sine s.
func (f Sine) At(c, s float64) float64 {
	return f.Mean + float64(f.Cos*c) + float64(f.Sin*s)
}

// Solve fits the channel by least squares. ok is false, and the result zero,
// if there are fewer than 4 values, if values and angles are not equally many
// (a channel that misses samples needs a Gram of its own), if the angles cover
// less than [MinCoverage], or if a sum is not finite.
//
// The residual is a difference of sums: below about 1e-8 of the range of the
// values it is rounding noise.
func (g *Gram) Solve(m *Moments) (f Sine, ok bool) {
	b := g.Basis()
	return b.Solve(m)
}

// Basis is what the angles of a [Gram] give to the fit of every channel that was sampled at them. The zero value
// fits none.
type Basis struct {
	n   int64 // 0: the angles cover too little
	k   centred
	det float64
}

// Basis works that out once, for several channels.
func (g *Gram) Basis() Basis {
	if !(g.Coverage() >= MinCoverage) {
		return Basis{}
	}
	k := g.centre()
	return Basis{n: g.n, k: k, det: float64(k.cc*k.ss) - float64(k.cs*k.cs)}
}

// Solve is [Gram.Solve].
func (b *Basis) Solve(m *Moments) (f Sine, ok bool) {
	if m.n < 4 || m.n != b.n {
		return Sine{}, false
	}
	n, k, det := float64(b.n), &b.k, b.det
	y := m.y / n
	yc := m.yc/n - float64(k.c*y)
	ys := m.ys/n - float64(k.s*y)
	yy := m.yy/n - float64(y*y)

	f.N = b.n
	f.Cos = (float64(yc*k.ss) - float64(ys*k.cs)) / det
	f.Sin = (float64(ys*k.cc) - float64(yc*k.cs)) / det
	f.Mean = m.ref + (y - float64(f.Cos*k.c) - float64(f.Sin*k.s))
	rss := yy - float64(f.Cos*yc) - float64(f.Sin*ys)
	f.ResidualSD = math.Sqrt(float64(max(0, rss)*n) / (n - 3))
	if !finite(f.Mean) || !finite(f.Cos) || !finite(f.Sin) || !finite(f.ResidualSD) {
		return Sine{}, false
	}
	return f, true
}

// Sequences joins the sines of two axes at right angles, x and z, to the
// complex x + i·z = zero + positive·exp(iθ) + negative·exp(−iθ). A vector that
// stands still beside turning axes shows in positive, in negative one that the
// axes see turn the wrong way.
func Sequences(x, z Sine) (zero, positive, negative complex128) {
	return complex(x.Mean, z.Mean),
		complex((x.Cos+z.Sin)/2, (z.Cos-x.Sin)/2),
		complex((x.Cos-z.Sin)/2, (z.Cos+x.Sin)/2)
}

func finite(x float64) bool { return x-x == 0 }
