package checks

import (
	"math"

	"plumbline/checks/fit"
)

// angleOffset: by how much is the transmitted angle ahead of the true one, δ? The hanging weight
// points down: δ = −arg(i·g₊). Where the angle comes later than the force by τ, δ = δ₀ − ω·τ; turning
// forward and back tells the two apart, and δ₀ is judged.
func angleOffset(v *view) []Finding {
	return v.eachCorner(v.angleOffsetOf)
}

func (v *view) angleOffsetOf(i int) Finding {
	c := &v.corners[i]
	set := c.setup
	name, limit := set.Name, v.setup.Limits.AngleOffsetRad
	f := Finding{Subject: name, Unit: "rad", Limit: known(limit), Evidence: v.spins[i].evidence}
	if !set.fitted(Fx, Fz, Angle) {
		f.Verdict, f.Sentence = Absent, name+" has no radial forces or no angle"
		return f
	}
	if v.blocked(i, &f) {
		return f
	}
	s := &v.spins[i]
	if text, next, ok := v.turnMore(i, false); !ok {
		if len(s.revolutions) > 0 && !s.reversed() {
			mean, _ := offsets(s)
			f.Value = known(mean)
		}
		f.Sentence, f.Next = text, next
		return f
	}
	if s.plus < 2*s.minus {
		f.Sentence = "the angle of " + name + " counts against its forces, so it has no offset to be told"
		f.Next = "See to the check angle-sense of " + name + " first."
		return f
	}
	if v.slips[i].Verdict == Fail {
		f.Sentence = "the angle of " + name + " loses counts from turn to turn, so its offset does not stay"
		f.Next = "See to the check angle-slip of " + name + " first."
		return f
	}
	value, part := offsets(s)
	force := v.setup.Channels[set.Channels[Fz]].Step
	resolution := math.Hypot(fit.Rectangular(c.encoder.step/2), fit.Rectangular(force/2)/s.size())
	u := f.expanded(part, resolution, fit.Rectangular(c.encoder.count))
	f.guard(value, 0, u, limit)
	if lag, ok := s.unknownLag(); ok && f.Verdict == Fail && math.Abs(value)-u-lag <= limit {
		other := "back"
		if s.forward == 0 {
			other = "forward"
		}
		f.guard(value, 0, u+lag, limit)
		f.Verdict = Inconclusive
		f.Sentence = "the angle of " + name + " is " + within(value, u+lag, f.Unit) + " off its force axes: it was turned one way only, and an angle that comes up to " + show(likelySkewS, "s") + " late does that as well"
		f.Next = "Turn " + name + " three turns " + other + "."
		return f
	}
	reads := "the angle of " + name + " is " + within(value, u, f.Unit) + " off its force axes"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads + ", more than " + show(limit, f.Unit)
		f.Next = "Change the angle offset of " + name + " at the amplifier by " + show(-value, f.Unit) + ", then turn the lifted wheel again."
		if k, ok := boltHoles(value, set.Bolts); ok {
			f.Sentence += ": that is " + holes(k) + " of " + num(float64(set.Bolts), 0)
			f.Next = "Mount the wheel of " + name + " " + holes(k) + " back, on its reference mark, and tighten it anew, or change the angle offset by " + show(-value, f.Unit) + "."
		}
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(limit, f.Unit) + " to decide"
		f.Next = "Turn " + name + " evenly for some more turns forward and back."
		if c.encoder.count*1.2 > limit {
			f.Sentence = reads + "; an encoder of " + num(float64(set.AngleCounts), 0) + " counts cannot show less than the limit of " + show(limit, f.Unit)
			f.Next = "Set limits: angle_offset_deg to what this encoder can show."
		}
	}
	f.Sentence += v.groundOffset(i, value, u)
	return f
}

// likelySkewS is how late an angle may come against the forces, by filters and devices of their own; common practice.
const likelySkewS = 0.02

// unknownLag returns by how much such a delay turns δ at the speed of the turns, rad; ok is false where turns both ways
// tell the delay.
func (s *spin) unknownLag() (float64, bool) {
	if _, _, _, _, ok := s.line(); ok {
		return 0, false
	}
	_, _, omega := s.deltas()
	var w fit.Welford
	for _, o := range omega {
		w.Add(math.Abs(o))
	}
	return likelySkewS * w.Mean(), true
}

// offsets returns δ₀, rad, and its uncertainty from the scatter between turns.
func offsets(s *spin) (float64, fit.Part) {
	if delta0, u, _, _, ok := s.line(); ok {
		return delta0, u
	}
	middle, delta, _ := s.deltas()
	var w fit.Welford
	for _, d := range delta {
		w.Add(d)
	}
	return fit.Wrap(middle + w.Mean()), scatter(&w)
}

// boltHoles returns how many holes round a wheel of n bolts sits when its angle is off by delta.
// A hand does not miss a hole by 5°; common practice.
func boltHoles(delta float64, n int) (int, bool) {
	if n < 2 {
		return 0, false
	}
	pitch := 2 * math.Pi / float64(n)
	k := int(math.Round(delta / pitch))
	if k == 0 || math.Abs(delta-float64(k)*pitch) > 5*math.Pi/180 {
		return 0, false
	}
	return k, true
}

func holes(k int) string {
	if k < 0 {
		k = -k
	}
	return plural(int64(k), "bolt hole", "bolt holes")
}
