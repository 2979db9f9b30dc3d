package checks

import (
	"math"
	"strconv"
	"strings"
)

// num writes a number with so many decimals, without a minus before zero.
func num(v float64, decimals int) string {
	v = math.Max(math.Min(v, math.MaxFloat64), -math.MaxFloat64)
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if math.Abs(v) >= 1e15 {
		s = strconv.FormatFloat(v, 'g', 6, 64)
	}
	if strings.HasPrefix(s, "-") && strings.Trim(s, "-0.") == "" {
		s = s[1:]
	}
	return strings.Replace(s, "-", "−", 1)
}

// show writes a value in the unit in which a person reads it: degrees for radians,
// milliseconds for short times, millimetres for heights.
func show(v float64, unit string) string {
	switch unit {
	case "N":
		return num(v, 1) + " N"
	case "N·m":
		return num(v, 2) + " N·m"
	case "rad":
		return num(v*180/math.Pi, 2) + "°"
	case "s":
		if math.Abs(v) < 1 {
			return num(v*1e3, 1) + " ms"
		}
		return num(v, 1) + " s"
	case "m":
		return num(v*1e3, 1) + " mm"
	case "":
		return num(v, 3)
	case "percent":
		return num(v*100, 1) + " %"
	}
	return num(v, 2) + " " + unit
}

// within writes "x ± U" with the unit once.
func within(v, u float64, unit string) string {
	a, b := show(v, unit), show(u, unit)
	i := strings.LastIndexByte(a, ' ')
	k := strings.LastIndexByte(b, ' ')
	if i < 0 || k < 0 || a[i:] != b[k:] {
		return a + " ± " + b
	}
	return a[:i] + " ± " + b
}

// plural writes "1 turn", "3 turns".
func plural(n int64, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.FormatInt(n, 10) + " " + many
}

// list joins names as people do: "FL", "FL and RR", "FL, FR and RR".
func list(names []string) string {
	switch len(names) {
	case 0:
		return ""
	case 1:
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// since writes how long after the first frame something was.
func (j *Judge) since(at int64) string {
	return num(float64(at-j.first)*1e-9, 1) + " s after the start"
}

// significant rounds to six digits. Results are judged as they are printed, so that
// the last bits of a machine's arithmetic never show.
func significant(v float64) float64 {
	const digits = 6
	// A whole number of six digits times or by a power of ten, all three exact, is rounded once, as a decimal
	// is that is read; where the seventh digit is a 5, or the number beyond these powers, it is written and read.
	if a := math.Abs(v); a >= 1e-9 && a < 1e12 {
		_, two := math.Frexp(a)
		ten := (two*1233)>>12 - 1 // log₁₀ 2 is 1233/4096: of a's first digit or of the one above it
		for a >= powersOfTen[ten+1+firstPower] {
			ten++
		}
		shift := digits - 1 - ten
		var x float64
		if shift >= 0 {
			x = v * powersOfTen[shift+firstPower]
		} else {
			x = v / powersOfTen[-shift+firstPower]
		}
		n := math.Round(x)
		if math.Abs(math.Abs(x-n)-0.5) > 1e-6 {
			if shift >= 0 {
				return n / powersOfTen[shift+firstPower]
			}
			return n * powersOfTen[-shift+firstPower]
		}
	}
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', digits, 64), 64)
	if err != nil {
		return v
	}
	return r
}

// firstPower is where 1 stands among the powers of ten; what is above it is exact.
const firstPower = 12

//nolint:gochecknoglobals // a table that is only read
var powersOfTen = [...]float64{
	1e-12, 1e-11, 1e-10, 1e-9, 1e-8, 1e-7, 1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 1e-1,
	1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
}

// known returns v as a Number, missing if it is not finite.
func known(v float64) Number {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Number{}
	}
	v = significant(v)
	if v == 0 {
		v = 0 // never −0
	}
	return Number{Value: v, Known: true}
}
