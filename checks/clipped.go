package checks

// clippedSamples is how many samples at an end of the range are no chance; common practice.
const clippedSamples = 3

// clipped: was a channel at either end of its raw range? Then the range is too small or the channel
// overloaded, and what it measured there is lost.
func clipped(v *view) []Finding {
	return v.eachComponent("clipped", v.clippedOf)
}

// clippedWhile says what the wheel did for most of the samples at an end of the range.
func (s *Signal) clippedWhile() string {
	most := stands
	for m := range movements {
		if s.ClipMoved[m] > s.ClipMoved[most] {
			most = m
		}
	}
	text := most.String()
	if s.ClipMoved[most] < s.Clips {
		text = "mostly " + text
	}
	return text
}

func (v *view) clippedOf(i int, q Quantity) Finding {
	f, ch, t := v.component(i, q)
	name, s, unit := f.Subject+" "+f.Channel, &ch.signal, f.Unit
	f.Unit = ""
	if f.wanting(ch) {
		return f
	}
	f.Value, f.Limit = known(float64(s.Clips)), known(clippedSamples-1)
	set := &v.setup.Channels[v.corners[i].setup.Channels[q]]
	switch {
	case s.Clips >= clippedSamples:
		f.Verdict = Fail
		f.Sentence = name + " was at the end of its range, " + show(s.ClipValue, unit) + ", for " + plural(s.Clips, "sample", "samples") + ", first " + v.since(s.ClipFrom) + ", " + s.clippedWhile()
		switch {
		case s.ClipTo == t.Last:
			f.Sentence += ", and it still is"
		case s.ClipTo > s.ClipFrom:
			f.Sentence += ", last " + v.since(s.ClipTo)
		}
		f.Next = "Set a larger range for " + name + " at the amplifier; where the range is right, the channel is overloaded: look at its bridge, its plug and its zero."
	case set.Low == 0 && set.High == 0:
		f.Verdict = Pass
		f.Sentence = name + " is sent as a floating-point number, which has no end to clip at"
	case s.Clips > 0:
		f.Verdict = Pass
		f.Sentence = name + " was at the end of its range for " + plural(s.Clips, "sample", "samples") + " only, " + v.since(s.ClipFrom)
	default:
		f.Verdict = Pass
		f.Sentence = name + " stayed between " + show(ch.level.Low, unit) + " and " + show(ch.level.High, unit) + ", inside its range of " + show(min(set.Low, set.High), unit) + " to " + show(max(set.Low, set.High), unit)
	}
	return f
}
