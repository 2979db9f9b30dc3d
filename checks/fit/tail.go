package fit

import "math"

// ChiSquareTail2 returns the probability that χ² with 2 degrees of freedom
// exceeds t: exp(−t/2), 1 for t < 0, NaN for NaN.
func ChiSquareTail2(t float64) float64 { return min(1, math.Exp(-t/2)) }

// NormalTail returns the probability that a standard normal value exceeds z.
func NormalTail(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }

// RayleighP returns the probability that n angles without a preferred direction
// show a mean resultant length of at least length (Rayleigh test, series in 1/n
// of Mardia and Jupp 2000, 6.3.1). It is for angles that were drawn evenly: what
// happens on a wheel that turns unevenly needs [Bivariate.Distance2] against the
// angles at which it could have happened. It is NaN for n < 1 and for a length outside 0…1.
func RayleighP(n int64, length float64) float64 {
	if n < 1 || !(length >= 0 && length <= 1) {
		return math.NaN()
	}
	k := float64(n)
	z := k * length * length
	first := z * (2 - z) / (4 * k)
	second := z * (24 - z*(132-z*(76-9*z))) / (288 * k * k)
	return max(0, min(1, math.Exp(-z)*(1+first-second)))
}
