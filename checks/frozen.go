package checks

import "math"

// frozen: does a channel stand still while its message arrives? A strain-gauge channel always
// shows some noise, so one value for seconds is no measurement, unless the raw step is so coarse that
// the noise does not reach from one to the next.
func frozen(v *view) []Finding {
	return v.eachComponent("frozen", v.frozenOf)
}

// eachComponent judges every component of every corner.
func (v *view) eachComponent(check string, judge func(i int, q Quantity) Finding) []Finding {
	out := make([]Finding, 0, len(v.corners)*components)
	for i := range v.corners {
		for q := range Quantity(components) {
			set := v.corners[i].setup
			if !set.fitted(q) {
				out = append(out, Finding{Subject: set.Name, Channel: q.String(), Verdict: Absent, Sentence: set.Name + " has no channel for " + q.String() + ", so there is nothing to judge by " + check})
				continue
			}
			out = append(out, judge(i, q))
		}
	}
	return out
}

// component begins a finding about a component that is fitted.
func (v *view) component(i int, q Quantity) (f Finding, ch *channel, t *Timing) {
	set := v.corners[i].setup
	index := set.Channels[q]
	ch, t = &v.channels[index], &v.timings[v.setup.Channels[index].Message]
	f = Finding{Subject: set.Name, Channel: q.String(), Unit: unitOf(q), Evidence: Evidence{Samples: ch.level.Count}}
	if t.Count > 0 {
		f.Evidence.From, f.Evidence.To = t.First, t.Last
	}
	return f, ch, t
}

// wanting says that a channel has sent no number yet; false where it has.
func (f *Finding) wanting(ch *channel) bool {
	name := f.Subject + " " + f.Channel
	switch {
	case ch.level.Count > 0:
		return false
	case ch.level.NotANum > 0:
		f.Sentence = name + " has sent no number yet, only values that are none"
		f.Next = "See to the check range of " + name + " first."
	default:
		f.Sentence = "nothing has come from " + name + " yet"
		f.Next = "See to the check alive of " + f.Subject + " first."
	}
	return true
}

func (v *view) frozenOf(i int, q Quantity) Finding {
	f, ch, t := v.component(i, q)
	name := f.Subject + " " + f.Channel
	s := &ch.signal
	value := f.Unit
	f.Unit, f.Limit = "s", known(frozenS)
	if f.wanting(ch) {
		return f
	}
	r, on := s.Longest, false
	if now := s.present(t, v.corners[i].value[q]); now.samples > r.samples {
		r, on = now, true
	}
	f.Value = known(r.seconds())
	p := s.repeats(ch.level.Count, r, on)
	natural := natural(p, ch.level.Count)
	need := math.Max(frozenS, natural*t.Period)
	f.Limit = known(math.Max(need, frozenSamples*t.Period))
	reads := name + " has stood at " + show(r.value, value) + " for " + show(r.seconds(), "s") + " (" + plural(r.samples, "sample", "samples") + ")"
	switch {
	case r.samples >= frozenSamples && r.seconds() >= frozenS && float64(r.samples) > natural:
		if why, next := v.mayStand(i, q); why != "" {
			f.Sentence = reads + ": " + why
			f.Next = next
			if ch.level.Low != ch.level.High {
				f.Verdict, f.Next = Pass, ""
			}
			return f
		}
		f.Verdict = Fail
		switch {
		case on && r.from <= t.First+1e9:
			f.Sentence = reads + ", since its first frame"
		case on:
			f.Sentence = reads + ", since " + v.since(r.from)
		default:
			f.Sentence = name + " stood at " + show(r.value, value) + " for " + show(r.seconds(), "s") + " (" + plural(r.samples, "sample", "samples") + "), " + v.since(r.from) + ", and then went on"
		}
		f.Sentence += ": a strain gauge always shows some noise"
		f.Next = "While the vehicle stands, switch the amplifier off and on, then look at the channel " + name + " there; where it stands still again, at its plug and its pick-up."
	case ch.level.Count < frozenSamples || float64(t.Last-t.First)*1e-9 < frozenS:
		f.Sentence = name + " has sent " + plural(ch.level.Count, "sample", "samples") + "; " + num(frozenSamples, 0) + " in " + num(frozenS, 0) + " s are the least"
		f.Next = "Go on listening for some seconds."
	case s.Clips == ch.level.Count:
		f.Sentence = name + " has been at the end of its range throughout"
		f.Next = "See to the check clipped of " + name + " first."
	default:
		f.Verdict = Pass
		f.Sentence = name + " changes: it never stood still for longer than " + show(r.seconds(), "s")
	}
	return f
}

// present is the run under way.
func (s *Signal) present(t *Timing, value float64) run {
	if s.same == 0 {
		return run{}
	}
	from := max(s.since, t.First)
	return run{samples: s.same + 1, from: from, to: max(t.Last, from), value: value}
}

// repeats is the share of samples that repeat the one before, outside of long runs; 0 where that is not known.
func (s *Signal) repeats(count int64, r run, on bool) float64 {
	outside := count - s.InRuns
	if on {
		outside -= r.samples
	}
	if outside < frozenSamples {
		return 0
	}
	p := float64(s.Repeats) / float64(outside)
	if s.shares {
		p = math.Min(p, s.Share) // at rest a coarse channel repeats more than where it moves; the least of it is the noise's own
	}
	return p
}

// natural is how many samples the longest run by chance has, where a sample repeats the one before with
// probability p in count samples: p^n·count = 1, three times that to be sure.
func natural(p float64, count int64) float64 {
	if p <= 0 {
		return 0
	}
	return 3 * math.Log(float64(max(count, 2))) / -math.Log(math.Min(p, 0.9999))
}

// coarse is the share of repeats at rest from which on the noise is below about a quarter of a step: normal
// noise of a quarter step about the middle of it leaves it in one of 22 samples.
const coarse = 0.9

// mayStand says why a component may well stand still; empty where it may not.
func (v *view) mayStand(i int, q Quantity) (why, next string) {
	c := &v.corners[i]
	ch := c.setup.Channels[q]
	s := &v.channels[ch].signal
	step := v.setup.Channels[ch].Step
	first, last, limit := Fx, Fz, v.setup.Limits.NoiseForceN
	if q >= Mx {
		first, last, limit = Mx, Mz, v.setup.Limits.NoiseMomentNm
	}
	if step <= limit/25 || s.shares && s.Share < coarse {
		return "", ""
	}
	for o := first; o <= last; o++ { // what is like it shows noise
		if k := c.setup.Channels[o]; k != None && o != q {
			if n := &v.channels[k].signal; n.shares && n.Share < coarse && v.setup.Channels[k].Step > step/2 {
				return "", ""
			}
		}
	}
	l := &v.channels[ch].level
	if l.Low == l.High && c.setup.Forces == Rotating && (q == Fx || q == Fz) && c.encoder.Travel > 2*math.Pi && v.hangingN(i) > step {
		return "", "" // the weight turned in it, and it did not move
	}
	return "its raw step of " + show(step, unitOf(q)) + " is too coarse for its noise, so that tells nothing", "Load " + c.setup.Name + " and move it, or let the amplifier send smaller steps."
}
