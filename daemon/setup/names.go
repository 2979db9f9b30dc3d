package setup

import (
	"slices"
	"strings"
	"unicode"

	"plumbline/checks"
)

// What names of messages and signals tell. All of it is common practice: the
// result is a guess that a person reads before it is used.

// token is a part of a name: "HubFL_Fx2" is Hub, FL, Fx, 2.
type token struct {
	text       string // lower case
	start, end int    // in bytes
}

// tokens splits a name at what is no letter or digit, between letters and
// digits, and where a capital begins a new word.
func tokens(name string) []token {
	var out []token
	runes := []rune(name)
	offset, start := 0, 0
	flush := func(end int) {
		if end > start {
			out = append(out, token{strings.ToLower(name[start:end]), start, end})
		}
	}
	for i, r := range runes {
		size := len(string(r))
		switch {
		case !unicode.IsLetter(r) && !unicode.IsDigit(r):
			flush(offset)
			start = offset + size
		case i > 0 && offset > start && wordBegins(runes, i):
			flush(offset)
			start = offset
		}
		offset += size
	}
	flush(offset)
	return out
}

// wordBegins reports whether a new word begins at a letter or digit.
func wordBegins(runes []rune, i int) bool {
	last, this := runes[i-1], runes[i]
	switch {
	case unicode.IsDigit(last) != unicode.IsDigit(this):
		return true
	case unicode.IsLower(last) && unicode.IsUpper(this):
		return true
	default: // the last capital of several begins the word that follows: WFx is W, Fx
		return unicode.IsUpper(last) && unicode.IsUpper(this) && i+1 < len(runes) && unicode.IsLower(runes[i+1])
	}
}

// mark is a word in a name that stands for a corner.
type mark struct {
	start, end int
	axle       int
	side       checks.Side
}

// replace puts {corner} in the place of the word.
func (m mark) replace(name string) string { return name[:m.start] + "{corner}" + name[m.end:] }

// marks finds the words for a corner in a name.
func marks(name string) []mark {
	pairs := map[string]mark{
		"fl": {axle: 1}, "vl": {axle: 1}, "lf": {axle: 1},
		"fr": {axle: 1, side: checks.Right}, "vr": {axle: 1, side: checks.Right}, "rf": {axle: 1, side: checks.Right},
		"rl": {axle: 2}, "hl": {axle: 2}, "lr": {axle: 2},
		"rr": {axle: 2, side: checks.Right}, "hr": {axle: 2, side: checks.Right},
	}
	axles := map[string]int{"front": 1, "vorn": 1, "vorne": 1, "rear": 2, "hinten": 2, "back": 2}
	sides := map[string]checks.Side{"left": checks.Left, "links": checks.Left, "right": checks.Right, "rechts": checks.Right}
	letters := map[string]checks.Side{"l": checks.Left, "r": checks.Right}
	for i := 1; i <= 9; i++ {
		axles[string(rune('0'+i))] = i
	}
	parts := tokens(name)
	var out []mark
	for i, t := range parts {
		if m, ok := pairs[t.text]; ok {
			m.start, m.end = t.start, t.end
			out = append(out, m)
			continue
		}
		if i+1 == len(parts) {
			continue
		}
		next := parts[i+1]
		joined := next.start == t.end
		m := mark{start: t.start, end: next.end}
		var isAxle, isSide bool
		if m.axle, isAxle = axles[t.text]; isAxle { // front_left, 1L
			if m.side, isSide = sides[next.text]; !isSide && joined {
				m.side, isSide = letters[next.text]
			}
		} else if m.axle, isAxle = axles[next.text]; isAxle { // left_front, L1
			if m.side, isSide = sides[t.text]; !isSide && joined {
				m.side, isSide = letters[t.text]
			}
		}
		if isAxle && isSide {
			out = append(out, m)
		}
	}
	return out
}

// guess is what a signal is taken for.
type guess struct {
	quantity checks.Quantity
	score    int  // 3: a usual name; 2: a telling word; 1: the unit alone
	noUnit   bool // the name says it, and there is no unit that would
}

// hint is a word that tells a quantity.
type hint struct {
	quantity checks.Quantity
	score    int
	words    string
}

// hints are the words by the dimension of the unit.
func hints(dimension string) []hint {
	switch dimension {
	case "force":
		return []hint{
			{checks.Fx, 3, "fx x"},
			{checks.Fy, 3, "fy y"},
			{checks.Fz, 3, "fz z"},
			{checks.Fx, 2, "long longitudinal lon"},
			{checks.Fy, 2, "lat lateral"},
			{checks.Fz, 2, "vert vertical normal"},
		}
	case "moment":
		return []hint{
			{checks.Mx, 3, "mx x"},
			{checks.My, 3, "my y"},
			{checks.Mz, 3, "mz z"},
			{checks.Mx, 2, "tilt overturn overturning"},
			{checks.My, 2, "drive brake torque"},
			{checks.Mz, 2, "steer steering align aligning"},
		}
	case "angle":
		return []hint{
			{checks.Camber, 3, "camber camb"},
			{checks.Slip, 3, "slip beta"},
			{checks.Angle, 3, "theta angle"},
			{checks.Angle, 2, "pos position phi rot rotation winkel enc encoder"},
			{checks.Angle, 1, ""},
		}
	case "rotation":
		return []hint{{checks.Spin, 3, "speed spin rpm omega"}, {checks.Spin, 2, "rev n rate w"}, {checks.Spin, 1, ""}}
	case "temperature":
		return []hint{{checks.Temperature, 3, "temp temperature"}, {checks.Temperature, 1, ""}}
	case "voltage":
		return []hint{{checks.Supply, 3, "volt voltage supply ubat batt battery"}, {checks.Supply, 1, ""}}
	case "length":
		return []hint{
			{checks.HeightOuter, 3, "outer hout out outside"},
			{checks.HeightInner, 3, "inner hin in inside"},
			{checks.HeightThird, 2, "third mid middle"},
			{checks.HeightOuter, 1, "1"},
			{checks.HeightInner, 1, "2"},
			{checks.HeightThird, 1, "3"},
		}
	case "speed":
		return []hint{
			{checks.SpeedX, 3, "vx x"},
			{checks.SpeedY, 3, "vy y"},
			{checks.SpeedX, 2, "vfwd fwd forward long longitudinal"},
			{checks.SpeedY, 2, "vside side lat lateral transverse"},
		}
	case "number":
		return []hint{
			{checks.Serial, 3, "serial sn"},
			{checks.Counter, 3, "counter cnt seq sequence"},
			{checks.Status, 3, "status flags"},
			{checks.Serial, 2, "id"},
			{checks.Counter, 2, "count alive rolling"},
			{checks.Status, 2, "state error err health diag"},
		}
	}
	return nil
}

// recognise guesses the quantity of a signal from its name and the dimension
// of its unit. The second result is false where nothing tells.
func recognise(signal, dimension string) (guess, bool) {
	words := tokens(signal)
	best := guess{}
	for _, h := range hints(dimension) {
		told := h.words == ""
		for _, w := range words {
			told = told || slices.Contains(strings.Fields(h.words), w.text)
		}
		if told && h.score > best.score {
			best = guess{quantity: h.quantity, score: h.score}
		}
	}
	if best.score == 0 && (dimension == "number" || dimension == "") {
		for _, w := range words { // Fx without a unit is still Fx
			for q := checks.Fx; q <= checks.Mz; q++ {
				if w.text == q.String() {
					return guess{quantity: q, score: 3, noUnit: true}, true
				}
			}
		}
	}
	return best, best.score > 0
}
