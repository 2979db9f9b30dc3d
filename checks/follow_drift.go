package checks

// trends passes everything that drift looks at, by the subject and channel of its finding.
func (j *Judge) trends(tell func(subject, channel string, p *trend)) {
	for i := range j.corners {
		c := &j.corners[i]
		name := c.setup.Name
		for k, q := range driftQuantities() {
			tell(name, q.String(), &c.drift.parts[k].trend)
		}
		tell(name, Fy.String(), &c.still.Fy)
		tell(name, My.String(), &c.still.My.trend)
		for q := range c.still.Noise {
			tell(name, "noise", &c.still.Noise[q])
		}
		tell(name, Temperature.String(), &c.warmth.Warm)
	}
	for i := range j.optics {
		o := &j.optics[i]
		for k := range o.still.Means {
			tell(o.setup.Name, (HeightOuter + Quantity(k)).String(), &o.still.Means[k])
		}
	}
	for m := range j.messages {
		p := &j.messages[m].pace.Rate
		for _, i := range j.messages[m].corners {
			tell(j.setup.Corners[i].Name, "rate", p)
		}
		for _, i := range j.messages[m].optics {
			tell(j.setup.Optics[i].Name, "rate", p)
		}
	}
}

// seenDrift takes what makes a trend fail, see trend.judge.
func (j *Judge) seenDrift() evidence {
	var e evidence
	j.trends(func(_, _ string, p *trend) { e = e.flag(p.Over).flag(p.Since != 0) })
	return e
}

// againstDrift: what has come back no longer fails, though its finding says for good that it did.
func (j *Judge) againstDrift(f place) (n int64, on bool) {
	j.trends(func(subject, channel string, p *trend) {
		on = on || p.Over && subject == f.subject && channel == f.channel
	})
	return 0, on
}
