package fit

import "math"

// T95 returns the two-sided 95 % factor of Student's t for dof degrees of
// freedom, a real number: 12.706 for 1, 1.959963985 for +Inf (JCGM 100:2008,
// Table G.2). Below 1 nothing useful is known and it is +Inf. Of NaN it is NaN.
func T95(dof float64) float64 { return StudentT(0.95, dof) }

// StudentT returns the factor t such that Student's t with dof degrees of
// freedom lies within ±t with probability p, 0…1. It is right to 1e-8 of its
// value, rounded to nine decimals. It is +Inf for dof < 1 and for p = 1, NaN
// for other p outside 0…1 and for NaN.
func StudentT(p, dof float64) float64 {
	switch {
	case !(p >= 0 && p <= 1) || math.IsNaN(dof):
		return math.NaN()
	case p == 0:
		return 0
	case p == 1 || dof < 1:
		return math.Inf(1)
	}
	t := cornishFisher(math.Sqrt2*math.Erfinv(p), dof)
	if dof < 1e4 {
		t = newtonT(t, 1-p, dof)
	}
	return math.Round(t*1e9) / 1e9
}

// cornishFisher expands t about the normal quantile z in powers of 1/dof
// (Abramowitz and Stegun 26.7.5). Above 1e4 degrees of freedom what is left
// out is below rounding.
func cornishFisher(z, dof float64) float64 {
	if math.IsInf(dof, 1) {
		return z
	}
	z2 := z * z
	g1 := z * (z2 + 1) / 4
	g2 := z * ((5*z2+16)*z2 + 3) / 96
	g3 := z * (((3*z2+19)*z2+17)*z2 - 15) / 384
	return z + (g1+(g2+g3/dof)/dof)/dof
}

// newtonT solves Q(t) = alpha, Q both tails of Student's t, starting at t. It
// works in logarithms, where the tail is nearly straight whatever its weight.
func newtonT(t, alpha, dof float64) float64 {
	const half = 0.5
	a := dof / 2
	la, _ := math.Lgamma(a)
	lab, _ := math.Lgamma(a + half)
	lnBeta := la + math.Log(math.Pi)/2 - lab
	u := math.Log(t)
	for range 60 {
		t = math.Exp(u)
		r := t / math.Sqrt(dof) * (t / math.Sqrt(dof)) // t²/dof
		x, y := 1/(1+r), r/(1+r)
		front := math.Exp(-a*math.Log1p(r)-lnBeta) * math.Sqrt(y)
		var q float64
		if x < (a+1)/(a+half+2) {
			q = front * betaFraction(a, half, x) / a
		} else {
			q = 1 - front*betaFraction(half, a, y)/half
		}
		if !(q > 0 && front > 0) { // beyond what can be told from zero
			return t
		}
		d := math.Log(q/alpha) * q / (2 * front)
		d = max(-2, min(2, d))
		u += d
		if math.Abs(d) < 1e-7 { // each step squares what is left: 1e-14
			break
		}
	}
	return math.Exp(u)
}

// betaFraction evaluates the continued fraction of the incomplete beta
// function (DLMF 8.17.22) by the modified Lentz method. It converges fast for
// x < (a+1)/(a+b+2).
func betaFraction(a, b, x float64) float64 {
	const tiny = 1e-300
	away := func(v float64) float64 { // from zero
		if math.Abs(v) < tiny {
			return tiny
		}
		return v
	}
	c := 1.0
	d := 1 / away(1-(a+b)*x/(a+1))
	h := d
	for k := 1; k <= 1000; k++ {
		m := float64(k)
		even := m * (b - m) * x / ((a + 2*m - 1) * (a + 2*m))
		d = 1 / away(1+even*d)
		c = away(1 + even/c)
		h *= d * c
		odd := -(a + m) * (a + b + m) * x / ((a + 2*m) * (a + 2*m + 1))
		d = 1 / away(1+odd*d)
		c = away(1 + odd/c)
		h *= d * c
		if math.Abs(d*c-1) < 1e-15 {
			break
		}
	}
	return h
}
