package report

import (
	"math"
	"strconv"
)

// unit is a unit that people read, and what turns SI into it.
type unit struct {
	name   string
	factor float64
}

// readable returns the unit that a person reads for a unit of a result.
func readable(si string) unit {
	switch si {
	case "rad":
		return unit{"°", 180 / math.Pi}
	case "rad/rev", "rad/turn", "rad per revolution", "rad per turn":
		return unit{"° per turn", 180 / math.Pi}
	case "rad/s":
		return unit{"°/s", 180 / math.Pi}
	case "m":
		return unit{"mm", 1000}
	case "m/s":
		return unit{"km/h", 3.6}
	case "s":
		return unit{"ms", 1000}
	case "1":
		return unit{"", 1}
	}
	return unit{si, 1}
}

// quantity writes value ± uncertainty in u, without the unit: the uncertainty
// with two significant digits and the value to the same place (JCGM 100, 7.2.6).
// Where the uncertainty is not known the value has four significant digits.
func quantity(value float64, uncertainty *float64, u unit) string {
	value *= u.factor
	if uncertainty == nil {
		return significant(value, 4)
	}
	spread := math.Abs(*uncertainty * u.factor)
	if spread == 0 {
		return significant(value, 4) + " ± 0"
	}
	places := places(spread, 2)
	return fixed(value, places) + " ± " + fixed(spread, places)
}

// bound writes a limit, which is a round number in the reader's unit.
func bound(limit float64, u unit) string {
	return fixed(roundTo(limit*u.factor, 6), -1)
}

func significant(v float64, digits int) string {
	if v == 0 {
		return "0"
	}
	return fixed(v, places(v, digits))
}

// places is how many decimals show v with so many significant digits, 0 to 9.
func places(v float64, digits int) int {
	exponent := int(math.Floor(math.Log10(math.Abs(v))))
	return min(max(digits-1-exponent, 0), 9)
}

// fixed writes v with so many decimals (−1: as many as it has), a minus sign where it is below zero, and
// never a negative zero.
func fixed(v float64, places int) string {
	text := strconv.FormatFloat(v, 'f', places, 64)
	if text[0] == '-' {
		if back, err := strconv.ParseFloat(text, 64); err == nil && back == 0 {
			return text[1:]
		}
		return "−" + text[1:]
	}
	return text
}

// roundTo rounds to significant digits, so that 1° in radians and back is 1.
func roundTo(v float64, digits int) float64 {
	text := strconv.FormatFloat(v, 'e', digits-1, 64)
	back, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return v
	}
	return back
}
