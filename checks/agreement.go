package checks

import (
	"math"
	"slices"

	"plumbline/checks/fit"
)

// agreement: do all wheels turn as often as the others over the same distance? Corners with the
// same tyre are compared on straight rolls with the median of their group; a group of two with each other.
// Who is off is said only where more than half of a group agree, or another check knows it.
// A single wheel is compared with the ground speed: at any speed a turn is as long. And each ground
// speed sensor with what all wheels and their tyres say together.
func agreement(v *view) []Finding {
	out := make([]Finding, len(v.corners))
	done := make([]bool, len(v.corners))
	for i := range v.corners {
		if done[i] {
			continue
		}
		var group []int
		for k := i; k < len(v.corners); k++ {
			if a, b := v.corners[i].setup, v.corners[k].setup; k == i || b.Tyre == a.Tyre && a.fitted(Angle) && b.fitted(Angle) {
				group = append(group, k)
				done[k] = true
			}
		}
		v.agree(group, out)
	}
	for k := range v.rolls.optics {
		out = append(out, v.speedAgrees(k))
	}
	return out
}

// compared is one wheel against the others of its group.
type compared struct {
	corner      int
	ratio       fit.Welford // revolutions against the others' − 1, of each window
	revolutions float64
	u           float64
	decision    fit.Decision
}

// agree fills the findings of a group of corners.
func (v *view) agree(group []int, out []Finding) {
	limit := v.setup.Limits.AgreementRatio
	if len(group) == 1 {
		out[group[0]] = v.alone(group[0])
		return
	}
	wheels, judged := v.compare(group), 0
	var off []int
	for k := range wheels {
		w := &wheels[k]
		if w.ratio.N() < rollSeconds {
			continue
		}
		judged++
		w.u = fit.Expanded(scatter(&w.ratio))
		w.decision = fit.Guard(significant(w.ratio.Mean()), significant(w.u), significant(limit))
		if w.decision == fit.Beyond {
			off = append(off, w.corner)
		}
	}
	told := 2*len(off) < judged && judged > 2
	for k := range wheels {
		w := &wheels[k]
		f := &out[w.corner]
		*f = Finding{Subject: v.corners[w.corner].setup.Name, Limit: known(limit), Evidence: v.rollEvidence(w.ratio.N(), w.revolutions)}
		if w.ratio.N() > 0 {
			f.Value = known(w.ratio.Mean())
		}
		switch {
		case w.ratio.N() < rollSeconds:
			f.Sentence, f.Next = v.rollOn(w.corner, w.ratio.N())
		case w.decision == fit.Beyond && !told:
			v.untold(w, off, f)
		default:
			v.told(w, group, f)
		}
	}
}

// compare goes through the straight windows.
func (v *view) compare(group []int) []compared {
	wheels := make([]compared, len(group))
	turned, valid := make([]float64, len(group)), make([]float64, 0, len(group))
	for k, i := range group {
		wheels[k].corner = i
	}
	for _, row := range v.straight.rows {
		valid = valid[:0]
		for k, i := range group {
			turned[k] = v.turned(row, i)
			if turned[k] > 0 {
				valid = append(valid, turned[k])
			}
		}
		if len(valid) < 2 {
			continue
		}
		slices.Sort(valid)
		middle := (valid[(len(valid)-1)/2] + valid[len(valid)/2]) / 2
		for k, d := range turned {
			if !(d > 0) {
				continue
			}
			against := middle
			if len(group) == 2 {
				against = turned[1-k]
			}
			wheels[k].ratio.Add(d/against - 1)
			wheels[k].revolutions += d / (2 * math.Pi)
		}
	}
	return wheels
}

// told fills the finding of a wheel that the others of its group can be held against.
func (v *view) told(w *compared, group []int, f *Finding) {
	f.guard(w.ratio.Mean(), 0, w.u, v.setup.Limits.AgreementRatio)
	var others []string
	for _, i := range group {
		if i != w.corner {
			others = append(others, v.corners[i].setup.Name)
		}
	}
	reads := f.Subject + " turns " + more(w.ratio.Mean()) + " often than " + list(others) + " over the same distance"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads + ", beyond " + show(v.setup.Limits.AgreementRatio, "percent")
		f.Next = v.offNext(w.corner, w.ratio.Mean())
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(v.setup.Limits.AgreementRatio, "percent") + " to decide"
		f.Next = "Roll on straight ahead at a steady speed."
	}
}

