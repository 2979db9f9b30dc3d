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
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	if err != nil {
		return v
	}
	return r
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
