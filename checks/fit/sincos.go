package fit

import "math"

// steps is how many angles of a turn the table of Sincos holds.
const steps = 512

// table holds sine and cosine of k·2π/steps.
type table [steps][2]float64

//nolint:gochecknoglobals // read-only, computed once
var sines = func() (t table) {
	for k := range t {
		t[k][0], t[k][1] = math.Sincos(float64(k) * (2 * math.Pi / steps))
	}
	return t
}()

// Sincos returns the sine and cosine of an angle, rad, some three times as fast as package math and to
// 1e-15 of it up to 10⁶ rad; beyond that, and of NaN and infinity, it is what package math says.
//
// The angle is the nearest entry of a table plus a rest of at most π/512, of which the first terms of
// the series (Abramowitz and Stegun, 4.3.65 and 4.3.66) leave out less than 1e-16; the two are added by
// the addition theorems (ibid., 4.3.16 and 4.3.17). Products are rounded before they are added,
// so that all processors say the same.
func Sincos(rad float64) (sin, cos float64) {
	const (
		perStep = steps / (2 * math.Pi)
		// 2π/steps in two parts; the product of high and 10⁸ steps is exact.
		high = 0x1.921fb4p-7
		low  = 2*math.Pi/steps - high
	)
	if !(math.Abs(rad) < 1e6) {
		return math.Sincos(rad)
	}
	// Adding and taking away 1.5·2⁵² rounds to a whole number.
	const round = 0x1.8p52
	k := float64(float64(rad*perStep)+round) - round
	r := (rad - float64(k*high)) - float64(k*low)
	e := &sines[int(k)&(steps-1)]
	r2 := float64(r * r)
	s := float64(r * (1 - float64(r2*(1.0/6-float64(r2*(1.0/120))))))
	c := float64(r2 * (0.5 - float64(r2*(1.0/24)))) // 1 − cos r
	sin = e[0] + (float64(e[1]*s) - float64(e[0]*c))
	cos = e[1] - (float64(e[0]*s) + float64(e[1]*c))
	return sin, cos
}
