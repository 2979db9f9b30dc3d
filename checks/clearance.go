package checks

import (
	"math"

	"plumbline/checks/fit"
)

// clearance: does each sensor bar sit as high above the ground as it should? The mean of its
// heights, at rest on the ground; a bar rises with a lifted wheel.
func clearance(v *view) []Finding {
	var out []Finding
	for i := range v.optics {
		if v.optics[i].setup.Kind == CamberBar {
			out = append(out, v.clearanceOf(&v.optics[i]))
		}
	}
	return out
}

// height returns the mean of the heights that are fitted; NaN where one is missing.
func (o *optic) height(r *reading) float64 {
	sum, n := 0.0, 0.0
	for q := HeightOuter; q <= HeightThird; q++ {
		if o.setup.Channels[q] != None {
			sum += r.of(q)
			n++
		}
	}
	return sum / n
}

// stepOf is the largest raw step of some quantities of an optical sensor.
func (v *view) stepOf(o *optic, qs ...Quantity) float64 {
	step := 0.0
	for _, q := range qs {
		if ch := o.setup.Channels[q]; ch != None {
			step = math.Max(step, v.setup.Channels[ch].Step)
		}
	}
	return step
}

// restEvidence is what the seconds at rest of an optical sensor are.
func (o *optic) restEvidence() Evidence {
	return Evidence{Samples: o.restS, From: o.restFrom, To: o.restTo}
}

// restOn says what is missing where a sensor has not been at rest on the ground for long enough.
func (v *view) restOn(o *optic, n int64) (sentence, next string) {
	sentence = o.setup.Name + " has measured for " + plural(n, "second", "seconds") + " while the vehicle stood on the ground; 3 are the least"
	next = "Let the vehicle stand on its wheels at rest for some seconds, with nothing under " + o.setup.Name + "."
	if o.seen+o.share[2] > 0 && o.share[3] > o.share[2]/2 {
		next = "See that the lenses of " + o.setup.Name + " are clean and that it looks at the ground, then let the vehicle stand for some seconds."
	}
	return sentence, next
}

func (v *view) clearanceOf(o *optic) Finding {
	set := o.setup
	f := Finding{Subject: set.Name, Unit: "m", Limit: known(set.ClearanceToleranceM), Evidence: o.restEvidence()}
	if set.Channels[HeightOuter] == None && set.Channels[HeightInner] == None && set.Channels[HeightThird] == None || set.ClearanceM <= 0 {
		f.Verdict, f.Sentence = Absent, set.Name+" has no heights, or no clearance_m in the setup to compare them with"
		return f
	}
	w := o.atRest(o.height)
	if w.N() > 0 {
		f.Value = known(w.Mean())
	}
	if w.N() < restSeconds {
		f.Sentence, f.Next = v.restOn(o, w.N())
		return f
	}
	u := f.expanded(scatter(&w), fit.Rectangular(v.stepOf(o, HeightOuter, HeightInner, HeightThird)/2), 0)
	f.guard(w.Mean(), set.ClearanceM, u, set.ClearanceToleranceM)
	reads := set.Name + " is " + within(w.Mean(), u, "m") + " above the ground"
	wanted := show(set.ClearanceM, "m") + " ± " + show(set.ClearanceToleranceM, "m")
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		way := "lower"
		if w.Mean() < set.ClearanceM {
			way = "raise"
		}
		f.Sentence = reads + ", not " + wanted
		f.Next = "See that nothing lies under " + set.Name + " and that its beams meet the ground, then " + way + " it by " + show(math.Abs(w.Mean()-set.ClearanceM), "m") + "."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the end of " + wanted + " to decide"
		f.Next = "Set " + set.Name + " to " + show(set.ClearanceM, "m") + ", or let the vehicle stand for some more seconds."
	}
	return f
}
