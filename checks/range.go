package checks

import "math"

// What a wheel can carry at the most, in its static loads, and where it may begin; common practice: let down roughly it
// bounces to twice its load, a pothole makes it four or five. Moments are that at half a metre.
const (
	standingLoads = 2.2
	standingN     = 1000.0
	rollingLoads  = 6.0
	leverM        = 0.5
)

// startUpNs is how long a channel may say after its first frame that it has no value yet, and for how long
// it must have been well since, ns; common practice.
const startUpNs = 5e9

// inRange: are the values possible? Not numbers, values that the description names as not available or
// error, values beyond what it states and forces that no wheel carries are not.
func inRange(v *view) []Finding {
	return v.eachComponent("range", v.inRangeOf)
}

func (v *view) inRangeOf(i int, q Quantity) Finding {
	f, ch, t := v.component(i, q)
	name, s := f.Subject+" "+f.Channel, &ch.signal
	if t.Count == 0 || ch.level.Count+ch.level.NotANum == 0 {
		f.wanting(ch)
		return f
	}
	f.Evidence.Samples = ch.level.Count + ch.level.NotANum
	worst, kind := math.Max(math.Abs(ch.level.Low), math.Abs(ch.level.High)), oddKinds
	if ch.level.Count > 0 {
		f.Value = known(worst)
	}
	if s.standing > 0 {
		f.Limit = known(s.standing)
		if s.odd[beyondPhysical].count == 0 && worst > s.standing {
			f.Limit = known(s.rolling)
		}
	}
	for k := range oddKinds {
		if s.odd[k].count > 0 && (kind == oddKinds || s.odd[k].count > s.odd[kind].count) {
			kind = k
		}
	}
	if kind == oddKinds {
		f.Verdict = Pass
		f.Sentence = name + " stayed between " + show(ch.level.Low, f.Unit) + " and " + show(ch.level.High, f.Unit) + ", as a wheel can"
		return f
	}
	o := &s.odd[kind]
	f.Value = Number{}
	when := ", " + v.since(o.from)
	if o.count > 1 {
		when = ", from " + v.since(o.from) + " to " + num(float64(o.to-v.first)*1e-9, 1) + " s"
	}
	times := plural(o.count, "time", "times")
	f.Verdict = Fail
	switch kind {
	case notANumber, namedValue:
		text := "what is not a number"
		if kind == namedValue {
			text = "\"" + o.text + "\""
		}
		f.Sentence = name + " sent " + text + " " + times + when
		f.Next = "See at the amplifier why " + name + " has no value: its plug, its supply, its pick-up."
		if s.onlyOdd(notANumber, namedValue) && v.onlyAtStart(t, s) {
			f.Verdict, f.Next = Pass, ""
			f.Sentence = name + " had no value at first, for " + show(float64(o.to-t.First)*1e-9, "s") + ", and has been well since"
			f.Value = known(worst)
		}
	case beyondStated:
		f.Value = known(o.value)
		f.Limit = known(s.stated[1])
		if o.value < 0 {
			f.Limit = known(s.stated[0])
		}
		f.Sentence = name + " read " + show(o.value, f.Unit) + ", beyond the " + show(f.Limit.Value, f.Unit) + " that its description states, " + times + when
		f.Next = "Compare the range of " + name + " in the DBC with the one that is set at the amplifier."
	case beyondPhysical, oddKinds:
		f.Value = known(o.value)
		f.Sentence = name + " read " + show(o.value, f.Unit) + ", more than a wheel of this load can carry, " + times + when
		f.Next = "Look for a loose contact in the plugs and the cable of " + name + "; where it reads so all the time, compare its unit, factor and byte order in the DBC and the setup with the amplifier."
	}
	return f
}

// onlyOdd tells whether no impossible values but these kinds were seen.
func (s *Signal) onlyOdd(kinds ...oddKind) bool {
	n := int64(0)
	for k := range oddKinds {
		n += s.odd[k].count
	}
	for _, k := range kinds {
		n -= s.odd[k].count
	}
	return n == 0
}

// onlyAtStart tells whether a channel had no value only while it was switched on, and has been well for long enough since.
func (v *view) onlyAtStart(t *Timing, s *Signal) bool {
	to := max(s.odd[notANumber].to, s.odd[namedValue].to)
	return to-t.First <= startUpNs && t.Last-to >= startUpNs
}
