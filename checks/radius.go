package checks

import (
	"math"
	"slices"

	"plumbline/checks/fit"
)

// rollSeconds is how many windows of straight rolling give an uncertainty.
const rollSeconds = 3

// radius: does each wheel roll with the radius of its tyre? R = v/ω on straight rolls, against
// 3.05·D/2π with D of the designation (UN Regulation No. 30, ETRTO). What the ground speed sensor
// shows at rest is taken off. Where all wheels are off alike, it is not the wheels.
func radius(v *view) []Finding {
	return v.straight.radii
}

// rolling is a wheel's radius on straight rolls.
type rolling struct {
	radius      fit.Welford // m, of each window
	slow, fast  fit.Welford // of those slower and faster than the mean
	revolutions float64
}

// rolled returns the radius of corner i by ground speed sensor k of the roll.
func (v *view) rolled(i, k int) rolling {
	var r rolling
	var speed fit.Welford
	for pass := range 2 {
		for _, row := range v.straight.rows {
			x := v.speed(row, k)
			d := v.turned(row, i)
			of := x * row[0] / d
			switch {
			case of-of != 0:
			case pass == 0:
				r.radius.Add(of)
				r.revolutions += d / (2 * math.Pi)
				speed.Add(x)
			case x < speed.Mean():
				r.slow.Add(of)
			default:
				r.fast.Add(of)
			}
		}
	}
	return r
}

// speedOf returns the ground speed sensor that corner i is compared with: its own, else one of the
// vehicle, else any; −1: none.
func (v *view) speedOf(i int) int {
	best := -1
	for k, o := range v.rolls.optics {
		set := v.optics[o].setup
		switch {
		case set.Channels[SpeedX] == None:
		case set.Corner == i:
			return k
		case best < 0 || set.Corner < 0 && v.optics[v.rolls.optics[best]].setup.Corner >= 0:
			best = k
		}
	}
	return best
}

func (v *view) radiusOf(i int) Finding {
	set := v.corners[i].setup
	name := set.Name
	f := Finding{Subject: name, Unit: "m"}
	expected, ok := v.radiusM(i)
	k := v.speedOf(i)
	if !ok || k < 0 || !set.fitted(Angle) {
		f.Verdict, f.Sentence = Absent, name+" has no angle, no radial tyre in the setup, or no ground speed to compare them with"
		return f
	}
	limit := v.setup.Limits.RadiusRatio * expected
	f.Limit = known(limit)
	r := v.rolled(i, k)
	f.Evidence = v.rollEvidence(r.radius.N(), r.revolutions)
	if r.radius.N() > 0 {
		f.Value = known(r.radius.Mean())
	}
	if r.radius.N() < rollSeconds {
		f.Sentence, f.Next = v.rollOn(i, r.radius.N())
		return f
	}
	step := v.setup.Channels[v.optics[v.rolls.optics[k]].setup.Channels[SpeedX]].Step
	u := fit.Expanded(scatter(&r.radius), fit.TypeB(fit.Rectangular(step/2)*expected))
	f.guard(r.radius.Mean(), expected, u, limit)
	sensor := v.optics[v.rolls.optics[k]].setup.Name
	reads := name + " rolls with a radius of " + within(r.radius.Mean(), u, "m") + ", its tyre " + set.Tyre + " has " + show(expected, "m")
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads + ": " + show(r.radius.Mean()/expected-1, "percent") + " off"
		f.Next = "Compare the tyre of " + name + " and its pressure with the setup, then angle_counts with the encoder."
		if common, alike := v.alike(k); alike && math.Abs(r.radius.Mean()/expected-1-common) < v.setup.Limits.RadiusRatio {
			f.Verdict = Inconclusive
			f.Sentence = reads + "; all wheels are off alike, so it is " + sensor + " or the tyre in the setup"
			f.Next = "See to the check agreement of " + sensor + " first."
		}
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(v.setup.Limits.RadiusRatio, "percent") + " to decide"
		f.Next = "Roll on straight ahead at a steady speed."
	}
	if f.Verdict == Inconclusive && f.Uncertainty.Known && fit.Guard(f.Value.Value-expected, f.Uncertainty.Value, limit) == fit.Beyond {
		f.Uncertainty = Number{} // it is beyond the limit, but not by this wheel's doing
	}
	return f
}

// rollOn says what is missing where a wheel has not rolled straight for long enough.
func (v *view) rollOn(i int, n int64) (sentence, next string) {
	name := v.corners[i].setup.Name
	sentence = name + " has rolled straight ahead at a steady speed for " + plural(n, "second", "seconds") + "; 3 are the least"
	if v.straight.curves > 0 {
		sentence += ", and " + plural(int64(v.straight.curves), "second", "seconds") + " in curves do not count"
	}
	return sentence, "Roll the vehicle straight ahead at a steady walking pace or more for some seconds."
}

func (v *view) rollEvidence(n int64, revolutions float64) Evidence {
	if n == 0 {
		return Evidence{}
	}
	from, to := v.rolls.span()
	return Evidence{Samples: n, Revolutions: significant(revolutions), From: from, To: to}
}

// commonOff is by how much all wheels together are off their tyres by one ground speed sensor.
type commonOff struct {
	shares      fit.Welford // relative, of each window
	revolutions float64
	wheels      int
}

// alike tells whether the wheels are beyond doubt off alike: not the wheels are off then.
func (v *view) alike(k int) (common float64, alike bool) {
	c := &v.straight.wheels[k]
	if c.wheels < 2 || c.shares.N() < rollSeconds {
		return 0, false
	}
	u := fit.Expanded(scatter(&c.shares))
	return c.shares.Mean(), fit.Guard(c.shares.Mean(), u, v.setup.Limits.RadiusRatio) == fit.Beyond
}

// common takes of each window the median of what the wheels are off, of two wheels the smaller if
// they are off to the same side.
func (v *view) common(k int) (c commonOff) {
	off := make([]float64, 0, len(v.corners))
	for _, row := range v.straight.rows {
		x := v.speed(row, k)
		off = off[:0]
		turns := 0.0
		for i := range v.corners {
			expected, ok := v.radiusM(i)
			d := v.turned(row, i)
			if o := x*row[0]/(d*expected) - 1; ok && o-o == 0 {
				off = append(off, o)
				turns += d / (2 * math.Pi)
			}
		}
		if len(off) < 2 {
			continue
		}
		c.wheels = max(c.wheels, len(off))
		c.revolutions += turns / float64(len(off))
		if len(off) == 2 {
			c.shares.Add(shared(off, 0))
			continue
		}
		slices.Sort(off)
		c.shares.Add((off[(len(off)-1)/2] + off[len(off)/2]) / 2)
	}
	return c
}
