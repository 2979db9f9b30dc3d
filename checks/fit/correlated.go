package fit

import "math"

// Correlated returns the combined standard uncertainty of y = f(x₁ … xₙ) where the
// inputs depend on each other (JCGM 100:2008, 5.2.2, equation 16):
//
//	u² = Σᵢ Σⱼ cᵢ·cⱼ·uᵢ·uⱼ·rᵢⱼ
//
// with the sensitivities c, the standard uncertainties u ≥ 0 and the correlations r,
// −1…1, asked for i < j alone. For a difference c is (1, −1): what both share with
// r = 1 leaves the difference of its two uncertainties, nothing where they are alike.
// It is NaN where c and u are not equally many or a number is not finite.
func Correlated(c, u []float64, r func(i, j int) float64) float64 {
	if len(c) != len(u) {
		return math.NaN()
	}
	var sum float64
	for i := range c {
		a := float64(c[i] * u[i])
		sum += float64(a * a)
		for j := i + 1; j < len(c); j++ {
			sum += float64(float64(2*a) * float64(float64(c[j]*u[j])*r(i, j)))
		}
	}
	if math.IsInf(sum, 0) {
		return math.NaN()
	}
	return math.Sqrt(max(sum, 0)) // what cancels may leave −0 by rounding; NaN stays NaN
}
