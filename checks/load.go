package checks

import (
	"math"

	"plumbline/checks/fit"
)

// load: does each corner carry what the corner scales said, and all together the vehicle?
//
// The transducer does not feel the mass outboard of it: contact load = |f| + m·g at rest on the
// ground. The size of the radial force is taken, so that an error of the angle does not
// show here a second time; the zero that the turns have shown is taken off before.
func load(v *view) []Finding {
	out := make([]Finding, 0, len(v.corners)+1) // and the vehicle
	var sum, squares float64
	all, fitted := true, true
	for i := range v.corners {
		out = append(out, v.loadOf(i))
		if !v.corners[i].setup.fitted(Fx, Fz) {
			fitted = false
			continue
		}
		if v.corners[i].rest.Force.N() < restSeconds {
			all = false
			continue
		}
		value, _ := v.restLoad(i)
		sum += value
		squares += square(v.restUncertainty(i))
	}
	return append(out, v.loadSum(sum, math.Sqrt(squares), all, fitted && len(out) > 0))
}

// restSeconds is how many seconds of rest give an uncertainty.
const restSeconds = 3

// sensitivityRatio is how well the sensitivity of a measuring element is known, half of the width; common practice.
const sensitivityRatio = 0.01

// restUncertainty is the expanded uncertainty of the load of corner i, N.
func (v *view) restUncertainty(i int) float64 {
	step := v.setup.Channels[v.setup.Corners[i].Channels[Fz]].Step
	force := v.restForce(i)
	_, zero := v.zeroVector(i)
	sensitivity := fit.TypeB(fit.Rectangular(sensitivityRatio * math.Abs(force.Mean())))
	return fit.Expanded(scatter(&force), zero, sensitivity, fit.TypeB(fit.Rectangular(step/2)))
}

func (v *view) loadOf(i int) Finding {
	c := &v.corners[i]
	set := c.setup
	name := set.Name
	f := Finding{Subject: name, Unit: "N"}
	if !set.fitted(Fx, Fz) || set.LoadN <= 0 {
		f.Verdict, f.Sentence = Absent, name+" has no radial forces, or no load_n in the setup to compare them with"
		return f
	}
	limit := v.setup.Limits.LoadRatio * set.LoadN
	f.Limit = known(limit)
	r := &c.rest
	f.Evidence = Evidence{Samples: r.Samples, From: r.From, To: r.To}
	value, ok := v.restLoad(i)
	if ok {
		f.Value = known(value)
	}
	if r.Force.N() < restSeconds {
		f.Sentence = name + " has stood on the ground at rest for " + plural(r.Force.N(), "second", "seconds") + "; 3 are the least"
		f.Next = "Let the vehicle stand on its wheels at rest for some seconds, brakes released."
		return f
	}
	f.guard(value, set.LoadN, v.restUncertainty(i), limit)
	reads := name + " carries " + num(value, 0) + " N on the ground, the setup says " + num(set.LoadN, 0) + " N"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads + ": off by " + show((value-set.LoadN)/set.LoadN, "percent")
		f.Next = "Compare load_n of " + name + " with the corner scales, then its plug and its sensitivity."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(v.setup.Limits.LoadRatio, "percent") + " to decide"
		f.Next = "Roll the vehicle a metre, let it settle and stand for some seconds."
	}
	return f
}

func (v *view) loadSum(sum, u float64, all, fitted bool) Finding {
	f := Finding{Subject: "vehicle", Unit: "N"}
	weight := v.setup.MassKg * gravity
	if weight <= 0 || !fitted {
		f.Verdict, f.Sentence = Absent, "the setup gives no mass_kg to compare the sum of the loads with"
		return f
	}
	f.Limit = known(v.setup.Limits.LoadSumRatio * weight)
	var stated float64
	for i := range v.setup.Corners {
		stated += v.setup.Corners[i].LoadN
	}
	if stated < 0.85*weight {
		f.Verdict, f.Sentence = Absent, "the corners of the setup carry "+show(stated/weight, "percent")+" of the vehicle's mass, so their sum is no check of it"
		return f
	}
	if !all {
		f.Sentence = "the loads of all corners are not known yet"
		f.Next = "Let the vehicle stand on its wheels at rest for some seconds, brakes released."
		return f
	}
	f.guard(sum, weight, u, f.Limit.Value)
	f.Sentence = "the corners carry " + num(sum, 0) + " N together, " + num(v.setup.MassKg, 0) + " kg weigh " + num(weight, 0) + " N" + v.splits()
	if f.Verdict != Pass {
		f.Next = "Compare mass_kg and load_n with the scales, then look at the corner that is off."
	}
	return f
}
