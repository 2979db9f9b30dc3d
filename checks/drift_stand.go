package checks

import (
	"math"
	"slices"

	"plumbline/checks/fit"
)

// What standstills must bring before they are compared; common practice.
const (
	standsBase   = 5  // standstills at the start; each counts once, however long it is
	standsWindow = 5  // in each later window
	noiseBase    = 12 // seconds at rest at the start
	noiseWindow  = 8  // in each later window
	slopeCorners = 3  // wheels that tell a slope of the road from the zero of one of them
	noiseFloor   = 5  // part of the noise limit below which noise is not told from less
)

// still follows what one wheel shows at rest on the ground, from standstill to standstill: the means of the
// components that do not turn, and the noise of all. It reads the seconds at rest that blocks keep.
type still struct {
	taken []int64 // by block: seconds that were read
	fy    fit.Welford
	my    fit.Welford // means of the seconds of the standstill under way, N and N·m
	from  int64       // ns, of its first second; 0: it has none yet
	to    int64
	loads int64 // seconds that rest had when the last standstill ended

	Fy    trend
	My    pulled
	Noise [components]trend // ½·ln of the variance of each second
}

func (s *still) configure(c *corner, l *Limits) {
	s.taken = make([]int64, len(c.blocks))
	s.Fy = trend{base: standsBase, window: standsWindow, limit: l.DriftForceN}
	s.My = pulled{trend: trend{base: standsBase, window: standsWindow, limit: l.DriftMomentNm}}
	for q := range s.Noise {
		s.Noise[q] = trend{base: noiseBase, window: noiseWindow, limit: math.Log(l.DriftNoiseRatio), rise: true}
	}
}

// read takes the seconds at rest that have been looked at since it was asked last.
func (s *still) read(c *corner) {
	for k := range c.blocks {
		b := &c.blocks[k]
		for ; s.taken[k] < b.Taken; s.taken[k]++ {
			if c.movement != stands {
				continue
			}
			for x, q := range b.components {
				s.second(&b.kept[x][s.taken[k]%keptBlocks], q, b.limits[x], b.steps[x])
			}
		}
	}
}

func (s *still) second(x *second, q Quantity, limit, step float64) {
	if x.samples == 0 || !x.calm || x.flat {
		return
	}
	floor := math.Max(limit/noiseFloor, step)
	s.Noise[q].add(math.Log(math.Max(x.variance, floor*floor))/2, x.from, x.to)
	switch q {
	case Fy:
		s.fy.Add(x.mean)
	case My:
		s.my.Add(x.mean)
	default:
		return
	}
	if s.from == 0 {
		s.from = x.from
	}
	s.to = x.to
}

// opticStill follows the means of an optical sensor from standstill to standstill.
type opticStill struct {
	rests int64 // seconds that it had when the last standstill ended
	Means [readings]trend
}

func (s *opticStill) configure(o *Optic, l *Limits) {
	for k := range s.Means {
		limit := l.RestSpeedMps
		if HeightOuter+Quantity(k) <= HeightThird {
			limit = o.ClearanceToleranceM
		}
		s.Means[k] = trend{base: standsBase, window: standsWindow, limit: limit}
	}
}

// departed ends the standstill under way: the vehicle rolls. It counts where the vehicle had rolled before it.
func (j *Judge) departed(counts bool) {
	if cap(j.slopes) < len(j.corners) {
		j.slopes = make([]float64, 0, len(j.corners))
	}
	j.slopes = j.slopes[:0]
	for i := range j.corners {
		if c := &j.corners[i]; c.still.fy.N() > 0 && c.setup.LoadN > 0 {
			j.slopes = append(j.slopes, c.still.fy.Mean()/c.setup.LoadN)
		}
	}
	slope := 0.0
	if len(j.slopes) >= slopeCorners {
		slices.Sort(j.slopes)
		slope = (j.slopes[(len(j.slopes)-1)/2] + j.slopes[len(j.slopes)/2]) / 2
	}
	for i := range j.corners {
		c := &j.corners[i]
		s := &c.still
		if s.fy.N() > 0 && counts {
			s.Fy.add(s.fy.Mean()-slope*c.setup.LoadN, s.from, s.to)
		}
		if s.my.N() > 0 && counts {
			if p, ok := c.longitudinal(); ok || !j.holds(i) {
				radius := j.rolls.radii[i]
				s.My.add(s.my.Mean()+p.fx*radius, p.theta, p.fxU*radius, s.from, s.to)
			}
		}
		s.fy, s.my, s.from = fit.Welford{}, fit.Welford{}, 0
		s.loads = c.rest.Force.N()
	}
	for i := range j.optics {
		o := &j.optics[i]
		n := min(o.restN-o.still.rests, keptRests)
		o.still.rests = o.restN
		for k := range o.still.Means {
			var w fit.Welford
			for m := range n {
				if x := o.rests[(o.restN-1-m)%keptRests][k]; x-x == 0 {
					w.Add(x)
				}
			}
			if w.N() > 0 && counts {
				o.still.Means[k].add(w.Mean(), o.restTo-w.N()*restWindowNs, o.restTo)
			}
		}
	}
}

// holds tells whether the moment with which a held brake keeps corner i from rolling down a slope can be taken
// off: −R·Fx. It needs the radius and both radial forces.
func (j *Judge) holds(i int) bool {
	return j.rolls.radii[i] > 0 && j.setup.Corners[i].fitted(Fx, Fz)
}

