package simulated

import (
	"math"
	"math/rand/v2"
)

// housekeeping is what a corner's electronics tell of themselves.
type housekeeping struct {
	serial           uint32
	status           float64 // raw; 0 is well
	supplyV, dipV    float64 // mean; while it dips, 0: never
	temperatureC     float64 // at the start
	warmingCPerS     float64
	temperatureExtra float64 // °C, of a fault
	warmsK           float64 // K, by the end of the drive, of a fault
}

const (
	dipEach = 8.0 // s
	dipFor  = 0.7 // s: longer than the state message takes for all its pages
)

func (h *housekeeping) supply(t float64, rng *rand.Rand) float64 {
	v := h.supplyV + 0.02*rng.NormFloat64()
	if h.dipV != 0 && math.Mod(t, dipEach) >= dipEach-dipFor {
		v += h.dipV - h.supplyV
	}
	return v
}

func (h *housekeeping) temperature(t, driven float64, rng *rand.Rand) float64 {
	// Electronics warm towards a bound: 25 K above the start.
	const bound = 25
	warmed := h.warmingCPerS * t
	warmed = bound * warmed / (bound + warmed)
	return h.temperatureC + h.temperatureExtra + h.warmsK*driven + warmed + 0.05*rng.NormFloat64()
}
