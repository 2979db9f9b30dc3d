package fit

import "math"

// Part is one part of an uncertainty.
type Part struct {
	U   float64 // standard uncertainty, ≥ 0
	DOF float64 // degrees of freedom; +Inf where U is known and not estimated (type B)
}

// TypeB returns the part of a standard uncertainty that is taken as known.
func TypeB(u float64) Part { return Part{U: u, DOF: math.Inf(1)} }

// Rectangular returns the standard uncertainty of a value that lies anywhere
// within ±halfWidth, halfWidth/√3 (JCGM 100:2008, 4.3.7).
func Rectangular(halfWidth float64) float64 { return halfWidth / math.Sqrt(3) }

// Combine returns the root sum of squares of independent parts and its
// effective degrees of freedom after Welch and Satterthwaite (JCGM 100:2008,
// G.4.1). They are a real number: the table's habit of rounding down is not
// needed with [T95]. A negative or NaN part, or one that is not finite, makes
// both NaN. Without parts it is 0 with +Inf.
func Combine(parts ...Part) (u, dof float64) {
	var largest float64
	for _, p := range parts {
		if !(p.U >= 0) || math.IsInf(p.U, 1) || math.IsNaN(p.DOF) {
			return math.NaN(), math.NaN()
		}
		largest = max(largest, p.U)
	}
	if largest == 0 {
		return 0, math.Inf(1)
	}
	var sum, fourth float64 // in units of the largest: u⁴ of small numbers would vanish
	for _, p := range parts {
		if p.U == 0 {
			continue
		}
		q := p.U / largest
		q = float64(q * q)
		sum += q
		fourth += float64(q*q) / max(0, p.DOF)
	}
	return float64(largest * math.Sqrt(sum)), float64(sum*sum) / fourth
}

// Expanded returns the expanded uncertainty of independent parts for 95 %,
// [T95] of the effective degrees of freedom times the combined uncertainty.
// It is +Inf below one degree of freedom.
func Expanded(parts ...Part) float64 {
	u, dof := Combine(parts...)
	if u == 0 {
		return 0 // nothing to expand, whatever the factor
	}
	return float64(T95(dof) * u)
}