// standOf judges the mean of fy or my at standstill.
func (v *view) standOf(i int, q Quantity) Finding {
	set := v.corners[i].setup
	s := &v.corners[i].still
	p, level := &s.Fy, v.levels(set)
	if q == My {
		p, level = &s.My.trend, v.holds(i)
	}
	name := set.Name + " " + q.String()
	f := Finding{Subject: set.Name, Channel: q.String(), Unit: unitOf(q), Limit: known(p.limit), Evidence: p.evidence()}
	switch {
	case !set.fitted(q) || !v.angles:
		f.Verdict, f.Sentence = Absent, set.Name+" has no channel for "+q.String()+", or no wheel has an angle that tells when it stands"
		return f
	case p.Windows == 0:
		f.Sentence = set.Name + " has stood on the ground " + plural(p.Base.N()+p.Window.N(), "time", "times") + " between rolls; " + num(standsBase+standsWindow, 0) + " are the least to see a drift of " + name + " at standstill"
		return f
	}
	v.moved(&f, p, "the mean of "+name+" at standstill",
		"Do not use "+name+" from there on; after the drive turn the lifted wheel and compare its zero with the one before.",
		"Do not use "+name+" in between; look at the temperature, the supply and the plugs of "+set.Name+".")
	if f.Verdict == Fail && !level {
		why := "fewer than three wheels cannot tell the slope of a road from that"
		if q == My {
			why = "without its tyre and both radial forces the pull of a held brake cannot be told from that"
		}
		f.Verdict = Inconclusive
		f.Sentence += "; " + why
		f.Next = "Lift the wheel, turn it and compare its zero with the one before the drive."
	}
	return f
}

// levels tells whether enough wheels show what a slope of the road does to fy.
func (v *view) levels(c *Corner) bool {
	n := 0
	for i := range v.setup.Corners {
		count(&n, v.setup.Corners[i].fitted(Fy) && v.setup.Corners[i].LoadN > 0)
	}
	return n >= slopeCorners && c.LoadN > 0
}

// noiseGrown judges the component whose noise at rest has grown most.
func (v *view) noiseGrown(i int) Finding {
	c := &v.corners[i]
	name := c.setup.Name
	bound := v.setup.Limits.DriftNoiseRatio
	f := Finding{Subject: name, Channel: "noise", Limit: known(bound)}
	worst, fitted := -1, false
	for q := range Quantity(components) {
		if c.setup.Channels[q] == None {
			continue
		}
		fitted = true
		if p := &c.still.Noise[q]; p.Windows > 0 && (worst < 0 || p.worse(&c.still.Noise[worst])) {
			worst = int(q)
		}
	}
	if !fitted || !v.angles {
		f.Verdict, f.Sentence = Absent, name+" has no forces or moments, or no wheel has an angle that tells when it stands"
		return f
	}
	if worst < 0 {
		n := int64(0)
		for q := range c.still.Noise {
			n = max(n, c.still.Noise[q].Base.N()+c.still.Noise[q].Window.N())
		}
		f.Sentence = name + " has been looked at for " + plural(n, "second", "seconds") + " at rest on the ground; " + num(noiseBase+noiseWindow, 0) + " are the least to see its noise grow"
		return f
	}
	p := &c.still.Noise[worst]
	f.Evidence = p.evidence()
	reads := func(ratio, u float64) string {
		text := num(ratio, 2) + " times"
		if u > 0 {
			text = num(ratio, 2) + " ± " + num(u, 2) + " times"
		}
		return "the noise of " + name + " " + Quantity(worst).String() + " at rest has become " + text + " what it was"
	}
	v.grown(&f, p, reads, num(bound, 1)+" times",
		"Look at the shield, the ground and the plugs of "+name+", then leave it at rest with the engine off and compare.",
		"Do not rely on "+name+" in between; look at its shield, its ground and what was switched on then.")
	return f
}

// worse orders trends: one that is beyond the limit first, one that was next, else the farther one.
func (p *trend) worse(o *trend) bool {
	rank := func(t *trend) int {
		switch {
		case t.Over:
			return 2
		case t.Since != 0:
			return 1
		}
		return 0
	}
	if a, b := rank(p), rank(o); a != b {
		return a > b
	}
	return p.size(p.Now) > o.size(o.Now)
}

func (p *trend) evidence() Evidence {
	return Evidence{Samples: p.Base.N() + p.Window.N(), From: p.From, To: p.To}
}

// opticDrift judges what an optical sensor shows at standstill, and its rate.
func (v *view) opticDrift(i int) []Finding {
	o := &v.optics[i]
	var out []Finding
	for _, q := range [...]Quantity{HeightOuter, HeightInner, HeightThird, SpeedX, SpeedY} {
		if !o.setup.Channels.has(q) {
			continue
		}
		p := &o.still.Means[q-HeightOuter]
		name := o.setup.Name
		f := Finding{Subject: name, Channel: q.String(), Unit: unitOf(q), Limit: known(p.limit), Evidence: p.evidence()}
		switch {
		case q <= HeightThird && p.limit <= 0 || !v.angles:
			f.Verdict, f.Sentence, f.Limit = Absent, name+" has no tolerance of its clearance in the setup, or no wheel has an angle that tells when it stands", Number{}
		case p.Windows == 0:
			f.Sentence = name + " has shown " + plural(p.Base.N()+p.Window.N(), "standstill", "standstills") + " between rolls; " + num(standsBase+standsWindow, 0) + " are the least to see a drift of " + q.String()
		default:
			v.moved(&f, p, "the mean of "+name+" "+q.String()+" at standstill",
				"Look at how "+name+" is fastened, and for dirt on its lens; then compare its height with the one before.",
				"Do not use "+name+" in between; look at how it is fastened and for dirt on its lens.")
		}
		out = append(out, f)
	}
	return append(out, v.rateLost(o.setup.Name, &o.setup.Channels))
}

func (c *Channels) has(q Quantity) bool { return c[q] != None }
