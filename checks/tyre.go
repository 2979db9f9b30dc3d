package checks

import (
	"math"
	"regexp"
	"strconv"
)

// tyre is the size in a designation: section width in mm, aspect ratio in percent, rim diameter code.
type tyre struct{ widthMm, aspect, rim float64 }

// parseTyre reads the size in a designation such as 225/75 R16 or LT225/75R16C 121/120R; radial
// tyres only, as the rolling circumference is known for them.
func parseTyre(s string) (tyre, bool) {
	m := regexp.MustCompile(`^(?:P|LT)?(\d{3})/(\d{2,3}) ?Z?R ?(\d{2}(?:\.5)?)C?(?: .*)?$`).FindStringSubmatch(s)
	if m == nil {
		return tyre{}, false
	}
	var t tyre
	for k, p := range []*float64{&t.widthMm, &t.aspect, &t.rim} {
		v, err := strconv.ParseFloat(m[k+1], 64)
		if err != nil || v <= 0 {
			return tyre{}, false
		}
		*p = v
	}
	return t, true
}

// rimMm is the nominal rim diameter of a code, mm: the tables of UN Regulations No. 30 and 54 round
// 25.4 mm an inch to whole millimetres, halves up (16: 406, 17.5: 445; from memory).
func (t tyre) rimMm() float64 { return math.Floor(float64(25.4*t.rim) + 0.5) }

// outerM is the nominal outer diameter, m: D = d + 2·S·(aspect/100) (UN Regulation No. 30).
func (t tyre) outerM() float64 { return (t.rimMm() + 2*t.widthMm*t.aspect/100) / 1000 }

// rollingCircumference is the way rolled per turn over the outer diameter, of radial passenger tyres at
// 60 km/h (ETRTO; from memory).
const rollingCircumference = 3.05

// radiusM is the nominal rolling radius, m.
func (t tyre) radiusM() float64 { return rollingCircumference * t.outerM() / (2 * math.Pi) }

// nominalRadii returns the nominal rolling radius of each corner's tyre, m; 0: not known.
func nominalRadii(corners []Corner) []float64 {
	radii := make([]float64, len(corners))
	for i := range corners {
		if t, ok := parseTyre(corners[i].Tyre); ok {
			radii[i] = t.radiusM()
		}
	}
	return radii
}

// radiusM returns the nominal rolling radius of corner i's tyre, m.
func (v *view) radiusM(i int) (float64, bool) { return v.rolls.radii[i], v.rolls.radii[i] > 0 }
