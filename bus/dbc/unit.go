package dbc

import (
	"math"
	"slices"
	"strings"
)

// Conversion turns a value in some unit into SI: SI value = Factor·given + Offset.
type Conversion struct {
	SI        string  // N, N·m, rad, rad/s, °C, V, m, m/s, or 1
	Factor    float64 // SI units in one of the given
	Offset    float64 // in SI, as of °F to °C
	Dimension string  // force, moment, angle, rotation, temperature, voltage, length, speed, number
}

// unit is one unit with its spellings. Blanks are left out, "·" stands for any
// multiplication sign.
type unit struct {
	Conversion
	name  string   // usual spelling; it is one of the others
	exact []string // only so: another case is another unit (mV MV, Nm nm, kN kn)
	any   []string // in any case
}

// units lists what is known. Factors are exact: lbf, ft, in: NIST SP 811
// (2008) B.8, from the international pound 0.45359237 kg and yard 0.9144 m (1959) and
// standard gravity 9.80665 m/s² (3rd CGPM 1901); mph from the mile of 1760 yards.
func units() []unit {
	const (
		lbf  = 4.4482216152605 // N
		foot = 0.3048          // m
		turn = 2 * math.Pi     // rad
	)
	c := func(dimension, si string, factor float64) Conversion {
		return Conversion{SI: si, Factor: factor, Dimension: dimension}
	}
	celsius := func(offset float64) Conversion {
		return Conversion{SI: "°C", Factor: 1, Offset: offset, Dimension: "temperature"}
	}
	return []unit{
		{c("force", "N", 1), "N", []string{"N"}, []string{"newton"}},
		{c("force", "N", 1000), "kN", []string{"kN"}, nil},
		{c("force", "N", 10), "daN", []string{"daN"}, nil},
		{c("force", "N", lbf), "lbf", nil, []string{"lbf"}},

		{c("moment", "N·m", 1), "N·m", []string{"Nm", "N·m", "N.m"}, nil},
		{c("moment", "N·m", 1000), "kN·m", []string{"kNm", "kN·m", "kN.m"}, nil},
		{c("moment", "N·m", lbf*foot), "lbf·ft", nil, []string{"lbf.ft", "lbf·ft", "lbf-ft", "lbfft", "ft.lbf", "ft·lbf", "ft-lbf", "ftlbf"}},

		{c("angle", "rad", 1), "rad", nil, []string{"rad"}},
		{c("angle", "rad", turn/360), "deg", nil, []string{"deg", "°", "degree", "degrees"}},

		{c("rotation", "rad/s", 1), "rad/s", nil, []string{"rad/s"}},
		{c("rotation", "rad/s", turn/360), "deg/s", nil, []string{"deg/s", "°/s"}},
		{c("rotation", "rad/s", turn/60), "rpm", nil, []string{"rpm", "1/min", "r/min", "rev/min", "u/min", "min-1", "min^-1"}},
		{c("rotation", "rad/s", turn), "Hz", nil, []string{"Hz", "rev/s"}},

		{celsius(0), "°C", []string{"C"}, []string{"°C", "degC"}},
		{celsius(-273.15), "K", []string{"K"}, []string{"kelvin"}},

		{c("voltage", "V", 1), "V", []string{"V"}, []string{"volt"}},
		{c("voltage", "V", 0.001), "mV", []string{"mV"}, nil},

		{c("length", "m", 1), "m", []string{"m"}, nil},
		{c("length", "m", 0.01), "cm", []string{"cm"}, nil},
		{c("length", "m", 0.001), "mm", []string{"mm"}, nil},
		{c("length", "m", 1e-6), "µm", []string{"um", "µm"}, nil},

		{c("speed", "m/s", 1), "m/s", nil, []string{"m/s"}},
		{c("speed", "m/s", 1/3.6), "km/h", nil, []string{"km/h", "kph", "kmh", "kmph"}},
		{c("speed", "m/s", 0.44704), "mph", nil, []string{"mph", "mi/h"}},

		{c("number", "1", 0.01), "%", nil, []string{"%", "percent"}},
		{c("number", "1", 1), "none", []string{"", "-", "1"}, []string{"none"}},
	}
}

// Unit finds the conversion of a unit as a DBC file states it. Blanks do not
// count, nor does the case where it can mean only one thing: "RPM" is known, but
// neither "MV" nor "nm", which are megavolt and nanometre, nor "KN", which may
// be knots. The signs ° µ · may come as Windows-1252 or UTF-8, in their
// look-alikes º μ ⋅ ×, and as UTF-8 that was read as Windows-1252.
//
// Hz is taken as turns per second. Text without unit, "-" and "1" are a number.
func Unit(text string) (Conversion, bool) {
	text = plainUnit(text)
	for _, u := range units() {
		if slices.Contains(u.exact, text) {
			return u.Conversion, true
		}
	}
	for _, u := range units() {
		if slices.ContainsFunc(u.any, func(spelling string) bool { return strings.EqualFold(spelling, text) }) {
			return u.Conversion, true
		}
	}
	return Conversion{}, false
}

// Units returns the usual spelling of the units of a dimension, for messages
// that say what was expected; nil if there is no such dimension.
func Units(dimension string) []string {
	var names []string
	for _, u := range units() {
		if u.Dimension == dimension {
			names = append(names, u.name)
		}
	}
	return names
}

// plainUnit decodes the text, drops blanks and replaces look-alikes.
func plainUnit(text string) string {
	text = decodeText([]byte(text))
	return strings.NewReplacer(
		"Â°", "°", "Âµ", "µ", "Â·", "·", "Îœ", "µ", "Î¼", "µ",
		"º", "°", "˚", "°", "μ", "µ", "⋅", "·", "∙", "·", "×", "·", "*", "·",
		" ", "", "\t", "", "\u00A0", "", "\u202F", "", "\u2009", "",
	).Replace(text)
}
