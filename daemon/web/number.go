package web

import (
	"math"
	"strconv"
	"strings"
)

// degree is the one unit that stands close to its figure (ISO 80000-1, 7.1.4).
const degree = "°"

// with writes a figure with its unit.
func with(figure, unit string) string {
	if unit == degree {
		return figure + unit
	}
	return strings.TrimSpace(figure + " " + unit)
}

// unit is a unit that people read, and what turns SI into it.
type unit struct {
	name   string
	factor float64
	places int // decimals of a live value
}

// readable returns the unit that a person reads for a unit of a result.
func readable(si string) unit {
	switch si {
	case "N":
		return unit{"N", 1, 0}
	case "N·m":
		return unit{"N·m", 1, 1}
	case "rad":
		return unit{degree, 180 / math.Pi, 1}
	case "rad/rev", "rad/turn", "rad per revolution", "rad per turn":
		return unit{"°/rev", 180 / math.Pi, 2}
	case "rad/s":
		return unit{"°/s", 180 / math.Pi, 0}
	case "m":
		return unit{"mm", 1000, 0}
	case "m/s":
		return unit{"km/h", 3.6, 1}
	case "s":
		return unit{"ms", 1000, 1}
	case "1":
		return unit{"", 1, 3}
	case "count":
		return unit{"", 1, 0}
	}
	return unit{si, 1, 1}
}

// decimals writes v with so many decimals (−1: as many as it has), a minus sign and, in German, a comma.
func decimals(lang string, v float64, places int) string {
	text := strconv.FormatFloat(v, 'f', places, 64)
	if back, err := strconv.ParseFloat(text, 64); err == nil && back == 0 {
		text = strings.TrimPrefix(text, "-")
	}
	text = strings.Replace(text, "-", "−", 1)
	if lang == german {
		text = strings.Replace(text, ".", ",", 1)
	}
	return text
}

// coordinate writes v for a drawing.
func coordinate(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }

// measured writes value ± uncertainty in the unit that a person reads, the uncertainty with two significant
// digits and the value to the same place (JCGM 100, 7.2.6); without one the value has four digits.
func measured(lang string, value, uncertainty *float64, si string) string {
	if value == nil {
		return ""
	}
	u := readable(si)
	v := *value * u.factor
	var text string
	if uncertainty == nil || *uncertainty == 0 {
		text = decimals(lang, v, digits(v, 4))
	} else {
		spread := math.Abs(*uncertainty * u.factor)
		places := digits(spread, 2)
		text = decimals(lang, v, places)
		if u.name == degree {
			text += degree // as sentences write it: 3.9° ± 0.2°
		}
		text += " ± " + decimals(lang, spread, places)
	}
	return with(text, u.name)
}

// digits is how many decimals show v with so many significant digits, 0 to 6.
func digits(v float64, significant int) int {
	if v == 0 {
		return 0
	}
	return min(max(significant-1-int(math.Floor(math.Log10(math.Abs(v)))), 0), 6)
}

// bound writes a limit, which is a round number in the reader's unit.
func bound(lang string, limit *float64, si string) string {
	if limit == nil {
		return ""
	}
	u := readable(si)
	v, err := strconv.ParseFloat(strconv.FormatFloat(*limit*u.factor, 'g', 6, 64), 64)
	if err != nil {
		v = *limit * u.factor
	}
	return with(decimals(lang, v, -1), u.name)
}

// span writes a range of which either end may be missing.
func span(lang string, low, high *float64, unit string) string {
	text := ""
	switch {
	case low != nil && high != nil:
		text = decimals(lang, *low, -1) + " … " + decimals(lang, *high, -1)
	case low != nil:
		text = "≥ " + decimals(lang, *low, -1)
	case high != nil:
		text = "≤ " + decimals(lang, *high, -1)
	}
	return strings.TrimSpace(text + " " + unit)
}
