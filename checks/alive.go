package checks

import (
	"math"
	"slices"

	"plumbline/checks/fit"
)

// aliveAfter is how long a message may stay away from the start, s.
const aliveAfter = 3

// alive: does each message arrive, at its rate, without gaps or counter jumps? A message belongs
// to the corner or optic that uses it; only where all of a source is silent is the source the subject.
func alive(v *view) []Finding {
	var out []Finding
	silent := make([]bool, len(v.setup.Sources))
	for s := range v.setup.Sources {
		silent[s] = v.silentSource(s)
	}
	for i := range v.setup.Corners {
		c := &v.setup.Corners[i]
		out = append(out, v.aliveOf(c.Name, &c.Channels, silent))
	}
	for i := range v.setup.Optics {
		o := &v.setup.Optics[i]
		out = append(out, v.aliveOf(o.Name, &o.Channels, silent))
	}
	for s, name := range v.setup.Sources {
		if !silent[s] {
			continue
		}
		f := Finding{
			Subject: name, Verdict: Fail, Evidence: Evidence{From: v.first, To: v.now},
			Sentence: "nothing has come from " + name + " in " + num(v.elapsed(), 1) + " s",
			Next:     "See that the amplifier is on and its cable is plugged in; then compare the bit rate on both sides.",
		}
		if v.elapsed() < aliveAfter {
			f.Verdict = Inconclusive
		}
		out = append(out, f)
	}
	return out
}

// silentSource tells whether no message that is wanted of a source has come, although others have.
func (v *view) silentSource(s int) bool {
	wanted := false
	for i := range v.setup.Messages {
		if v.setup.Messages[i].Source != s {
			continue
		}
		wanted = true
		if v.timings[i].Count > 0 {
			return false
		}
	}
	return wanted && v.started
}

// fault is what is wrong with one message; the worst of a subject is told first.
type fault struct {
	rank     int // larger is worse
	sentence string
	next     string
}

func (v *view) aliveOf(name string, chs *Channels, silent []bool) Finding {
	f := Finding{Subject: name, Limit: known(v.setup.Limits.FramesLostRatio)}
	var messages []int
	for _, ch := range chs {
		if ch != None && !slices.Contains(messages, v.setup.Channels[ch].Message) {
			messages = append(messages, v.setup.Channels[ch].Message)
		}
	}
	if len(messages) == 0 {
		f.Verdict, f.Sentence = Absent, name+" has no channels"
		return f
	}
	if !v.started {
		f.Sentence = "no frame has come yet"
		f.Next = "Switch the amplifier on."
		return f
	}
	var worst fault
	waiting, dead, lost, first := "", 0, 0.0, v.first
	for _, m := range messages {
		t := &v.timings[m]
		if silent[v.setup.Messages[m].Source] {
			f.Sentence = name + " is silent, like all of " + v.setup.Sources[v.setup.Messages[m].Source]
			f.Next = "See to the check alive of " + v.setup.Sources[v.setup.Messages[m].Source] + " first."
			return f
		}
		if t.Count == 0 {
			dead++
		}
		f.Evidence.Samples += t.Count
		if t.Count > 0 && (f.Evidence.From == 0 || t.First < f.Evidence.From) {
			f.Evidence.From = t.First
		}
		f.Evidence.To = max(f.Evidence.To, t.Last)
		first = max(first, t.First)
		lost = math.Max(lost, t.lostRatio())
		bad, wait := v.messageFault(m)
		if bad.rank > worst.rank {
			worst = bad
		}
		if wait != "" && waiting == "" {
			waiting = wait
		}
	}
	f.Value = known(lost)
	switch {
	case worst.rank > 0:
		f.Verdict = Fail
		f.Sentence, f.Next = worst.sentence, worst.next
		if dead == len(messages) {
			f.Sentence = "nothing has come from " + name
			f.Next = "See that the plug of " + name + " is in and that its electronics has supply."
		}
	case waiting == "" && v.elapsed() < 1:
		f.Sentence = name + " has been heard for " + num(v.elapsed(), 1) + " s; 1 s is the least"
		f.Next = "Go on listening for some seconds."
	case waiting != "":
		f.Sentence = waiting
		f.Next = "Go on listening for some seconds."
	default:
		f.Verdict = Pass
		f.Sentence = name + ": all of its " + plural(int64(len(messages)), "message", "messages") + " arrive, " + show(lost, "percent") + " lost at the most"
		if len(messages) == 1 {
			f.Sentence = name + ": its message arrives, " + show(lost, "percent") + " lost"
		}
		if float64(first-v.first)*1e-9 > aliveAfter { // switched on after the others: no fault, but worth a word
			f.Sentence += "; not all of them from the beginning, but from " + v.since(first)
		}
	}
	return f
}

