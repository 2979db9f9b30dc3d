package checks

import (
	"math"
	"slices"

	"plumbline/checks/fit"
)

// noise: how much does a component scatter (RMS) while its wheel is at rest? It is the root of the mean square
// about the mean of whole seconds, without spikes and without the mains lines, which are judged by
// themselves; the scatter from second to second gives the uncertainty. Without a second at rest it is what the
// sine fit of the free turns leaves over, which also holds what is not noise: that can pass, not fail.
func noise(v *view) []Finding {
	return v.eachComponent("noise", v.noiseOf)
}

// secondsForUncertainty is how many seconds at rest give an uncertainty.
const secondsForUncertainty = 3

// atRest is what whole seconds at rest told of one component, and the mains lines in them: noise and hum ask for both.
type atRest struct {
	known   bool
	seconds []*second
	lines   []line
	rate    float64 // at which lines show, 1/s
}

// atRest looks at the seconds of a component, once for each view.
func (v *view) atRest(i int, q Quantity) *atRest {
	if v.rests == nil {
		v.rests = make([]atRest, len(v.corners)*components)
	}
	r := &v.rests[i*components+int(q)]
	if !r.known {
		r.known, r.seconds = true, v.seconds(i, q)
		r.lines, r.rate = v.lines(i, q, r.seconds)
	}
	return r
}

// seconds returns what whole seconds at rest told of a component: those in which its mean stayed, or
// all where that is seldom so.
func (v *view) seconds(i int, q Quantity) []*second {
	for k := range v.corners[i].blocks {
		b := &v.corners[i].blocks[k]
		for x, c := range b.components {
			if c != q {
				continue
			}
			all, calm := make([]*second, 0, keptBlocks), 0
			for n := max(0, b.Taken-keptBlocks); n < b.Taken; n++ {
				s := &b.kept[x][n%keptBlocks]
				if s.samples == 0 {
					continue
				}
				all = append(all, s)
				if s.calm {
					calm++
				}
			}
			if calm >= secondsForUncertainty && 3*calm >= len(all) {
				return slices.DeleteFunc(all, func(s *second) bool { return !s.calm })
			}
			return all
		}
	}
	return nil
}

// restless fills a finding that rests on seconds at rest, where they do not suffice or what they show is no measurement.
func (v *view) restless(i int, q Quantity, f *Finding, seconds []*second) bool {
	name := f.Subject + " " + f.Channel
	if !v.angles {
		f.Verdict, f.Sentence = Absent, "no wheel has an angle that tells when "+f.Subject+" is at rest"
		return true
	}
	if x := v.frozenOf(i, q); x.Verdict == Fail {
		f.Sentence = name + " stands still or stood still, so it tells nothing here"
		f.Next = "See to the check frozen of " + name + " first."
		return true
	}
	if len(seconds) > 0 && len(seconds) == flat(seconds) && v.channels[v.corners[i].setup.Channels[q]].signal.Clips > 0 {
		f.Sentence = name + " was at the end of its range while " + f.Subject + " was at rest"
		f.Next = "See to the check clipped of " + name + " first."
		return true
	}
	if n := len(seconds); n < secondsForUncertainty {
		f.Sentence = f.Subject + " has been at rest for " + plural(int64(n), "whole second", "whole seconds") + "; 3 are the least"
		f.Next = "Leave " + f.Subject + " at rest for some seconds; nobody touches it."
		return true
	}
	f.Evidence = Evidence{From: seconds[0].from, To: seconds[len(seconds)-1].to}
	for k := range seconds {
		f.Evidence.Samples += int64(seconds[k].samples)
	}
	return false
}

func flat(seconds []*second) int {
	n := 0
	for i := range seconds {
		if seconds[i].flat {
			n++
		}
	}
	return n
}

func (v *view) noiseOf(i int, q Quantity) Finding {
	f, ch, _ := v.component(i, q)
	name := f.Subject + " " + f.Channel
	limit := v.setup.Limits.NoiseForceN
	if q >= Mx {
		limit = v.setup.Limits.NoiseMomentNm
	}
	f.Limit = known(limit)
	if f.wanting(ch) {
		return f
	}
	rest := v.atRest(i, q)
	seconds := rest.seconds
	if len(seconds) < secondsForUncertainty && v.noiseTurned(i, q, limit, &f) {
		return f
	}
	if v.restless(i, q, &f, seconds) {
		return f
	}
	var w fit.Welford
	for k := range seconds {
		x := seconds[k].variance
		for _, l := range rest.lines {
			if l.clear {
				x -= seconds[k].power[l.tone] / 2
			}
		}
		w.Add(x)
	}
	rms := math.Sqrt(math.Max(w.Mean(), 0))
	part := scatter(&w)
	if rms > 0 {
		part.U /= 2 * rms // of the root
	} else {
		part.U = math.Sqrt(part.U)
	}
	step := v.setup.Channels[v.corners[i].setup.Channels[q]].Step
	u := fit.Expanded(part, fit.TypeB(fit.Rectangular(step/2)))
	f.guard(rms, 0, u, limit)
	reads := name + " has a noise of " + within(rms, u, f.Unit) + " (RMS) at rest"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads + ", more than " + show(limit, f.Unit)
		f.Next = "Look at the shield and the ground of the cable of " + f.Subject + ", its plugs and its pick-up; then leave " + f.Subject + " at rest for some seconds."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(limit, f.Unit) + " to decide"
		f.Next = "Leave " + f.Subject + " at rest for some more seconds; nobody touches it."
	}
	return f
}

// noiseTurned judges by the free turns.
func (v *view) noiseTurned(i int, q Quantity, limit float64, f *Finding) bool {
	var w fit.Welford
	for _, r := range v.spins[i].revolutions {
		if r.Have&(1<<q) != 0 {
			w.Add(square(r.Residual[q]))
		}
	}
	if w.N() < turnsForUncertainty || v.frozenOf(i, q).Verdict == Fail {
		return false
	}
	name := f.Subject + " " + f.Channel
	rms := math.Sqrt(w.Mean())
	f.Value = known(rms)
	f.Evidence = v.spins[i].evidence
	reads := name + " is off the sine of the turning weight by " + show(rms, f.Unit) + " (RMS)"
	if rms > 0.8*limit {
		f.Sentence = reads + ", which can be more than noise"
		f.Next = "Leave " + f.Subject + " at rest for some seconds; nobody touches it."
		return true
	}
	f.Verdict = Pass
	f.Sentence = reads + ", so its noise is not more than that"
	return true
}
