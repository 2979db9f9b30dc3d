package checks

import "slices"

// standing: a channel stands still, so nothing that is read from it can be told; where it is a radial force that is
// what the turns and the load rest on, and with the load of the corner the sum of the vehicle.
func (x *explainer) standing(i int) {
	name := x.name(i)
	var frozen, checks []string
	radial := false
	for k := range x.findings {
		f := &x.findings[k]
		if f.Check != "frozen" || f.Subject != name || f.Verdict != Fail || f.Cause != "" {
			continue
		}
		frozen = append(frozen, f.Channel)
		radial = radial || f.Channel == Fx.String() || f.Channel == Fz.String()
		for _, check := range [...]string{"frozen", "noise", "spikes", "hum"} {
			checks = append(checks, check+"/"+f.Channel)
		}
	}
	if frozen == nil {
		return
	}
	subjects := []string{name}
	if radial {
		for k := range x.findings { // what the turns did show before it froze stays
			if f := &x.findings[k]; f.Subject == name && f.Verdict == Inconclusive && slices.Contains(fromTurns(), f.Check) {
				checks = append(checks, f.Check+"/"+f.Channel)
			}
		}
		if f := x.find("load", name); f != nil && f.Verdict != Pass {
			checks = append(checks, "load/")
			if x.blamesAlone(name) {
				subjects = append(subjects, "vehicle")
			}
		}
	}
	verb, it := "stands", "its value"
	if len(frozen) > 1 {
		verb, it = "stand", "their values"
	}
	x.add(Cause{
		ID: "stands-still:" + name, Subjects: subjects,
		Sentence: list(frozen) + " of " + name + " " + verb + " still, so nothing that rests on " + it + " can be told",
		Next:     "Look at the bridge and the plug of " + list(frozen) + " of " + name + " and at the amplifier's channel; then turn the lifted wheel again.",
	}, checks)
}

// blamesAlone tells whether the sum of the loads is off and no other corner is that could make it so.
func (x *explainer) blamesAlone(name string) bool {
	sum := false
	for k := range x.findings {
		f := &x.findings[k]
		switch {
		case f.Check != "load" || f.Subject == name:
		case f.Subject == "vehicle":
			sum = f.Verdict == Fail || f.Verdict == Inconclusive
		case f.Verdict == Fail:
			return false
		}
	}
	return sum
}
