package checks

import (
	"math"

	"plumbline/checks/fit"
)

// load: does each corner carry what the corner scales said, and all together the vehicle?
//
// The transducer does not feel the mass outboard of it: contact load = |f| + m·g at rest on the
// ground. The size of the radial force is taken, so that an error of the angle does not
// show here a second time.
func load(v *view) []Finding {
	var out []Finding
	var sum, squares float64
	all, fitted := true, false
	for i := range v.corners {
		f, u := v.loadOf(i)
		out = append(out, f)
		if f.Verdict == Absent {
			all = false
			continue
		}
		fitted = true
		if !f.Value.Known {
			all = false
			continue
		}
		sum += f.Value.Value
		squares += float64(u * u)
	}
	return append(out, v.loadSum(sum, math.Sqrt(squares), all, fitted))
}

func (v *view) loadOf(i int) (Finding, float64) {
	c := &v.corners[i]
	set := c.setup
	name := set.Name
	f := Finding{Subject: name, Unit: "N"}
	if !set.fitted(Fx, Fz) || set.LoadN <= 0 {
		f.Verdict, f.Sentence = Absent, name+" has no radial forces, or no load_n in the setup to compare them with"
		return f, 0
	}
	limit := v.setup.Limits.LoadRatio * set.LoadN
	f.Limit = known(limit)
	r := &c.rest
	f.Evidence = Evidence{Samples: r.Samples, From: r.From, To: r.To}
	value, ok := v.restLoad(i)
	if ok {
		f.Value = known(value)
	}
	if r.Force.N() < 3 {
		f.Sentence = name + " has stood on the ground at rest for " + plural(r.Force.N(), "second", "seconds") + "; 3 are the least"
		f.Next = "Let the vehicle stand on its wheels at rest for some seconds, brakes released."
		return f, 0
	}
	u := fit.Expanded(scatter(&r.Force), fit.TypeB(fit.Rectangular(v.setup.Channels[set.Channels[Fz]].Step/2)))
	f.guard(value, set.LoadN, u, limit)
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
	return f, u
}

func (v *view) loadSum(sum, u float64, all, fitted bool) Finding {
	f := Finding{Subject: "vehicle", Unit: "N"}
	weight := v.setup.MassKg * gravity
	if weight <= 0 || !fitted {
		f.Verdict, f.Sentence = Absent, "the setup gives no mass_kg to compare the sum of the loads with"
		return f
	}
	f.Limit = known(v.setup.Limits.LoadSumRatio * weight)
	if !all {
		f.Sentence = "the loads of all corners are not known yet"
		f.Next = "Let the vehicle stand on its wheels at rest for some seconds, brakes released."
		return f
	}
	f.guard(sum, weight, u, f.Limit.Value)
	f.Sentence = "the corners carry " + num(sum, 0) + " N together, " + num(v.setup.MassKg, 0) + " kg weigh " + num(weight, 0) + " N"
	if f.Verdict == Fail {
		f.Next = "Compare mass_kg and load_n with the scales, then look at the corner that is off."
	}
	return f
}
