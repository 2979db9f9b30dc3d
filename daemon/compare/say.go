package compare

import (
	"math"
	"strconv"
	"strings"
)

// reads is a unit in which a person reads, and what turns SI into it.
type reads struct {
	name   string
	factor float64
}

// readable returns the unit in which a person reads the change of a quantity.
func readable(m *Movement) reads {
	switch {
	case m.Unit == "rad":
		return reads{"°", 180 / math.Pi}
	case m.Unit == "m":
		return reads{"mm", 1000}
	case m.Check == "weight" || m.Check == "axes":
		return reads{"%", 100}
	}
	return reads{m.Unit, 1}
}

// amount writes a value without its sign.
func (r reads) amount(v float64, places int) string {
	text := strconv.FormatFloat(math.Abs(v*r.factor), 'f', places, 64)
	switch r.name {
	case "":
		return text
	case "°":
		return text + r.name
	}
	return text + " " + r.name
}

// places is how many decimals show v with two digits (JCGM 100, 7.2.6).
func (r reads) places(v float64) int {
	v = math.Abs(v * r.factor)
	if v == 0 {
		return 2
	}
	return min(max(1-int(math.Floor(math.Log10(v))), 0), 6)
}

// change writes "+41.2 N ± 6.1 N".
func (r reads) change(m *Movement) string {
	places := r.places(*m.Uncertainty)
	text := r.amount(*m.Change, places)
	sign := "+"
	if *m.Change < 0 {
		sign = "−"
	}
	if strings.Trim(text, "0.°% "+r.name) == "" {
		sign = ""
	}
	return sign + text + " ± " + r.amount(*m.Uncertainty, places)
}

// size writes a value with three digits.
func (r reads) size(v float64) string { return r.amount(v, min(r.places(v)+1, 6)) }

// round writes a limit as the setup has it.
func (r reads) round(v float64) string {
	v, err := strconv.ParseFloat(strconv.FormatFloat(v*r.factor, 'g', 6, 64), 64)
	if err != nil {
		return ""
	}
	return reads{r.name, 1}.amount(v, -1)
}

// say puts a movement into sentences.
func (p *pairing) say(pair *pair, m *Movement) {
	r := readable(m)
	what := pair.says()
	chance := r.amount(*m.Chance, r.places(*m.Chance))
	if m.State == Unmoved {
		m.Sentence = what + " did not move by more than chance does: " + r.change(m) + ", within " + chance
		if m.Size != Within {
			m.Sentence = what + " differs by " + r.change(m) + ", which chance alone does (" + chance + ")"
			if m.Limit != nil {
				m.Sentence += ", and so uncertain that it can have moved by its limit of " + r.round(*m.Limit)
			}
			m.Next = "Turn the lifted wheel for some more turns and compare again."
			if pair.belongs == toOptic {
				m.Next = "Let the vehicle stand for some more seconds in each test."
			}
		}
		return
	}
	m.Sentence = what + " moved by " + r.change(m)
	switch {
	case m.Limit == nil:
	case m.Size == Within:
		m.Sentence += ", more than chance does (" + chance + ") and within its limit of " + r.round(*m.Limit)
	case m.Size == Beyond:
		m.Sentence += ", beyond its limit of " + r.round(*m.Limit)
	default:
		m.Sentence += ", and it cannot be told whether that is beyond its limit of " + r.round(*m.Limit)
	}
	p.mean(pair, m, r)
}
