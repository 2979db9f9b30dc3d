package checks

import "strings"

// Placement of optical sensors: a board that is slid under one sensor bar, or a hand under one lens, of a vehicle that
// stands must show on that sensor alone. A mark "board NAME" or "hand NAME" before it tells under which it was. Two
// sensors that carry the same numbers sample for sample are one. Nothing of this is required.

// opticOf returns the index of an optical sensor; −1: there is none of that name.
func (v *view) opticOf(name string) int {
	for i := range v.setup.Optics {
		if v.setup.Optics[i].Name == name {
			return i
		}
	}
	return -1
}

// required tells whether a finding holds the overall verdict back while it is open.
func (v *view) required(c *Check, f *Finding) bool {
	return c.Required && f.Verdict != Absent && (c.Name != "placement" || v.opticOf(f.Subject) < 0)
}

// under is a moment at which something was held under exactly one sensor of its kind.
type under struct {
	optic int
	cover
}

// covers lists what was held under one sensor alone, by sensor and time.
func (v *view) covers() (out []under) {
	for i := range v.optics {
		o := &v.optics[i]
		for _, c := range o.covers[:o.coverN] {
			if v.coveredAlone(i, c) {
				out = append(out, under{i, c})
			}
		}
	}
	return out
}

func (v *view) coveredAlone(i int, c cover) bool {
	for k := range v.optics {
		o := &v.optics[k]
		if k == i || o.setup.Kind != v.optics[i].setup.Kind {
			continue
		}
		for _, d := range o.covers[:o.coverN] {
			if d.from < c.to+quarterNs && c.from < d.to+quarterNs {
				return false
			}
		}
	}
	return true
}

// saidUnder returns for a cover the sensor under which a person said that it would be; −1: nobody said.
func (v *view) saidUnder(all []under, u under) int {
	said := -1
	var from int64
	for i := range v.marks {
		if m := &v.marks[i]; m.word == "board" && m.corner >= 0 && m.At <= u.from {
			said, from = m.corner, m.At
		}
	}
	if said < 0 {
		return -1
	}
	for _, other := range all { // a mark is for the first thing that follows it
		if other.from >= from && other.from < u.from && v.optics[other.optic].setup.Kind == v.optics[u.optic].setup.Kind {
			return -1
		}
	}
	return said
}

// boardWord understands "board NAME" and "hand NAME", where NAME is an optical sensor or the corner of a single one.
func (j *Judge) boardWord(fields []string) (word string, optic int) {
	if len(fields) < 2 || fields[0] != "board" && fields[0] != "hand" {
		return "", -1
	}
	name := strings.Join(fields[1:], " ")
	same := func(s string) bool { return strings.EqualFold(strings.Join(strings.Fields(s), " "), name) }
	at := -1
	for i := range j.setup.Optics {
		o := &j.setup.Optics[i]
		if same(o.Name) {
			return "board", i
		}
		if o.Corner >= 0 && same(j.setup.Corners[o.Corner].Name) {
			if at >= 0 {
				return "", -1 // two of them
			}
			at = i
		}
	}
	if at < 0 {
		return "", -1
	}
	return "board", at
}

func (v *view) placeOptics() []Finding {
	var out []Finding
	all := v.covers()
	for i := range v.optics {
		out = append(out, v.placeOptic(i, all))
	}
	return out
}

func (v *view) placeOptic(i int, all []under) Finding {
	set := v.optics[i].setup
	f := Finding{Subject: set.Name}
	others := 0
	for k := range v.optics {
		count(&others, k != i && v.optics[k].setup.Kind == set.Kind)
	}
	if others == 0 {
		f.Verdict, f.Sentence = Absent, "there is no second sensor of its kind that "+set.Name+" could be exchanged with"
		return f
	}
	if twin, q := v.opticTwin(i); twin >= 0 {
		other := v.setup.Optics[twin].Name
		f.Verdict = Fail
		f.Evidence = v.optics[i].restEvidence()
		f.Sentence = set.Name + " and " + other + " carry the same numbers for " + q.String() + ", sample for sample: one channel is wired or mapped twice"
		f.Next = "Look at the channel list of the amplifier and at the setup for " + set.Name + " and " + other + ", and at their plugs."
		return f
	}
	thing := "a flat board"
	if set.Kind == GroundSpeed {
		thing = "a moving hand"
	}
	f.Sentence = "nothing has been held under " + set.Name + " to see that it alone answers"
	f.Next = "With the vehicle at rest on the ground, give a mark \"board " + set.Name + "\" and hold " + thing + " under " + set.Name + " for some seconds."
	for _, u := range all {
		said := v.saidUnder(all, u)
		switch {
		case u.optic == i && said == i:
			f.Verdict, f.Next = Pass, ""
			f.Evidence = Evidence{Samples: v.optics[i].restS, From: u.from, To: u.to}
			f.Value, f.Unit = known(u.size), u.unit
			f.Sentence = set.Name + " alone answers to what was held under it: by " + show(u.size, u.unit)
			return f
		case said >= 0 && (u.optic == i || said == i):
			name, under := v.setup.Optics[u.optic].Name, v.setup.Optics[said].Name
			f.Verdict = Fail
			f.Evidence = Evidence{Samples: v.optics[u.optic].restS, From: u.from, To: u.to}
			f.Value, f.Unit = known(u.size), u.unit
			f.Sentence = name + " answered when something was held under " + under
			f.Next = "Compare the plugs of " + name + " and " + under + " with their labels at the amplifier."
		case u.optic == i && f.Verdict == Inconclusive:
			f.Evidence = Evidence{Samples: v.optics[i].restS, From: u.from, To: u.to}
			f.Value, f.Unit = known(u.size), u.unit
			f.Sentence = set.Name + " alone answered to something that was held under it, by " + show(u.size, u.unit) + ", but nothing tells under which sensor it was"
		}
	}
	return f
}

// opticTwin returns the sensor that carries the same numbers as i, and in which quantity; −1: none. Coarse steps can
// agree by chance, so nearly all of many changes must.
func (v *view) opticTwin(i int) (int, Quantity) {
	const enough = 500
	for t := range v.optics {
		if t == i {
			continue
		}
		for _, q := range [...]Quantity{HeightOuter, HeightInner, HeightThird, SpeedX, SpeedY} {
			k := q - HeightOuter
			for _, w := range [...]*opticTwin{&v.optics[i].twins[t], &v.optics[t].twins[i]} {
				if w.changes[k] >= enough && float64(w.equal[k]) > 0.98*float64(w.changes[k]) {
					return t, q
				}
			}
		}
	}
	return -1, 0
}
