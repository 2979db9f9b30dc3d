package checks

import "plumbline/checks/fit"

// What a drive must bring before its windows are compared; common practice.
const (
	baselineS   = 120 // s of rolling at the start, that later ones are compared with
	baselineMin = 60  // turns in it
	windowS     = 30  // s of rolling in each later window
	windowMin   = 40  // turns in it
	steadyRatio = 0.05
	driftParts  = 4
)

// driftQuantities are the components whose zero turns with the wheel.
func driftQuantities() [driftParts]Quantity { return [driftParts]Quantity{Fx, Fz, Mx, Mz} }

// Drift follows, on a loaded rolling wheel, the part of each rotating component that does not turn: the
// zero of the rotating axes, with a constant that tyre and balance put there. Windows of the drive
// are compared with its first minutes. Memory is fixed.
type Drift struct {
	parts [driftParts]drifting

	lap    lap
	gram   [components]fit.Gram // by group
	sums   [driftParts]fit.Moments
	group  [driftParts]uint8
	have   uint8
	from   int64
	steady float64 // residual of a turn that still counts, N; of moments a tenth of it
}

// drifting is one component of it.
type drifting struct {
	trend
	baseS   float64 // s of rolling in the baseline
	windowS float64
}

// add takes a row in rotating axes of a loaded wheel.
func (d *Drift) add(r *Row, theta, cos, sin float64, moving bool) {
	switch d.lap.add(r.At, theta, moving) {
	case lapOff:
		return
	case lapDone:
		d.finish(r.At)
		d.clear(r.At)
	case lapBegun:
		d.clear(r.At)
	case lapGoes:
	}
	d.gram[r.Group].Add(cos, sin)
	for k, q := range driftQuantities() {
		if r.Have&(1<<q) != 0 {
			d.sums[k].Add(r.V[q], cos, sin)
			d.group[k] = r.Group
			d.have |= 1 << k
		}
	}
}

func (d *Drift) clear(at int64) {
	d.gram = [components]fit.Gram{}
	d.sums = [driftParts]fit.Moments{}
	d.have, d.from = 0, at
}

// stop ends the turn under way.
func (d *Drift) stop() { d.lap.on = false }

func (d *Drift) finish(at int64) {
	seconds := float64(at-d.from) * 1e-9
	var bases [components]fit.Basis // by group
	for g := range bases {
		if d.gram[g].N() > 0 {
			bases[g] = d.gram[g].Basis()
		}
	}
	for k := range d.parts {
		if d.have&(1<<k) == 0 {
			continue
		}
		f, ok := bases[d.group[k]].Solve(&d.sums[k])
		bound := d.steady
		if k >= 2 {
			bound /= 10
		}
		if !ok || f.ResidualSD > bound {
			continue // braking, a kerb: the force changed within the turn
		}
		d.parts[k].turn(f.Mean, seconds, d.from, at)
	}
}

// turn takes the constant term of one turn that took so many seconds, N or N·m.
func (p *drifting) turn(mean, seconds float64, from, at int64) {
	p.To = at
	if p.baseS < baselineS || p.Base.N() < baselineMin {
		p.Base.Add(mean)
		p.baseS += seconds
		return
	}
	p.gather(mean, from)
	if p.windowS += seconds; p.windowS < windowS || p.Window.N() < windowMin {
		return
	}
	p.close()
	p.windowS = 0
}

// drift: has what should stay moved since the start of the drive?
func drift(v *view) []Finding {
	out := make([]Finding, 0, len(v.corners)*(components+3)+len(v.optics)*readings) // noise, rate, temperature
	for i := range v.corners {
		for k, q := range driftQuantities() {
			out = append(out, v.driftOf(i, k, q))
			if q == Fx || q == Mx {
				out = append(out, v.standOf(i, q+1)) // fy, my
			}
		}
		out = append(out, v.noiseGrown(i), v.rateLost(v.setup.Corners[i].Name, &v.setup.Corners[i].Channels), v.warmed(i))
	}
	for i := range v.optics {
		out = append(out, v.opticDrift(i)...)
	}
	return out
}

func (v *view) driftOf(i, k int, q Quantity) Finding {
	c := &v.corners[i]
	set := c.setup
	p := &c.drift.parts[k]
	f := Finding{
		Subject: set.Name, Channel: q.String(), Unit: unitOf(q), Limit: known(p.limit),
		Evidence: Evidence{Revolutions: float64(p.Base.N() + p.Window.N()), To: p.To},
	}
	name := set.Name + " " + q.String()
	if !set.fitted(q, Angle) {
		f.Verdict, f.Sentence = Absent, set.Name+" has no channel for "+q.String()+" or for the angle"
		return f
	}
	if p.Windows == 0 {
		f.Sentence = set.Name + " has rolled for " + num(p.baseS+p.windowS, 0) + " s; " + num(baselineS+windowS, 0) + " s are the least to see a drift"
		return f
	}
	v.moved(&f, &p.trend, "the zero of "+name,
		"Do not use "+name+" from there on; after the drive turn the lifted wheel again and compare its zero with the one before.",
		"Do not use "+name+" in between; look at the temperature, the supply and the plugs of "+set.Name+".")
	return f
}
