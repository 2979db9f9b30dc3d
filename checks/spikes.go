package checks

import (
	"math"
	"strings"

	"plumbline/checks/fit"
)

// spikes: do single samples jump far off and come back at once? They are judged where the signal is slow by itself,
// at rest and lifted and turned by hand, by what a second at rest says is far: ten standard
// deviations as the middle step between samples tells them. The rate is that of the corner, as what makes them
// (a contact, a pick-up) serves all its channels; the channels that had any are named.
func spikes(v *view) []Finding {
	return v.eachComponent("spikes", v.spikesOf)
}

const (
	spikesLeast   = 3    // that are no chance; common practice
	spikesJudgedS = 5.0  // judged at the least
	spikePeriodS  = 0.05 // a signal that comes less often is not slow against its samples
)

func (v *view) spikesOf(i int, q Quantity) Finding {
	f, ch, t := v.component(i, q)
	name, s, unit := f.Subject+" "+f.Channel, &ch.signal, f.Unit
	f.Unit = "1/min"
	limit := v.setup.Limits.SpikesPerMinute
	f.Limit = known(limit)
	if f.wanting(ch) {
		return f
	}
	seconds := s.judgedS(t.Last)
	f.Evidence.Samples = 0
	if t.Period > 0 {
		f.Evidence.Samples = int64(math.Round(seconds / t.Period))
	}
	if !v.angles {
		f.Verdict, f.Sentence = Absent, "no wheel has an angle that tells when "+f.Subject+" is at rest"
		return f
	}
	if x := v.frozenOf(i, q); x.Verdict == Fail && s.Spikes == 0 {
		f.Sentence = name + " stands still or stood still, so it tells nothing here"
		f.Next = "See to the check frozen of " + name + " first."
		return f
	}
	if t.Period > spikePeriodS {
		f.Sentence = name + " comes too seldom to tell a spike from a movement"
		f.Next = "Let the amplifier send " + name + " at least 20 times a second."
		return f
	}
	all := int64(0)
	for o := range Quantity(components) {
		if k := v.corners[i].setup.Channels[o]; k != None {
			all += v.channels[k].signal.Spikes
		}
	}
	if s.Spikes == 0 {
		if seconds < spikesJudgedS {
			f.Sentence = name + " has been judged for " + num(seconds, 1) + " s at rest or turned while lifted; 5 s are the least"
			f.Next = "Leave " + f.Subject + " at rest for some seconds; nobody touches it."
			return f
		}
		f.Verdict, f.Value = Pass, known(0)
		f.Sentence = name + " had no single sample far off in " + num(seconds, 0) + " s"
		return f
	}
	minutes := seconds / 60
	rate := float64(all) / minutes
	f.Value = known(rate)
	had := name + " had " + plural(s.Spikes, "single sample", "single samples") + " far off, by up to " + show(s.SpikeLargest, unit) + ", first " + v.since(s.SpikeFrom)
	if s.SpikeTo != s.SpikeFrom {
		had += ", last " + v.since(s.SpikeTo)
	}
	had += "; all of " + f.Subject + " " + num(float64(all), 0) + " in " + num(seconds, 0) + " s"
	next := "Move the cable and the plugs of " + f.Subject + " while looking at " + name + "; look at its pick-up and at what switches near it."
	switch {
	case all < spikesLeast && rate > limit && seconds < 60:
		f.Sentence = had + ", too few to tell a rate"
		f.Next = "Leave " + f.Subject + " at rest for a minute; nobody touches it."
	case all < spikesLeast:
		f.Verdict, f.Sentence = Pass, had
	default:
		// The rates of which a count of n is not one of the 2.5 % that lie farthest off.
		lower, upper := fit.PoissonInterval(all)
		u := upper/minutes - rate
		if rate > limit {
			u = rate - lower/minutes
		}
		f.guard(rate, 0, u, limit)
		f.Sentence = had + ", " + num(rate, 1) + " a minute"
		switch f.Verdict {
		case Fail:
			f.Sentence += ", more than " + num(limit, 1)
			f.Next = next
		case Inconclusive:
			f.Sentence += "; that is too close to the limit of " + num(limit, 1) + " to decide" + spikesUndecided(rate, minutes, limit)
			f.Next = "Leave " + f.Subject + " at rest so much longer, nobody touches it; or at once: " + strings.ToLower(next[:1]) + next[1:]
		case Pass, Absent:
		}
	}
	return f
}

// spikesUndecided says how much longer a rate must be watched, at what it is now: the fewer events, the longer.
func spikesUndecided(rate, minutes, limit float64) string {
	const longest = 60 // min
	for m := math.Ceil(minutes + 0.5); m < minutes+longest; m++ {
		lower, upper := fit.PoissonInterval(int64(math.Round(rate * m)))
		if lower > limit*m || upper <= limit*m {
			return "; at this rate " + plural(int64(math.Ceil(m-minutes)), "minute", "minutes") + " more would tell"
		}
	}
	return "; not within an hour at this rate"
}
