package checks

import (
	"slices"
	"strings"
)

// causes names what explains several findings at once and writes its id into them. A
// finding is explained by one cause: the first that claims it.
func causes(v *view, findings []Finding) []Cause {
	x := newExplainer(v, findings)
	x.sources()
	x.twins()
	x.cables()
	x.harnesses()
	x.boltHoles()
	x.wheels()
	x.signals()
	x.away()
	return x.causes
}

type explainer struct {
	*view
	findings []Finding
	fails    []*Finding // of them, those that fail
	causes   []Cause
}

func newExplainer(v *view, findings []Finding) explainer {
	x := explainer{view: v, findings: findings}
	for i := range findings {
		if f := &findings[i]; f.Verdict == Fail {
			x.fails = append(x.fails, f)
		}
	}
	return x
}

// fromTurns are the checks that read a wheel's turns: they are void where its forces and angle do not belong together.
func fromTurns() []string {
	return []string{"placement", "zero", "weight", "axes", "drag", "angle-offset", "angle-sense", "angle-slip"}
}

// add names a cause and lets it claim the findings of these subjects and checks, or check/channel, that did not pass.
func (x *explainer) add(c Cause, checks []string) {
	x.claim(c, func(f *Finding) bool {
		return slices.Contains(checks, f.Check) || slices.Contains(checks, f.Check+"/"+f.Channel)
	})
}

// claim names a cause and lets it claim the findings of its subjects that did not pass and are its own.
func (x *explainer) claim(c Cause, own func(*Finding) bool) {
	for i := range x.findings {
		f := &x.findings[i]
		if f.Verdict != Fail && f.Verdict != Inconclusive || f.Cause != "" {
			continue
		}
		if slices.Contains(c.Subjects, f.Subject) && own(f) {
			f.Cause = c.ID
			c.Explains = append(c.Explains, f.Check+"/"+f.Subject+"/"+f.Channel)
		}
	}
	x.causes = append(x.causes, c)
}

func (x *explainer) name(i int) string { return x.setup.Corners[i].Name }

// twins: one channel stands for two corners.
func (x *explainer) twins() {
	for _, t := range x.wiring.twins {
		a, b := x.name(t[0]), x.name(t[1])
		copied := b // the one whose forces do not answer to their own angle is the copy
		if x.wiring.bonds[t[1]].own && !x.wiring.bonds[t[0]].own {
			copied = a
		}
		x.add(Cause{
			ID:       "mapped-twice:" + a + "," + b,
			Subjects: []string{a, b},
			Sentence: a + " and " + b + " are one channel, wired or mapped twice: they carry the same " + x.wiring.twinOf[t].String() + ", sample for sample",
			Next:     "Look where the channels of " + copied + " come from: the amplifier's channel list, the setup, then the plug.",
		}, append(fromTurns(), "load"))
	}
}

// cables: the forces of a corner answer to the angle of another.
func (x *explainer) cables() {
	done := map[int]bool{}
	for i := range x.wiring.bonds {
		k := x.wiring.bonds[i].to
		if k < 0 || done[i] || x.twinned(i) || x.twinned(k) {
			continue
		}
		done[i], done[k] = true, true
		a, b := x.name(i), x.name(k)
		id, what, by := x.whichCable(i, k)
		verb := " is exchanged with that of "
		c := Cause{ID: id + ":" + x.name(min(i, k)) + "," + x.name(max(i, k)), Subjects: []string{a, b}}
		c.Sentence = "the " + what + " of " + a + verb + b + by
		if x.wiring.bonds[k].to != i {
			c.Sentence += "; the other way round " + b + " has not been turned yet"
			if x.wiring.bonds[k].own {
				c.Sentence = "the forces of " + a + " answer to the angle of " + b + ", which has forces of its own: the " + what + " of " + a + " is in the wrong place"
			}
		}
		c.Next = "Exchange the " + what + "s of " + a + " and " + b + " at the amplifier, then turn both wheels again."
		if id == "cable-exchanged" {
			c.Next = "Compare force and angle plugs of " + a + " and " + b + " with their labels; a turn order in the setup, a mark \"turn " + a + "\" or corner loads that differ would tell which."
		}
		x.add(c, append(fromTurns(), "load"))
	}
}

// whichCable tells whether the force or the angle cable of two corners is exchanged: by a mark or the
// turn order, which say whose angle should have turned, else by the loads, which say whose forces these are.
func (x *explainer) whichCable(i, k int) (id, what, by string) {
	for _, c := range [2]int{i, k} {
		for _, by := range [2]word{byMark, byOrder} {
			switch on := x.wiring.said[c][by]; on {
			case -1:
			case c:
				return "force-cable-exchanged", "force cable", ", by " + by.String()
			case i, k:
				return "angle-cable-exchanged", "angle cable", ", by " + by.String()
			}
		}
	}
	switch x.loadsSay(i, k) {
	case +1:
		return "angle-cable-exchanged", "angle cable", ", by the corner loads"
	case -1:
		return "force-cable-exchanged", "force cable", ", by the corner loads"
	}
	return "cable-exchanged", "force or angle cable", ""
}

