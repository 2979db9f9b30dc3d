package checks

import (
	"math"

	"plumbline/checks/fit"
)

// hum: do mains at 50 or 60 Hz show in a component at rest? Their line is compared with its neighbourhood,
// 3 and 5 Hz beside it, in whole seconds at rest. Where a line lies above half of the sample rate it shows at
// another frequency, and where that falls on what stands still, or on half of the rate, it cannot be seen.
func hum(v *view) []Finding {
	return v.eachComponent("hum", v.humOf)
}

// humOpen tells whether a hum finding holds the verdict back: not where the rate cannot show mains.
func humOpen(f *Finding) bool { return f.Unit != "Hz" }

// line is what is known of one mains line in a component.
type line struct {
	hz, at    float64 // where it is and where it shows
	tone      int
	amplitude float64
	u         float64 // expanded
	clear     bool    // it stands out from its neighbourhood
}

// lines returns the mains lines that the rate of a component can show, and that rate, 1/s.
func (v *view) lines(i int, q Quantity, seconds []*second) (out []line, rate float64) {
	set := v.corners[i].setup
	period := v.timings[v.setup.Channels[set.Channels[q]].Message].Period
	if period > 0 {
		rate = 1 / period
	}
	for k := range v.corners[i].blocks {
		if b := &v.corners[i].blocks[k]; b.timing == &v.messages[v.setup.Channels[set.Channels[q]].Message].timing {
			rate /= float64(b.stride())
		}
	}
	for _, tone := range [2]int{tone50, tone60} {
		at, seen := alias(toneHz(tone), rate)
		if !seen {
			continue
		}
		l := line{hz: toneHz(tone), at: at, tone: tone}
		if len(seconds) >= secondsForUncertainty {
			l.measure(seconds)
		}
		out = append(out, l)
	}
	return out, rate
}

// measure takes the line from whole seconds. Under noise the squared amplitude of one second is
// exponential about that of the neighbourhood; beside a line of amplitude A it scatters by
// √(M² + 2·A²·M), with M the neighbourhood's.
func (l *line) measure(seconds []*second) {
	var here fit.Welford
	for k := range seconds {
		here.Add(seconds[k].power[l.tone])
	}
	n := float64(here.N())
	var beside []float64
	for _, tone := range neighbours(l.tone) {
		var w fit.Welford
		for k := range seconds {
			w.Add(seconds[k].power[tone])
		}
		beside = append(beside, w.Mean())
	}
	floor := fit.Median(beside)
	net := math.Max(here.Mean()-floor, 0)
	u := math.Max(scatter(&here).U, math.Sqrt((square(floor)+float64(2*net*floor))/n))
	uu := fit.Expanded(fit.Part{U: u, DOF: n - 1}, fit.TypeB(floor/math.Sqrt(4*n)))
	l.amplitude = math.Sqrt(net)
	l.u = math.Max(math.Sqrt(net+uu)-l.amplitude, l.amplitude-math.Sqrt(math.Max(net-uu, 0)))
	// The mean of n such seconds of noise alone is above this less than once in 10,000.
	l.clear = net > 0 && here.Mean() > float64(floor*(4+6/n))
	if !l.clear {
		l.u = math.Max(l.u, l.amplitude)
	}
}

func (v *view) humOf(i int, q Quantity) Finding {
	f, ch, t := v.component(i, q)
	name := f.Subject + " " + f.Channel
	limit := v.setup.Limits.HumForceN
	if q >= Mx {
		limit = v.setup.Limits.HumMomentNm
	}
	f.Limit = known(limit)
	if f.wanting(ch) {
		return f
	}
	rest := v.atRest(i, q)
	seconds, lines, rate := rest.seconds, rest.lines, rest.rate
	if t.Period > 0 && len(lines) == 0 && v.angles {
		f.Unit, f.Limit, f.Value = "Hz", Number{}, known(rate)
		f.Sentence = name + " comes " + num(rate, 1) + " times a second: neither 50 nor 60 Hz can be seen at that rate"
		f.Next = "Let the amplifier send " + name + " at least 130 times a second for a minute, if mains are near."
		return f
	}
	if v.restless(i, q, &f, seconds) {
		return f
	}
	if len(lines) == 0 {
		f.Sentence = "the rate of " + name + " is not known yet"
		f.Next = "Go on listening for some seconds."
		return f
	}
	worst := lines[0]
	for _, l := range lines[1:] {
		if l.amplitude+l.u > worst.amplitude+worst.u {
			worst = l
		}
	}
	f.guard(worst.amplitude, 0, worst.u, limit)
	reads := name + " carries " + within(worst.amplitude, worst.u, f.Unit) + " of " + num(worst.hz, 0) + " Hz"
	if worst.at < worst.hz-0.5 {
		reads += " (at " + num(rate, 0) + " values a second it shows at " + num(worst.at, 1) + " Hz)"
	}
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
		if len(lines) == 1 {
			f.Sentence += "; " + num(110-worst.hz, 0) + " Hz cannot be seen at " + num(rate, 1) + " values a second"
		}
	case Fail:
		f.Sentence = reads + ", more than " + show(limit, f.Unit)
		f.Next = "Keep mains cables, chargers and lamps away from the cable of " + f.Subject + ", and see that its shield is connected. A protective earth stays where it is."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(limit, f.Unit) + " to decide"
		f.Next = "Leave " + f.Subject + " at rest for some more seconds; nobody touches it."
		if !worst.clear {
			f.Sentence = "the noise of " + name + " hides up to " + show(worst.amplitude+worst.u, f.Unit) + " of " + num(worst.hz, 0) + " Hz"
			f.Next = "See to the check noise of " + name + " first, then leave it at rest for some more seconds."
		}
	}
	return f
}
