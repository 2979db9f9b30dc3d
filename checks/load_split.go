package checks

import (
	"math"
	"strconv"
)

// splits says which side or axle carries a share of the vehicle that is not the setup's, beyond
// load_sum_ratio; empty where all fit or the setup does not give every load.
func (v *view) splits() string {
	type part struct{ reads, says float64 }
	var whole part
	sides := [2]part{}
	axles := map[int]part{}
	last := 0
	for i := range v.corners {
		set := v.corners[i].setup
		reads, ok := v.restLoad(i)
		if !ok || set.LoadN <= 0 {
			return ""
		}
		add := func(p part) part { return part{p.reads + reads, p.says + set.LoadN} }
		whole = add(whole)
		sides[set.Side] = add(sides[set.Side])
		axles[set.Axle] = add(axles[set.Axle])
		last = max(last, set.Axle)
	}
	text := ""
	say := func(name string, p part) {
		reads, says := p.reads/whole.reads, p.says/whole.says
		if p.says > 0 && p.says < whole.says && math.Abs(reads/says-1) > v.setup.Limits.LoadSumRatio {
			text += "; " + name + " carries " + show(reads, "percent") + " of it, the setup says " + show(says, "percent")
		}
	}
	say("the left side", sides[Left])
	say("the right side", sides[Right])
	for a := 0; a <= last; a++ {
		say("axle "+strconv.Itoa(a), axles[a])
	}
	return text
}
