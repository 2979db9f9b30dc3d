package compare

import (
	"math"
	"slices"
	"strconv"

	"plumbline/daemon"
)

// advice says what holds for all that moved: when a change may be spread over the time in between.
func (c *Comparison) advice() []string {
	out := []string{}
	if slices.ContainsFunc(c.Movements, func(m Movement) bool { return m.Check == "zero" && m.State == Moved }) {
		out = append(out, "Correct a zero that moved linearly with time only if the recording in between shows that it moved steadily (the check drift). Where it jumped "+
			"(a blow, a plug, an overload), correct from that moment on. Where nothing shows when it moved, count all of it as uncertainty.")
	}
	return out
}

// mean says what a movement means for the data in between, and what to do.
func (p *pairing) mean(pair *pair, m *Movement, r reads) {
	at, size := m.Subject, r.size(*m.Change)
	m.Next = "Turn the lifted wheel of " + at + " once more to see whether it stays."
	switch pair.check {
	case "zero":
		p.meanZero(pair, m, size)
	case "angle-offset":
		leak := strconv.FormatFloat(1000*math.Abs(math.Sin(*m.Change)), 'f', 1, 64)
		m.Meaning = "Forces of " + at + " in between are turned by up to " + size + ": of each 1000 N of the vertical force up to " + leak +
			" N appear in the longitudinal one. Turn them back only from a moment at which the recording shows that the angle moved (angle-jumps, angle-slip)."
		m.Next = "Look at the wheel bolts of " + at + ", the encoder and its arm for what gave way, then turn the lifted wheel again."
	case "weight":
		m.Meaning = "If the wheel is as heavy as it was, the scale of the radial forces of " + at + " moved by " + size +
			", and all radial forces in between are uncertain by up to that share."
		m.Next = "Look first for what made the wheel heavier or lighter (mud, water, ice, a balance weight), then turn it again."
	case "axes":
		newtons := strconv.FormatFloat(1000*math.Abs(*m.Change), 'f', 1, 64)
		m.Meaning = "Radial forces of " + at + " in between carry a wave twice per turn that is uncertain by up to " + newtons + " N of each 1000 N of load; means over whole turns stay."
		m.Next = "Turn the lifted wheel of " + at + " evenly once more; if it stays, one of the two radial bridges has changed: have the transducer looked at."
	case "drag":
		m.Meaning = "This is the brake, the bearing or the pick-up ring of " + at + " and no error of the transducer: the data in between say what the wheel felt."
		m.Next = "See whether the brake of " + at + " had been used or was applied, then turn the wheel again."
	case "clearance":
		m.Meaning = "Heights that " + at + " sent in between are uncertain by up to " + size + ", unless load, fuel or tyre pressure moved the vehicle."
		m.Next = "Look at the bracket of " + at + ", and compare load and tyre pressure with those of the first test."
	case "camber":
		m.Meaning = "Camber angles of " + at + " in between are uncertain by up to " + size + "."
		m.Next = "Look whether the bar of " + at + " or one of its lenses has moved."
	}
}

func (p *pairing) meanZero(pair *pair, m *Movement, size string) {
	kind, pronoun := "Forces", "force"
	if m.Unit == "N·m" {
		kind, pronoun = "Moments", "moment"
	}
	name := m.Subject + " " + m.Channel
	m.Meaning = kind + " " + name + " in between are uncertain by up to " + size
	turns := m.Channel != "fy" && m.Channel != "my"
	switch {
	case !turns:
		m.Meaning += ", and so are their means."
	case m.Size == Within:
		m.Meaning += ", as a wave once per turn."
	default:
		m.Meaning += " in the axis that turns with the wheel: resolved into the vehicle's axes that is a wave of this size once per turn in both, and the mean " + pronoun + " over whole turns stays."
	}
	m.Next = "" // its limit is kept
	if m.Size != Within {
		m.Next = "Turn the lifted wheel of " + m.Subject + " once more; if it stays, find out from the recording when " + name + " moved, and tare it by " + signed(-*pair.after.Value, m.Unit) + " before the next drive."
	}
	if before, after := pair.before, pair.after; math.Abs(*after.Value) <= *after.Uncertainty && math.Abs(*before.Value) > *before.Uncertainty {
		m.Meaning += " The second zero is none within its uncertainty: if it was tared in between, this is the taring and no movement."
	}
}

// warmer returns by how much the electronics were warmer, °C, where it is known and matters.
func warmer(was, is *daemon.Transducer) (float64, bool) {
	const matters = 5 // °C; common practice
	if was == nil || is == nil || was.LowestTempC == nil || was.HighestTempC == nil || is.LowestTempC == nil || is.HighestTempC == nil {
		return 0, false
	}
	k := (*is.LowestTempC+*is.HighestTempC)/2 - (*was.LowestTempC+*was.HighestTempC)/2
	return k, math.Abs(k) >= matters
}

// signed writes a value to tare by.
func signed(v float64, unit string) string {
	text := reads{unit, 1}.amount(v, 1)
	if v < 0 {
		return "−" + text
	}
	return text
}
