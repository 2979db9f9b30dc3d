package checks

import (
	"math"

	"plumbline/checks/fit"
)

// What a drive must bring before its windows are compared; common practice.
const (
	baselineS   = 120 // s of rolling at the start, that later ones are compared with
	baselineMin = 60  // turns in it
	windowS     = 30  // s of rolling in each later window
	windowMin   = 40  // turns in it
	overWindows = 2   // windows in a row beyond the limit before it counts: one bump is none
	backRatio   = 0.7 // of the limit, within which it counts as having come back
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
	Base, Window fit.Welford // constant term of each turn, N or N·m
	baseS        float64     // s of rolling in the baseline
	windowS      float64
	limit        float64

	Now, NowU   float64 // last closed window against the baseline
	Windows     int64
	Worst       float64
	over, under int
	Over        bool
	Since, Back int64 // ns, when it was first beyond the limit, and came back; 0: never
	windowFrom  int64
	To          int64
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
	for k := range d.parts {
		if d.have&(1<<k) == 0 {
			continue
		}
		f, ok := d.gram[d.group[k]].Solve(&d.sums[k])
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

// turn takes the constant term of one turn that took so many seconds.
func (p *drifting) turn(mean, seconds float64, from, at int64) {
	p.To = at
	if p.baseS < baselineS || p.Base.N() < baselineMin {
		p.Base.Add(mean)
		p.baseS += seconds
		return
	}
	if p.Window.N() == 0 {
		p.windowFrom = from
	}
	p.Window.Add(mean)
	if p.windowS += seconds; p.windowS < windowS || p.Window.N() < windowMin {
		return
	}
	a, b := scatter(&p.Base), scatter(&p.Window)
	p.Now, p.NowU = p.Window.Mean()-p.Base.Mean(), fit.Expanded(a, b)
	p.Windows++
	if math.Abs(p.Now) > math.Abs(p.Worst) {
		p.Worst = p.Now
	}
	p.decide()
	p.Window, p.windowS = fit.Welford{}, 0
}

// decide keeps one bump from raising an alarm, and a value at the limit from raising many.
func (p *drifting) decide() {
	size := math.Abs(p.Now)
	switch {
	case size-p.NowU > p.limit:
		p.over++
		p.under = 0
		if p.over >= overWindows && !p.Over {
			p.Over = true
			if p.Since == 0 {
				p.Since = p.windowFrom
			}
			p.Back = 0
		}
	case size < backRatio*p.limit:
		p.over = 0
		p.under++
		if p.under >= overWindows && p.Over {
			p.Over, p.Back = false, p.windowFrom
		}
	default:
		p.over, p.under = 0, 0
	}
}

// drift: has the zero of the rotating axes moved since the start of the drive?
func drift(v *view) []Finding {
	var out []Finding
	for i := range v.corners {
		for k, q := range driftQuantities() {
			out = append(out, v.driftOf(i, k, q))
		}
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
	f.Value, f.Uncertainty = known(p.Now), known(p.NowU)
	reads := "the zero of " + name + " has moved by " + within(p.Now, p.NowU, f.Unit) + " since the first minutes"
	switch {
	case p.Over:
		f.Verdict = Fail
		f.Sentence = reads + ", beyond " + show(p.limit, f.Unit) + " since " + v.since(p.Since)
		f.Next = "Do not use " + name + " from there on; after the drive turn the lifted wheel again and compare its zero with the one before."
	case p.Since != 0:
		f.Verdict = Fail
		f.Value = known(p.Worst)
		f.Uncertainty = Number{}
		f.Sentence = "the zero of " + name + " moved by up to " + show(p.Worst, f.Unit) + " from " + v.since(p.Since) + " and came back " + v.since(p.Back)
		f.Next = "Do not use " + name + " in between; look at the temperature, the supply and the plugs of " + set.Name + "."
	case math.Abs(p.Now)+p.NowU <= p.limit:
		f.Verdict = Pass
		f.Sentence = reads
	default:
		f.Sentence = reads + "; that is too close to the limit of " + show(p.limit, f.Unit) + " to decide"
	}
	return f
}
