package fit

import (
	"fmt"
	"math"
)

// Regression is the result of a linear least squares fit.
type Regression struct {
	Coef       []float64
	SE         []float64 // standard uncertainty of each coefficient, from the residuals
	ResidualSD float64   // over DOF
	DOF        int       // observations − coefficients
}

// dependent is the share of a column that must be left after the others are
// taken off it. Below, fewer than about four digits of a coefficient are real.
const dependent = 1e-12

// LeastSquares fits y = Σ Coef[j]·columns[j] by Householder QR with one step of
// iterative refinement. Each column is as long as y, an intercept is a column
// of ones, and there must be more observations than columns. Nothing is
// changed in place. It refuses values that are not finite and a column that
// the columns before it explain. It is made for small problems: time grows
// with observations × columns².
func LeastSquares(columns [][]float64, y []float64) (Regression, error) {
	n, p := len(y), len(columns)
	if p == 0 || n <= p {
		return Regression{}, fmt.Errorf("fit: least squares: %d observations for %d coefficients, at least one more is needed", n, p)
	}
	for i, v := range y {
		if !finite(v) {
			return Regression{}, fmt.Errorf("fit: least squares: observation %d is %g, not finite", i, v)
		}
	}
	q := qr{v: make([][]float64, p), r: make([][]float64, p)}
	scale := make([]float64, p)
	for j, col := range columns {
		if len(col) != n {
			return Regression{}, fmt.Errorf("fit: least squares: column %d has %d values, %d observations", j, len(col), n)
		}
		v := make([]float64, n)
		for i, x := range col {
			if !finite(x) {
				return Regression{}, fmt.Errorf("fit: least squares: column %d, value %d is %g, not finite", j, i, x)
			}
			scale[j] = max(scale[j], math.Abs(x))
		}
		if scale[j] == 0 {
			return Regression{}, fmt.Errorf("fit: least squares: column %d is all zero", j)
		}
		_, exp := math.Frexp(scale[j])
		scale[j] = math.Ldexp(1, -exp) // a power of two: scaling does not round
		for i, x := range col {
			v[i] = x * scale[j]
		}
		if !q.push(j, v) {
			return Regression{}, fmt.Errorf("fit: least squares: column %d depends on those before it", j)
		}
	}

	coef := q.solve(y)
	rest := q.residual(columns, scale, y, coef)
	for j, d := range q.solve(rest) {
		coef[j] += d
	}
	rest = q.residual(columns, scale, y, coef)

	out := Regression{Coef: coef, SE: q.unitSE(), DOF: n - p}
	out.ResidualSD = norm(rest) / math.Sqrt(float64(n-p))
	for j := range coef {
		out.Coef[j] *= scale[j]
		out.SE[j] *= out.ResidualSD * scale[j]
	}
	return out, nil
}

// qr is a QR decomposition by Householder reflections: v[j] holds the j-th
// reflection vector from row j on, scaled to norm √2, r[j] column j of R.
type qr struct{ v, r [][]float64 }

// push takes column j in, which it keeps, and tells whether it is independent.
func (q *qr) push(j int, col []float64) bool {
	whole := norm(col)
	for k := range j {
		reflect(q.v[k], col[k:])
	}
	tail := col[j:]
	alpha := norm(tail)
	if alpha <= float64(dependent*whole) {
		return false
	}
	if tail[0] > 0 {
		alpha = -alpha // the sign that does not cancel
	}
	q.r[j] = append(append([]float64(nil), col[:j]...), alpha)
	tail[0] -= alpha
	k := math.Sqrt2 / norm(tail)
	for i := range tail {
		tail[i] *= k
	}
	q.v[j] = tail
	return true
}

// solve returns the coefficients of the scaled columns for the right side y.
func (q *qr) solve(y []float64) []float64 {
	w := append([]float64(nil), y...)
	for k, v := range q.v {
		reflect(v, w[k:])
	}
	p := len(q.r)
	x := w[:p:p]
	for j := p - 1; j >= 0; j-- {
		x[j] /= q.r[j][j]
		for i := range j {
			x[i] -= float64(q.r[j][i] * x[j])
		}
	}
	return x
}

// residual returns y − Σ coef·column. Products are split exactly and the
// smaller parts summed apart, so that refinement has something to gain from.
func (q *qr) residual(columns [][]float64, scale, y, coef []float64) []float64 {
	out := make([]float64, len(y))
	for i := range y {
		sum, low := y[i], 0.0
		for j, col := range columns {
			x := col[i] * scale[j]
			prod := -float64(x * coef[j])
			low += math.FMA(-x, coef[j], -prod)
			t := sum + prod
			b := t - sum
			low += (sum - (t - b)) + (prod - b)
			sum = t
		}
		out[i] = sum + low
	}
	return out
}

// unitSE returns the roots of the diagonal of (RᵀR)⁻¹: the norms of the rows
// of R⁻¹.
func (q *qr) unitSE() []float64 {
	p := len(q.r)
	sum := make([]float64, p)
	for c := range p { // column c of R⁻¹
		x := make([]float64, c+1)
		x[c] = 1
		for j := c; j >= 0; j-- {
			x[j] /= q.r[j][j]
			for i := range j {
				x[i] -= float64(q.r[j][i] * x[j])
			}
			sum[j] += float64(x[j] * x[j])
		}
	}
	for j := range sum {
		sum[j] = math.Sqrt(sum[j])
	}
	return sum
}

// reflect applies the reflection 1 − v·vᵀ to w.
func reflect(v, w []float64) {
	var dot float64
	for i := range v {
		dot += float64(v[i] * w[i])
	}
	for i := range v {
		w[i] -= float64(dot * v[i])
	}
}

// norm returns the Euclidean norm.
func norm(x []float64) float64 {
	var sum float64
	for _, v := range x {
		sum += float64(v * v)
	}
	return math.Sqrt(sum)
}
