package checks

import (
	"math"
	"slices"
	"testing"
)

// fromTurnsAt lists the findings that rest on the turns of one wheel.
func fromTurnsAt(name string) []string {
	return []string{
		"placement " + name, "zero " + name + " fx", "zero " + name + " fy", "zero " + name + " fz", "zero " + name + " mx", "zero " + name + " my", "zero " + name + " mz",
		"weight " + name, "axes " + name, "drag " + name, "angle-offset " + name, "angle-sense " + name, "angle-slip " + name,
	}
}

// What is broken is never a panic and never a pass of what it takes the evidence from.
func TestBroken(t *testing.T) {
	of := func(corner int, qs ...Quantity) func(int, Quantity) bool {
		return func(c int, q Quantity) bool {
			return c == corner && slices.Contains(qs, q)
		}
	}
	replace := func(match func(int, Quantity) bool, with func(v float64) float64) func(*rig) {
		return func(r *rig) {
			r.spoil = func(c int, q Quantity, v float64) float64 {
				if match(c, q) {
					return with(v)
				}
				return v
			}
		}
	}
	constant := func(x float64) func(float64) float64 { return func(float64) float64 { return x } }
	allQ := []Quantity{Fx, Fy, Fz, Mx, My, Mz, Angle, Serial}
	withoutAngle := slices.Clip(append(fromTurnsAt("FR"), "angle-steps FR", "angle-jumps FR"))
	flaws := []struct {
		name  string
		spoil func(*rig)
		do    func(*rig)
		never []string // must not pass
		still []string // must pass all the same
	}{
		{name: "everything NaN", spoil: replace(of(1, allQ...), constant(math.NaN())), never: append(withoutAngle, "load FR"), still: fromTurnsAt("FL")},
		{name: "everything infinite", spoil: replace(of(1, allQ...), constant(math.Inf(-1))), never: append(withoutAngle, "load FR"), still: fromTurnsAt("FL")},
		{name: "everything zero", spoil: replace(of(1, Fx, Fy, Fz, Mx, My, Mz, Angle), constant(0)), never: append(withoutAngle, "load FR"), still: fromTurnsAt("FL")},
		{name: "everything huge", spoil: replace(of(1, Fx, Fy, Fz, Mx, My, Mz), func(v float64) float64 { return v * 1e300 }), never: append(fromTurnsAt("FR"), "load FR")},
		{name: "everything tiny", spoil: replace(of(1, Fx, Fy, Fz, Mx, My, Mz), func(v float64) float64 { return v * 1e-300 }), never: append(fromTurnsAt("FR"), "load FR")},
		{name: "raw value stuck", spoil: replace(of(1, Fx, Fz), constant(50)), never: append(fromTurnsAt("FR"), "load FR"), still: fromTurnsAt("FL")},
		{name: "one axis stuck", spoil: replace(of(1, Fx), constant(50)), never: []string{"axes FR", "weight FR", "angle-sense FR", "angle-offset FR"}, still: fromTurnsAt("FL")},
		{name: "fx NaN", spoil: replace(of(1, Fx), constant(math.NaN())), never: append(fromTurnsAt("FR"), "load FR"), still: fromTurnsAt("FL")},
		{name: "my NaN", spoil: replace(of(1, My), constant(math.NaN())), never: []string{"zero FR my", "drag FR"}, still: append(fromTurnsAt("FL"), "zero FR fx", "zero FR mz", "weight FR")},
		{name: "mx NaN", spoil: replace(of(1, Mx), constant(math.NaN())), never: []string{"zero FR mx"}, still: append(fromTurnsAt("FL"), "zero FR fx", "weight FR", "drag FR")},
		{name: "angle dead", spoil: replace(of(1, Angle), constant(1)), never: withoutAngle, still: append(fromTurnsAt("FL"), "load FR")},
		{name: "angle NaN", spoil: replace(of(1, Angle), constant(math.NaN())), never: withoutAngle, still: fromTurnsAt("FL")},
		{name: "angle huge", spoil: replace(of(1, Angle), func(v float64) float64 { return v * 1e307 }), never: withoutAngle, still: fromTurnsAt("FL")},
		{name: "angle silent", spoil: func(r *rig) { r.drop = func(m int) bool { return m == 3 } }, never: append(withoutAngle, "alive FR"), still: append(fromTurnsAt("FL"), "load FR")},
		{name: "forces silent", spoil: func(r *rig) { r.drop = func(m int) bool { return m == 2 } }, never: append(fromTurnsAt("FR"), "alive FR", "load FR"), still: fromTurnsAt("FL")},
		{name: "all silent", spoil: func(r *rig) { r.drop = func(m int) bool { return m >= 2 } }, never: append(withoutAngle, "alive FR", "load FR"), still: fromTurnsAt("FL")},
		{
			name: "fx NaN now and then", spoil: func(r *rig) {
				n := 0
				r.spoil = func(c int, q Quantity, v float64) float64 {
					if c == 1 && q == Fx {
						if n++; n%97 == 0 {
							return math.NaN()
						}
					}
					return v
				}
			},
			never: nil, still: fromTurnsAt("FL"),
		},
		{
			name: "channel appears late", spoil: func(r *rig) {
				start := r.at
				r.drop = func(m int) bool { return m == 2 && r.at-start < 9e9 }
			},
			never: []string{"load FR"}, still: append(fromTurnsAt("FL"), fromTurnsAt("FR")...),
		},
		{
			name: "clock steps back", do: func(r *rig) {
				r.run(4.6)
				r.lift()
				r.run(0.7)
				r.turn(0, 3.3, 5.5, 2)
				r.at -= 3600e9
				r.turn(0, 3.3, -5, 2)
				r.turn(1, 3.3, 5.5, 2)
				r.turn(1, 3.3, -5, 2)
			},
			still: append(fromTurnsAt("FL"), append(fromTurnsAt("FR"), "alive FL", "alive FR", "load FL")...),
		},
		{
			name: "clock steps back while a wheel turns", do: func(r *rig) {
				r.run(4.6)
				r.lift()
				r.run(0.7)
				r.wheels[1].omega = 5
				r.wheels[1].my = 2
				r.run(5)
				r.at -= 3600e9
				r.wheels[1].theta += 2
				r.turn(1, 3.3, 5, 2)
				r.turn(1, 3.3, -5, 2)
				r.turn(0, 3.3, 5.5, 2)
				r.turn(0, 3.3, -5, 2)
			},
			still: append(fromTurnsAt("FL"), append(fromTurnsAt("FR"), "alive FL", "alive FR", "load FL", "angle-jumps FR")...),
		},
		{
			name: "six months go by while a wheel turns", do: func(r *rig) {
				r.run(4.6)
				r.lift()
				r.run(0.7)
				r.wheels[1].omega = 5
				r.wheels[1].my = 2
				r.run(5)
				r.at += 182 * 86400e9
				r.wheels[1].theta += 2
				r.turn(1, 3.3, 5, 2)
				r.turn(1, 3.3, -5, 2)
				r.turn(0, 3.3, 5.5, 2)
				r.turn(0, 3.3, -5, 2)
			},
			never: []string{"alive FL", "alive FR"},
			still: append(fromTurnsAt("FL"), append(fromTurnsAt("FR"), "angle-jumps FR")...),
		},
		{
			name: "one sample a second", spoil: func(r *rig) {
				for i := range r.setup.Messages {
					r.setup.Messages[i].Period = 1
				}
				r.rateHz = 1
			},
			do: func(r *rig) {
				r.run(10)
				r.lift()
				r.run(4)
				r.turn(1, 6, 1.2, 2)
				r.turn(1, 6, -1.2, 2)
				r.run(5)
			},
			never: []string{"angle-jumps FR"},
		},
		{
			name: "ten thousand a second", spoil: func(r *rig) {
				for i := range r.setup.Messages {
					r.setup.Messages[i].Period = 1e-4
				}
				r.rateHz, r.stagger = 10_000, 10_000
				r.wheels[0].counts, r.wheels[1].counts = 16384, 16384
				r.setup.Corners[0].AngleCounts, r.setup.Corners[1].AngleCounts = 16384, 16384
			},
			do:    func(r *rig) { r.brief(1) },
			still: append(fromTurnsAt("FR"), "alive FR", "angle-steps FR", "angle-jumps FR", "load FR"),
		},
		{
			name: "all at one time", spoil: func(r *rig) {
				r.start()
				at := r.at
				r.send = func(_ int64, m int, s []Sample) { r.judge.Message(at, m, 8, false, s) }
			},
			never: append(fromTurnsAt("FL"), append(fromTurnsAt("FR"), "load FL", "load FR")...),
		},
		{
			name: "time at zero", spoil: func(r *rig) { r.at = 0 },
			still: append(fromTurnsAt("FL"), append(fromTurnsAt("FR"), "alive FL", "load FL", "load FR")...),
		},
		{
			name: "time before 1970", spoil: func(r *rig) { r.at = -20e9 },
			still: append(fromTurnsAt("FL"), append(fromTurnsAt("FR"), "alive FL", "load FL", "load FR")...),
		},
	}
	for _, c := range flaws {
		for _, frame := range []ForceFrame{Rotating, Fixed} {
			t.Run(c.name+"/"+[]string{"rotating", "fixed"}[frame], func(t *testing.T) {
				r := newRig(9, "FL", "FR")
				if frame == Fixed {
					r.resolved()
				}
				if c.spoil != nil {
					c.spoil(r)
				}
				if c.do != nil {
					c.do(r)
				} else {
					r.brief(0, 1)
				}
				got := r.judge.Result()
				keepsRules(t, &r.setup, got)
				if p := passes(got, c.never); len(p) > 0 {
					t.Errorf("pass without evidence: %v", p)
				}
				if p := passes(got, c.still); len(p) != len(c.still) {
					for _, f := range got.Findings {
						if f.Verdict == Fail || f.Verdict == Inconclusive {
							t.Errorf("%s %s %s: %s: %s", f.Check, f.Subject, f.Channel, f.Verdict, f.Sentence)
						}
					}
				}
			})
		}
	}
}
