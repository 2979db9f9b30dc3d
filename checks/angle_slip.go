package checks

import (
	"math"
	"math/cmplx"

	"plumbline/checks/fit"
)

// angleSlip: does the offset of the angle drift from turn to turn? Within each run of turns the
// slope of δ over the signed number of turns is fitted, all runs in common, each with an
// offset of its own: a bias of half a count and a time skew stay out of it.
func angleSlip(v *view) []Finding {
	var out []Finding
	for i := range v.corners {
		out = append(out, v.slipOf(i))
	}
	return out
}

func (v *view) slipOf(i int) Finding {
	c := &v.corners[i]
	set := c.setup
	name, limit := set.Name, v.setup.Limits.AngleSlipRad
	f := Finding{Subject: name, Unit: "rad", Limit: known(limit), Evidence: v.spins[i].evidence}
	if !set.fitted(Fx, Fz, Angle) {
		f.Verdict, f.Sentence = Absent, name+" has no radial forces or no angle"
		return f
	}
	if v.blocked(i, &f) {
		return f
	}
	if text, next, ok := v.turnMore(i, false); !ok {
		f.Sentence, f.Next = text, next
		return f
	}
	s := &v.spins[i]
	slope, part, ok := driftPerTurn(s)
	if !ok {
		f.Sentence = name + " has not made three turns without a pause between them"
		f.Next = "Turn " + name + " three turns forward in one go, then three turns back."
		return f
	}
	// Lost counts hold the transmitted angle back, forward and back alike: δ falls with the turns.
	slip := -slope
	u := fit.Expanded(part)
	f.guard(slip, 0, u, limit)
	reads := "the angle of " + name + " drifts by " + within(slip, u, f.Unit) + " per turn"
	switch f.Verdict {
	case Pass:
		f.Sentence = reads
	case Fail:
		verb := "loses"
		if slip < 0 {
			verb = "gains"
		}
		f.Sentence = "the angle of " + name + " " + verb + " " + within(math.Abs(slip), u, f.Unit) + " per turn"
		if n := c.encoder.count; n > 0 {
			f.Sentence += ", " + num(math.Abs(slip)/n, 1) + " of " + num(float64(set.AngleCounts), 0) + " counts"
		}
		f.Next = "Look at the encoder of " + name + ": its coupling, its supply and cable, and angle_counts at the amplifier."
	case Inconclusive, Absent:
		f.Sentence = reads + "; that is too close to the limit of " + show(limit, f.Unit) + " to decide"
		f.Next = "Turn " + name + " for some more turns in one go, forward and back."
	}
	return f
}

// driftPerTurn returns the common slope of δ over the number of turns, rad per turn.
func driftPerTurn(s *spin) (slope float64, part fit.Part, ok bool) {
	var sxx, sxy float64
	type point struct{ x, y float64 }
	var runs [][]point
	dof := -1
	for from := 0; from < len(s.revolutions); {
		to := from + 1
		var run []point
		y := delta(s, from)
		run = append(run, point{s.revolutions[from].Number, y})
		for to < len(s.revolutions) && s.revolutions[to].Run == s.revolutions[from].Run && s.revolutions[to].Dir == s.revolutions[from].Dir {
			y += fit.Wrap(delta(s, to) - y)
			run = append(run, point{s.revolutions[to].Number, y})
			to++
		}
		from = to
		if len(run) < 2 {
			continue
		}
		var x, yw fit.Welford
		for _, p := range run {
			x.Add(p.x)
			yw.Add(p.y)
		}
		for k := range run {
			run[k].x -= x.Mean()
			run[k].y -= yw.Mean()
			sxx += float64(run[k].x * run[k].x)
			sxy += float64(run[k].x * run[k].y)
		}
		dof += len(run) - 1
		runs = append(runs, run)
	}
	if dof < 1 || sxx == 0 {
		return 0, part, false
	}
	slope = sxy / sxx
	var squares float64
	for _, run := range runs {
		for _, p := range run {
			squares += square(p.y - float64(slope*p.x))
		}
	}
	return slope, fit.Part{U: math.Sqrt(squares / float64(dof) / sxx), DOF: float64(dof)}, true
}

// delta is the offset of one turn, by the sequence that dominates.
func delta(s *spin, i int) float64 {
	if s.reversed() {
		return cmplx.Phase(1i * s.revolutions[i].Minus)
	}
	return -cmplx.Phase(1i * s.revolutions[i].Plus)
}