// untold fills the finding of a wheel that is off its group, of which no more than half agree: only what
// another check knows tells whose doing it is.
func (v *view) untold(w *compared, off []int, f *Finding) {
	var culprits, names []string
	for _, i := range off {
		names = append(names, v.corners[i].setup.Name)
		if v.guilty(i) {
			culprits = append(culprits, v.corners[i].setup.Name)
		}
	}
	reads := f.Subject + " turns " + more(w.ratio.Mean()) + " often than the others over the same distance"
	switch {
	case v.guilty(w.corner):
		v.told(w, off, f)
	case len(culprits) > 0:
		f.Sentence = reads + ", and " + list(culprits) + " is off by another check"
		f.Next = "See to the checks radius and angle-slip of " + list(culprits) + " first."
	default:
		f.Sentence = reads + ": " + list(names) + " do not agree, and nothing tells which is off"
		f.Next = "Compare tyres and pressures of " + list(names) + "; a ground speed sensor and the tyre in the setup would tell."
	}
}

// guilty tells whether another check knows that corner i's revolutions are not to be trusted.
func (v *view) guilty(i int) bool {
	return v.straight.radii[i].Verdict == Fail || v.slips[i].Verdict == Fail
}

func (v *view) offNext(i int, ratio float64) string {
	name := v.corners[i].setup.Name
	if v.slips[i].Verdict == Fail {
		return "See to the check angle-slip of " + name + " first."
	}
	what := "a tyre too large"
	if ratio > 0 {
		what = "a tyre too small or too soft"
	}
	return "Look for " + what + " on " + name + "; then compare its encoder's counts with angle_counts."
}

// more writes "1.20 % more" or "0.30 % less".
func more(ratio float64) string {
	if ratio < 0 {
		return num(-100*ratio, 2) + " % less"
	}
	return num(100*ratio, 2) + " % more"
}

// alone judges a wheel that no other can be compared with: by the ground speed.
func (v *view) alone(i int) Finding {
	set := v.corners[i].setup
	name, limit := set.Name, v.setup.Limits.AgreementRatio
	f := Finding{Subject: name, Limit: known(limit)}
	k := v.speedOf(i)
	if k < 0 || !set.fitted(Angle) {
		f.Verdict, f.Sentence = Absent, name+" has no angle, or neither another wheel of its tyre nor a ground speed to compare it with"
		return f
	}
	r := v.rolled(i, k)
	f.Evidence = v.rollEvidence(r.radius.N(), r.revolutions)
	if r.slow.N() < rollSeconds || r.fast.N() < rollSeconds {
		f.Sentence = name + " has rolled straight ahead for " + plural(r.slow.N(), "second", "seconds") + " slowly and " + num(float64(r.fast.N()), 0) + " faster; 3 of each are the least"
		f.Next = "Roll the vehicle straight ahead, first at walking pace, then faster, for some seconds each."
		return f
	}
	slow, fast := r.slow.Mean(), r.fast.Mean()
	a, b := scatter(&r.slow), scatter(&r.fast)
	u := fit.Expanded(fit.Part{U: a.U / slow, DOF: a.DOF}, fit.Part{U: b.U / slow, DOF: b.DOF})
	f.guard(slow/fast-1, 0, u, limit)
	sensor := v.optics[v.rolls.optics[k]].setup.Name
	reads := name + " turns " + more(slow/fast-1) + " often for the way of " + sensor + " when it is faster"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads + ", beyond " + show(limit, "percent")
		f.Next = "Look for lost counts of the encoder of " + name + ", then at " + sensor + "."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(limit, "percent") + " to decide"
		f.Next = "Roll on straight ahead at a steady speed."
	}
	return f
}

// speedAgrees holds ground speed sensor k of the roll against all wheels and their tyres.
func (v *view) speedAgrees(k int) Finding {
	set := v.optics[v.rolls.optics[k]].setup
	f := Finding{Subject: set.Name, Limit: known(v.setup.Limits.RadiusRatio)}
	tyres := 0
	for i := range v.corners {
		_, ok := v.radiusM(i)
		count(&tyres, ok && v.corners[i].setup.fitted(Angle))
	}
	if set.Channels[SpeedX] == None || tyres < 2 {
		f.Verdict, f.Sentence = Absent, set.Name+" has no speed_x, or there are not two wheels with a radial tyre in the setup to compare it with"
		return f
	}
	shares := &v.straight.wheels[k].shares
	f.Evidence = v.rollEvidence(shares.N(), v.straight.wheels[k].revolutions)
	if shares.N() < rollSeconds {
		f.Sentence, f.Next = v.rollOn(0, shares.N())
		f.Sentence = "the vehicle" + f.Sentence[len(v.corners[0].setup.Name):]
		return f
	}
	u := fit.Expanded(scatter(shares))
	f.guard(shares.Mean(), 0, u, v.setup.Limits.RadiusRatio)
	reads := set.Name + " shows " + more(shares.Mean()) + " way than all wheels and their tyres together"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads + ", beyond " + show(v.setup.Limits.RadiusRatio, "percent")
		f.Next = "Compare the factor of " + set.Name + " with a measured distance, and the tyre in the setup with those on the wheels."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(v.setup.Limits.RadiusRatio, "percent") + " to decide"
		f.Next = "Roll on straight ahead at a steady speed."
	}
	return f
}
