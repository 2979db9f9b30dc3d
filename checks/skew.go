package checks

import (
	"math/cmplx"

	"plumbline/checks/fit"
)

// skew: how much later is the angle than the force, τ? Where the two do not belong to the same
// instant the offset grows with the speed, δ = δ₀ − ω·τ: turning forward and back at the same speed tells it.
func skew(v *view) []Finding {
	return v.eachCorner(v.skewOf)
}

func (v *view) skewOf(i int) Finding {
	set := v.corners[i].setup
	name, limit := set.Name, v.setup.Limits.SkewS
	f := Finding{Subject: name, Unit: "s", Limit: known(limit), Evidence: v.spins[i].evidence}
	if !set.fitted(Fx, Fz, Angle) {
		f.Verdict, f.Sentence = Absent, name+" has no radial forces or no angle"
		return f
	}
	if v.blocked(i, &f) {
		return f
	}
	s := &v.spins[i]
	if text, next, ok := v.turnMore(i, true); !ok {
		f.Sentence, f.Next = text, next
		return f
	}
	if s.plus < 2*s.minus {
		f.Sentence = "the angle of " + name + " counts against its forces, so their times cannot be compared"
		f.Next = "See to the check angle-sense of " + name + " first."
		return f
	}
	if v.slips[i].Verdict == Fail {
		f.Sentence = "the angle of " + name + " loses counts from turn to turn, so times cannot be told from it"
		f.Next = "See to the check angle-slip of " + name + " first."
		return f
	}
	_, _, tau, part, ok := s.line()
	if !ok {
		f.Sentence = name + " needs two turns forward and two back to compare the times of angle and force"
		f.Next = "Go on turning " + name + ": three turns forward, then three turns back."
		return f
	}
	u := fit.Expanded(part)
	f.guard(tau, 0, u, limit)
	reads := "the angle of " + name + " is " + within(tau, u, f.Unit) + " later than its forces"
	if every := v.delivered(set); every > limit {
		f.Verdict = Inconclusive
		f.Sentence = reads + "; but the line delivers every " + show(every, f.Unit) + " and stamps what it brings then, so that shorter times cannot be told"
		f.Next = "Read " + name + " over an adapter that stamps each frame, or set the latency timer of this one to its least."
		return f
	}
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		f.Sentence = reads + ", more than " + show(limit, f.Unit)
		f.Next = "Set the same filter and delay for angle and forces of " + name + " at the amplifier; where they come over different devices, correct the delay between them."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(limit, f.Unit) + " to decide"
		f.Next = "Turn " + name + " by hand a little faster and for some more turns, forward and back."
	}
	return f
}

// delivered returns how seldom the lines deliver that bring radial forces and angle of a corner, s; 0: each frame has its own stamp.
func (v *view) delivered(c *Corner) float64 {
	most := 0.0
	for _, q := range [...]Quantity{Fx, Fz, Angle} {
		most = max(most, v.messages[v.setup.Channels[c.Channels[q]].Message].timing.delivered())
	}
	return most
}

// line fits δ = δ₀ − ω·τ over the turns of a wheel that was turned in both directions.
func (s *spin) line() (delta0 float64, u0 fit.Part, tau float64, uTau fit.Part, ok bool) {
	if s.forward < 2 || s.back < 2 {
		return 0, u0, 0, uTau, false
	}
	middle, delta, omega := s.deltas()
	ones := make([]float64, len(delta))
	for i := range ones {
		ones[i] = 1
	}
	r, err := fit.LeastSquares([][]float64{ones, omega}, delta)
	if err != nil {
		return 0, u0, 0, uTau, false
	}
	dof := float64(r.DOF)
	return fit.Wrap(middle + r.Coef[0]), fit.Part{U: r.SE[0], DOF: dof}, -r.Coef[1], fit.Part{U: r.SE[1], DOF: dof}, true
}

// deltas returns the offset of each turn about their mean direction, where it does not wrap, rad, and its speed, rad/s.
func (s *spin) deltas() (middle float64, delta, omega []float64) {
	var sum complex128
	for i := range s.revolutions {
		sum += -1i * cmplx.Conj(s.revolutions[i].Plus)
	}
	middle = cmplx.Phase(sum)
	for i := range s.revolutions {
		r := &s.revolutions[i]
		delta = append(delta, fit.Wrap(-cmplx.Phase(1i*r.Plus)-middle))
		omega = append(omega, r.Omega)
	}
	return middle, delta, omega
}