// allowed is for how long a message may stay away, s.
func (t *Timing) allowed(l *Limits) float64 { return math.Max(l.GapPeriods*t.InUse(), GapS) }

// longPeriod is how much longer a period may be than described: 10 %, and half a percent that stamps scatter; common practice.
const longPeriod = 1.105

// lostRatio is the larger of what the counter and what the gaps say, 0 to 1.
func (t *Timing) lostRatio() float64 {
	return math.Max(ratio(t.Lost, t.Count), ratio(t.CounterOff, t.Counted))
}

// lostAtLeast is the same less its uncertainty: the least mean of which so many are no chance. A message that comes
// seldom has too few frames to tell a little more than the limit from a little less.
func (t *Timing) lostAtLeast() float64 {
	least := func(lost, seen int64) float64 {
		lower, _ := fit.PoissonInterval(max(lost, 0))
		return lower / math.Max(float64(lost+seen), 1)
	}
	return math.Max(least(t.Lost, t.Count), least(t.CounterOff, t.Counted))
}

// messageFault says what is wrong with a message, or what it must be waited for.
func (v *view) messageFault(i int) (bad fault, wait string) {
	m, t := &v.setup.Messages[i], &v.timings[i]
	lim := &v.setup.Limits
	if t.Count == 0 {
		if v.elapsed() < aliveAfter {
			return fault{}, m.Name + " has not come in " + num(v.elapsed(), 1) + " s; " + num(aliveAfter, 0) + " s are waited for"
		}
		return fault{9, "no " + m.Name + " has come in " + num(v.elapsed(), 1) + " s", "See that the sensor's plug is in and that the amplifier sends " + m.Name + "."}, ""
	}
	if t.Short > 0 {
		return fault{
			8,
			m.Name + " came " + plural(t.Short, "time", "times") + " with only " + plural(int64(t.ShortLength), "byte", "bytes") + ", its description says " + num(float64(m.Length), 0),
			"Give the DBC that belongs to this firmware of the amplifier.",
		}, ""
	}
	period, allowed := t.InUse(), t.allowed(lim)
	quiet := float64(v.now-t.Last) * 1e-9
	switch {
	case quiet > allowed:
		return fault{7, m.Name + " has been silent for " + num(quiet, 1) + " s, since " + v.since(t.Last), "See that the plug is in and the supply has not gone."}, ""
	case t.Count < 3 || period == 0:
		return fault{}, m.Name + " has come only " + plural(t.Count, "time", "times")
	case t.Gap > allowed:
		return fault{6, m.Name + " stayed away for " + num(t.Gap, 2) + " s, " + v.since(t.GapAt), "Move cable and plugs while looking at " + m.Name + "; see whether the supply dips."}, ""
	case t.Nominal > 0 && t.Period > longPeriod*t.Nominal:
		return fault{5, m.Name + " comes every " + show(t.Period, "s") + ", its description says every " + show(t.Nominal, "s"), "Set the rate at the amplifier, or correct the cycle time in the DBC."}, ""
	}
	lost, sure := t.lostRatio(), t.lostAtLeast() > lim.FramesLostRatio
	if t.CounterOff > 10*max(t.Lost, 1) && sure {
		return fault{
			4, "the counter of " + m.Name + " leaves out " + show(lost, "percent") + " of its numbers, though no time is missing between its frames",
			"See whether the amplifier itself loses data, two devices send this message, or the counter in the setup is another signal.",
		}, ""
	}
	if sure {
		return fault{
			4, show(lost, "percent") + " of " + m.Name + " are lost, more than " + show(lim.FramesLostRatio, "percent"),
			"Look at the load of the bus, at the plugs and the cable; where only one corner loses frames, at its pick-up and supply.",
		}, ""
	}
	if t.Jumps*100 > t.Counted {
		return fault{3, "the counter of " + m.Name + " jumped " + plural(t.Jumps, "time", "times"), "See whether two devices send this message, or the counter in the setup is another signal."}, ""
	}
	if name, ok := v.missingPage(i); ok {
		if v.elapsed() < aliveAfter || t.Count < 20 {
			return fault{}, name + " has not come yet"
		}
		return fault{2, name + " has never come, although its message did", "Correct the signal in the setup, or let the amplifier send it."}, ""
	}
	if lost > lim.FramesLostRatio {
		return fault{}, show(lost, "percent") + " of " + m.Name + " are lost; that is too close to the limit of " + show(lim.FramesLostRatio, "percent") + " to decide"
	}
	return fault{}, ""
}

// missingPage returns a wanted signal that its message never carried.
func (v *view) missingPage(i int) (string, bool) {
	for _, ch := range v.messages[i].channels {
		c := &v.channels[ch]
		if c.used && c.level.Count+c.level.NotANum == 0 {
			return v.setup.Channels[ch].Name, true
		}
	}
	return "", false
}
