package fit

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// PoissonAtLeast is the probability of n events or more where mean are expected; NaN where mean is negative or NaN.
func PoissonAtLeast(n int64, mean float64) float64 {
	switch {
	case !(mean >= 0):
		return math.NaN()
	case n <= 0:
		return 1
	}
	return mathext.GammaIncReg(float64(n), mean)
}

// PoissonInterval returns the bounds of the mean of which n events are seen, each missed with a probability of
// 2.5 %: the exact interval of 95 % (Garwood, Biometrika 28, 1936). The lower one is 0 for no event.
func PoissonInterval(n int64) (lower, upper float64) {
	const tail = 0.025
	if n < 0 {
		return math.NaN(), math.NaN()
	}
	if n > 0 {
		lower = mathext.GammaIncRegInv(float64(n), tail)
	}
	return lower, mathext.GammaIncRegInv(float64(n)+1, 1-tail)
}
