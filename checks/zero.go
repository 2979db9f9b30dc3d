package checks

import (
	"math"

	"plumbline/checks/fit"
)

// zero: what each component reads without load.
//
// For fx fz mx mz it is the term of a free turn that does not turn with the wheel:
// the hanging weight is in the part that does. For fy it is the mean, and for my the
// mean of turning forward and turning back, in which the friction cancels. The scatter
// from turn to turn gives the uncertainty (JCGM 100, 4.2), half a raw step is added as
// type B.
func zero(v *view) []Finding {
	out := make([]Finding, 0, len(v.corners)*components)
	for i := range v.corners {
		for q := range Quantity(components) {
			out = append(out, v.zeroOf(i, q))
		}
	}
	return out
}

func (v *view) zeroOf(i int, q Quantity) Finding {
	set := v.corners[i].setup
	f := Finding{Subject: set.Name, Channel: q.String(), Unit: unitOf(q)}
	if !set.fitted(q, Angle) {
		f.Verdict, f.Sentence = Absent, set.Name+" has no channel for "+q.String()+" or for the angle"
		return f
	}
	if p, ok := partner(q); ok && set.Forces == Fixed && !set.fitted(p) {
		f.Verdict, f.Sentence = Absent, set.Name+" sends fixed axes, and "+q.String()+" without "+p.String()+" cannot be turned into the wheel's"
		return f
	}
	s := &v.spins[i]
	f.Evidence = s.evidence
	limit := v.setup.Limits.ZeroForceN
	if q >= Mx {
		limit = v.setup.Limits.ZeroMomentNm
	}
	f.Limit = known(limit)
	if v.blocked(i, &f) {
		return f
	}
	mean, part, forward, back := v.constant(i, q)
	f.Value = known(mean)
	if text, next, ok := v.turnMore(i, q == My); !ok {
		f.Sentence, f.Next = text, next
		return f
	}
	if text, next, ok := v.broughtMore(i, q, forward, back); !ok {
		f.Sentence, f.Next = text, next
		return f
	}
	u := f.expanded(part, fit.Rectangular(v.setup.Channels[set.Channels[q]].Step/2), 0)
	f.guard(mean, 0, u, limit)
	reads := set.Name + " " + q.String() + " reads " + within(mean, u, f.Unit) + " without load"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads + ", more than " + show(limit, f.Unit)
		f.Next = "Tare " + set.Name + " " + q.String() + " by " + show(-mean, f.Unit) + " at the amplifier, then turn the lifted wheel again."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(limit, f.Unit) + " to decide"
		f.Next = "Turn " + set.Name + " evenly for some more turns; if that does not decide it, tare it by " + show(-mean, f.Unit) + "."
	}
	return f
}

// partner returns the axis that turns into q; fy and my have none.
func partner(q Quantity) (Quantity, bool) {
	switch q {
	case Fx:
		return Fz, true
	case Fz:
		return Fx, true
	case Mx:
		return Mz, true
	case Mz:
		return Mx, true
	default:
		return q, false
	}
}

// constant returns the mean of the term that does not turn, its uncertainty from scatter, and
// how many turns forward and back it rests on.
func (v *view) constant(i int, q Quantity) (mean float64, part fit.Part, forward, back int64) {
	var f, b fit.Welford
	turnedForward, turnedBack := v.corners[i].turn.Forward, v.corners[i].turn.Back
	if q == My {
		turnedForward, turnedBack = v.byHand(i)
	}
	gather(&f, turnedForward, q)
	gather(&b, turnedBack, q)
	forward, back = f.N(), b.N()
	if q == My {
		return (f.Mean() + b.Mean()) / 2, halves(&f, &b), forward, back
	}
	gather(&f, turnedBack, q)
	return f.Mean(), scatter(&f), forward, back
}

func gather(w *fit.Welford, revolutions []Revolution, q Quantity) {
	for i := range revolutions {
		if revolutions[i].Have&(1<<q) != 0 {
			w.Add(revolutions[i].Constant[q])
		}
	}
}

// scatter is the standard uncertainty of a mean of batches.
func scatter(w *fit.Welford) fit.Part {
	n := float64(w.N())
	return fit.Part{U: w.SD() / math.Sqrt(n), DOF: n - 1}
}

// halves is the uncertainty of half the sum, or half the difference, of two means that
// share their scatter. With one turn to a side it comes from the other side alone.
func halves(a, b *fit.Welford) fit.Part {
	na, nb := float64(a.N()), float64(b.N())
	squares, dof := 0.0, na+nb-2
	for _, w := range []*fit.Welford{a, b} {
		if n := float64(w.N()); n > 1 {
			squares += float64(w.SD()*w.SD()) * (n - 1)
		}
	}
	if dof < 1 {
		return fit.Part{U: math.Inf(1), DOF: 1}
	}
	return fit.Part{U: math.Sqrt(squares/dof*(1/na+1/nb)) / 2, DOF: dof}
}

// unitOf returns the SI unit of a quantity's values.
func unitOf(q Quantity) string {
	switch q {
	case Fx, Fy, Fz:
		return "N"
	case Mx, My, Mz:
		return "N·m"
	case Angle, Camber, Slip:
		return "rad"
	case Spin:
		return "rad/s"
	case Temperature:
		return "°C"
	case Supply:
		return "V"
	case HeightOuter, HeightInner, HeightThird:
		return "m"
	case SpeedX, SpeedY:
		return "m/s"
	case Status, Serial, Counter, Quantities:
	}
	return ""
}

// blocked fills a finding that rests on a wheel's forces and angle belonging together,
// where they do not.
func (v *view) blocked(i int, f *Finding) bool {
	b := &v.wiring.bonds[i]
	if !b.turned || b.own {
		return false
	}
	f.Sentence = "the forces of " + f.Subject + " do not answer to the angle of " + f.Subject + ", so nothing can be read from its turns"
	f.Next = "See to the check placement of " + f.Subject + " first."
	return true
}
