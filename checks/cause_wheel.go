package checks

// wheels names what is wrong with single wheels and explains more than one finding.
func (x *explainer) wheels() {
	var late []string
	for i := range x.corners {
		name := x.name(i)
		if f := x.failed("coupling", name); f != nil {
			x.ring(i, f)
		}
		if f := x.failed("angle-slip", name); f != nil {
			x.add(Cause{
				ID:       "counts-lost:" + name,
				Subjects: []string{name},
				Sentence: "the encoder of " + name + " loses counts: " + f.Sentence,
				Next:     f.Next,
			}, []string{"angle-slip", "angle-offset", "angle-spin", "skew", "axes", "agreement"})
		}
		if f := x.failed("angle-jumps", name); f != nil {
			x.add(Cause{
				ID:       "angle-disturbed:" + name,
				Subjects: []string{name},
				Sentence: "the angle signal of " + name + " is disturbed: " + f.Sentence,
				Next:     f.Next,
			}, []string{"angle-jumps", "angle-offset", "angle-slip", "angle-spin", "skew", "axes", "coupling", "weight", "zero"})
		}
		if x.failed("skew", name) != nil {
			late = append(late, name)
		}
	}
	if len(late) > 0 {
		x.add(Cause{
			ID:       "time-bases:" + late[0],
			Subjects: late,
			Sentence: "angle and forces of " + list(late) + " come with two time bases",
			Next:     "Set the same filter and delay for angle and forces at the amplifier, or correct the delay between the devices that they come from.",
		}, []string{"skew", "angle-offset"})
	}
}

// failed returns the finding of a check about a subject if it failed and is not explained yet.
func (x *explainer) failed(check, subject string) *Finding {
	for _, f := range x.fails {
		if f.Check == check && f.Subject == subject && f.Cause == "" {
			return f
		}
	}
	return nil
}

// chafes tells a cable from the ring: a ring that is not aligned does not know whether the wheel hangs or how it is steered.
func (x *explainer) chafes(i int) bool {
	c := &x.corners[i]
	if t := c.bunching.all(); t.bunched() || c.bunching.rolled.bunched() {
		return c.chafesOnGround()
	}
	_, _, ok := c.bunching.curves.bunched()
	return ok
}

// ring: errors, or drag, bunch at one angle.
func (x *explainer) ring(i int, f *Finding) {
	name := x.name(i)
	c := Cause{
		ID:       "ring-not-aligned:" + name,
		Subjects: []string{name},
		Sentence: "the pick-up ring of " + name + " is not aligned with its rotating electronics: " + f.Sentence,
		Next:     f.Next,
	}
	switch {
	case f.Unit == "N·m":
		c.ID, c.Sentence = "ring-rubs:"+name, "the pick-up ring of "+name+" rubs: "+f.Sentence
	case x.chafes(i):
		c.ID = "cable-chafes:" + name
		c.Sentence = "the cable of " + name + ", or its arm, chafes at one angle of the wheel or the steering: " + f.Sentence
		x.add(c, []string{"coupling", "alive", "drift/rate"})
		return
	case !x.corners[i].ringKnown(): // a cable can do the same, and only turns on the lift tell
		c.Sentence = "the pick-up ring of " + name + " is not aligned with its rotating electronics, or its cable chafes at one angle: " + f.Sentence
	}
	x.add(c, []string{"coupling", "alive", "drag", "noise", "spikes", "zero", "axes", "angle-slip", "skew", "drift/rate", "drift/noise"})
}
