package fit

import "math"

// Welford keeps mean, variance and range of a stream without keeping the
// stream (Welford 1962). The zero value is empty.
type Welford struct {
	n        int64
	mean, m2 float64
	lo, hi   float64
}

// Add adds one value.
func (w *Welford) Add(x float64) {
	if w.n == 0 {
		w.lo, w.hi = x, x
	}
	w.n++
	d := x - w.mean
	w.mean += d / float64(w.n)
	w.m2 += float64(d * (x - w.mean))
	w.lo = min(w.lo, x)
	w.hi = max(w.hi, x)
}

// N returns how many values were added.
func (w *Welford) N() int64 { return w.n }

// Mean returns the mean, NaN without values.
func (w *Welford) Mean() float64 {
	if w.n == 0 {
		return math.NaN()
	}
	return w.mean
}

// Variance returns the variance over N − 1, NaN below two values.
func (w *Welford) Variance() float64 {
	if w.n < 2 {
		return math.NaN()
	}
	return w.m2 / float64(w.n-1)
}

// SD returns the standard deviation, NaN below two values.
func (w *Welford) SD() float64 { return math.Sqrt(w.Variance()) }

// Min returns the smallest value, NaN without values.
func (w *Welford) Min() float64 {
	if w.n == 0 {
		return math.NaN()
	}
	return w.lo
}

// Max returns the largest value, NaN without values.
func (w *Welford) Max() float64 {
	if w.n == 0 {
		return math.NaN()
	}
	return w.hi
}

// Bivariate keeps means and covariance of a stream of pairs, such as the real
// and imaginary part of a complex value or (cos θ, sin θ). The zero value is
// empty.
type Bivariate struct {
	n             int64
	x, y          float64
	sxx, sxy, syy float64
}

// Add adds one pair.
func (b *Bivariate) Add(x, y float64) {
	b.n++
	n := float64(b.n)
	dx, dy := x-b.x, y-b.y
	b.x += dx / n
	b.y += dy / n
	b.sxx += float64(dx * (x - b.x))
	b.sxy += float64(dx * (y - b.y))
	b.syy += float64(dy * (y - b.y))
}

// Merge adds the pairs of o (Chan, Golub and LeVeque 1983).
func (b *Bivariate) Merge(o *Bivariate) {
	if o.n == 0 {
		return
	}
	if b.n == 0 {
		*b = *o
		return
	}
	n, k := float64(b.n), float64(o.n)
	dx, dy, w := o.x-b.x, o.y-b.y, n/(n+k)*k
	b.sxx += o.sxx + float64(float64(dx*dx)*w)
	b.sxy += o.sxy + float64(float64(dx*dy)*w)
	b.syy += o.syy + float64(float64(dy*dy)*w)
	b.x += float64(dx * (k / (n + k)))
	b.y += float64(dy * (k / (n + k)))
	b.n += o.n
}

// N returns how many pairs were added.
func (b *Bivariate) N() int64 { return b.n }

// Mean returns the means, NaN without pairs.
func (b *Bivariate) Mean() (x, y float64) {
	if b.n == 0 {
		return math.NaN(), math.NaN()
	}
	return b.x, b.y
}

// Covariance returns the covariance matrix over N − 1, NaN below two pairs.
func (b *Bivariate) Covariance() (xx, xy, yy float64) {
	if b.n < 2 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	k := float64(b.n - 1)
	return b.sxx / k, b.sxy / k, b.syy / k
}

// Distance2 returns the squared Mahalanobis distance of a point from the mean,
// (p − m)ᵀ·C⁻¹·(p − m). n times that of the mean of n independent pairs is χ²
// with 2 degrees of freedom. It is NaN below three pairs
// or where the pairs lie on a line.
func (b *Bivariate) Distance2(x, y float64) float64 {
	det := float64(b.sxx*b.syy) - float64(b.sxy*b.sxy)
	if b.n < 3 || !(det > float64(1e-14*float64(b.sxx*b.syy))) {
		return math.NaN()
	}
	dx, dy := x-b.x, y-b.y
	q := float64(float64(dx*dx)*b.syy) - 2*float64(float64(dx*dy)*b.sxy) + float64(float64(dy*dy)*b.sxx)
	return q / det * float64(b.n-1)
}
