package checks

import "math"

// Watch is what was seen of a slow channel: supply, temperature or status. It has no opinion.
// Times are event time, ns.
type Watch struct {
	Count     int64   // values
	Low, High float64 // V or °C; of a status its number
	LowAt     int64
	HighAt    int64
	Out       int64   // values outside the limits, or that do not mean well
	Times     int64   // how often they began
	From, To  int64   // first and last of them
	Value     float64 // the newest of them
	Odd       int64   // not a number, or named as no value
	OddFrom   int64
	OddTo     int64
	OddText   string
	out       bool // the newest is one
	low, high float64
	good      []float64 // Status; nil: not a status
	step      float64
	named     []NamedValue
	at        int64 // of the newest value
}

// newWatch returns the state for a channel of a corner; ok is false for a quantity that has none.
func newWatch(ch *Channel, q Quantity, l *Limits) (w Watch, ok bool) {
	w = Watch{step: ch.Step}
	switch q {
	case Supply:
		w.low, w.high, w.named = l.SupplyV[0], l.SupplyV[1], ch.Named
	case Temperature:
		w.low, w.high, w.named = l.TemperatureC[0], l.TemperatureC[1], ch.Named
	case Status:
		w.good = ch.Good
		if len(w.good) == 0 {
			w.good = []float64{0}
		}
	default:
		return Watch{}, false
	}
	return w, true
}

// is tells whether v is the value of a raw value that was named.
func (w *Watch) is(v, named float64) bool { return math.Abs(v-named) <= w.step/2 }

// add takes a value; it may be NaN or infinite.
func (w *Watch) add(at int64, v float64) {
	w.at = at
	if math.IsNaN(v) || math.IsInf(v, 0) {
		w.odd(at, "what is not a number")
		return
	}
	for i := range w.named {
		if w.is(v, w.named[i].Value) {
			w.odd(at, "\""+w.named[i].Text+"\"")
			return
		}
	}
	if w.Count == 0 || v < w.Low {
		w.Low, w.LowAt = v, at
	}
	if w.Count == 0 || v > w.High {
		w.High, w.HighAt = v, at
	}
	w.Count++
	if w.well(v) {
		w.out = false
		return
	}
	if w.Out == 0 {
		w.From = at
	}
	if !w.out {
		w.Times++
	}
	w.out = true
	w.Out++
	w.To, w.Value = at, v
}

func (w *Watch) odd(at int64, text string) {
	if w.Odd == 0 {
		w.OddFrom = at
	}
	w.Odd++
	w.OddTo, w.OddText = at, text
}

// well tells whether a value lies within the limits, or is one that means well.
func (w *Watch) well(v float64) bool {
	if w.good == nil {
		return v >= w.low && v <= w.high
	}
	for _, g := range w.good {
		if w.is(v, g) {
			return true
		}
	}
	return false
}

// watched begins a finding about a slow channel. ok is false where there is nothing to judge yet.
func (v *view) watched(i int, q Quantity) (f Finding, w *Watch, t *Timing, ok bool) {
	set := v.corners[i].setup
	f = Finding{Subject: set.Name, Unit: unitOf(q)}
	index := set.Channels[q]
	if index == None {
		f.Verdict, f.Sentence = Absent, set.Name+" has no channel for its "+q.String()
		return f, nil, nil, false
	}
	ch := &v.channels[index]
	w, t = &ch.watch, &v.timings[v.setup.Channels[index].Message]
	f.Evidence = Evidence{Samples: w.Count + w.Odd}
	if f.Evidence.Samples > 0 {
		f.Evidence.From, f.Evidence.To = t.First, w.at
	}
	switch {
	case w.Count > 0:
		return f, w, t, true
	case w.Odd > 0:
		f.Sentence = "the " + q.String() + " of " + set.Name + " has sent only " + w.OddText
		f.Next = "See at the amplifier why the " + q.String() + " of " + set.Name + " has no value."
	default:
		f.Sentence = "the " + q.String() + " of " + set.Name + " has not come yet"
		f.Next = "See to the check alive of " + set.Name + " first."
	}
	return f, w, t, false
}

// when says how often and when values were out.
func (v *view) when(w *Watch) string {
	s := ", " + v.since(w.From)
	switch {
	case w.Times > 1:
		s = ", " + plural(w.Times, "time", "times") + ", first " + v.since(w.From) + ", last " + v.since(w.To)
	case w.To > w.From:
		s = ", for " + show(float64(w.To-w.From)*1e-9, "s") + " from " + v.since(w.From)
	}
	if w.out {
		return s + ", and still is"
	}
	return s + ", and was well again after that"
}

// within limits judges the lowest and the highest value seen.
func (v *view) withinLimits(i int, q Quantity, name, tooLow, tooHigh string) Finding {
	f, w, _, ok := v.watched(i, q)
	if !ok {
		return f
	}
	name += " of " + f.Subject
	low, high := w.low-w.Low, w.High-w.high // beyond the limits by
	f.Value, f.Limit = known(w.Low), known(w.low)
	if high > low {
		f.Value, f.Limit = known(w.High), known(w.high)
	}
	switch {
	case w.Out == 0:
		f.Verdict = Pass
		f.Sentence = name + " was between " + show(w.Low, f.Unit) + " and " + show(w.High, f.Unit)
	case low >= high:
		f.Verdict = Fail
		f.Sentence = name + " was down to " + show(w.Low, f.Unit) + ", less than " + show(w.low, f.Unit) + v.when(w)
		f.Next = tooLow
	default:
		f.Verdict = Fail
		f.Sentence = name + " was up to " + show(w.High, f.Unit) + ", more than " + show(w.high, f.Unit) + v.when(w)
		f.Next = tooHigh
	}
	return f
}