func (x *explainer) twinned(i int) bool {
	t, _ := x.wiring.twin(i)
	return t >= 0
}

// harnesses: whole corners sit elsewhere. Rings of more than two are told as one.
func (x *explainer) harnesses() {
	done := make([]bool, len(x.corners))
	for i := range x.corners {
		if done[i] || !x.misplaced(i) {
			continue
		}
		var ring []string
		first, by := x.wiring.where(i)
		for k := i; !done[k] && x.misplaced(k); k, _ = x.wiring.where(k) {
			done[k] = true
			ring = append(ring, x.name(k))
		}
		if len(ring) == 1 {
			ring = append(ring, x.name(first))
		}
		x.add(Cause{
			ID:       "harness-exchanged:" + strings.Join(ring, ","),
			Subjects: ring,
			Sentence: "the harnesses of " + list(ring) + " are exchanged, by " + by.String(),
			Next:     "Put the plugs of " + list(ring) + " where their labels say, or, if the transducers themselves sit on the wrong corners, correct the setup; then turn these wheels again.",
		}, []string{"placement", "load", "identity"})
	}
}

// misplaced tells whether corner i works in itself but sits on another corner.
func (x *explainer) misplaced(i int) bool {
	on, by := x.wiring.where(i)
	return by != byNothing && on != i && x.wiring.bonds[i].to < 0 && !x.twinned(i)
}

// boltHoles: the wheel is mounted some bolt holes round from its reference mark.
func (x *explainer) boltHoles() {
	for i := range x.findings {
		f := &x.findings[i]
		if f.Check != "angle-offset" || f.Verdict != Fail || f.Cause != "" {
			continue
		}
		for c := range x.setup.Corners {
			set := &x.setup.Corners[c]
			if set.Name != f.Subject {
				continue
			}
			if k, ok := boltHoles(f.Value.Value, set.Bolts); ok {
				x.add(Cause{
					ID:       "bolt-holes:" + set.Name,
					Subjects: []string{set.Name},
					Sentence: "the wheel of " + set.Name + " is mounted " + holes(k) + " round from its reference mark: its angle is " + show(f.Value.Value, "rad") + " off, and " + num(float64(set.Bolts), 0) + " bolts make steps of " + num(360/float64(set.Bolts), 1) + "°",
					Next:     "Mount the wheel of " + set.Name + " on its reference mark and tighten it anew, or change the angle offset by " + show(-f.Value.Value, "rad") + " at the amplifier.",
				}, []string{"angle-offset"})
			}
		}
	}
}

// next is the one thing to do: what explains most comes first, then what failed, then what the wheel that is
// being turned still lacks, then what is missing elsewhere.
func next(v *view, r *Result) string {
	if len(r.Causes) > 0 {
		return r.Causes[0].Next
	}
	first := func(verdict Verdict, subject string) string {
		for i := range r.Findings {
			f := &r.Findings[i]
			if f.Verdict == verdict && f.Next != "" && (verdict == Fail || f.Required) && (subject == "" || f.Subject == subject) {
				return f.Next
			}
		}
		return ""
	}
	if text := first(Fail, ""); text != "" {
		return text
	}
	if i := v.underWay(); i >= 0 {
		if text := first(Inconclusive, v.corners[i].setup.Name); text != "" {
			return text
		}
	}
	if text := first(Inconclusive, ""); text != "" {
		return text
	}
	if !v.started {
		return "Switch the amplifier on."
	}
	return ""
}

// underWay returns the lifted wheel that is being turned, or was turned last, while it lacks turns; -1 for none.
// Where an axle turns both of its wheels it is the first of them.
func (v *view) underWay() int {
	wheel, newest := -1, int64(0)
	for i := range v.corners {
		c := &v.corners[i]
		at := int64(0)
		for _, list := range [][]Revolution{c.turn.Forward, c.turn.Back} {
			if n := len(list); n > 0 {
				at = max(at, list[n-1].To)
			}
		}
		if c.condition.hang == Lifted && c.encoder.moving && c.turn.lap.on {
			at = v.now
		}
		if at > newest {
			wheel, newest = i, at
		}
	}
	if wheel < 0 {
		return -1
	}
	c := &v.corners[wheel]
	if c.condition.hang != Lifted || min(c.turn.progress(+1), c.turn.progress(-1)) >= turnsForUncertainty {
		return -1
	}
	return wheel
}
