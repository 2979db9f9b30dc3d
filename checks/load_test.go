package checks

import (
	"math"
	"testing"
)

func TestLoad(t *testing.T) {
	stands := func(load float64) func(*rig) {
		return func(r *rig) { // the setup's load_n stays
			r.wheels[1].fz = load - hangingN
			r.run(4.6)
			r.lift()
			r.run(0.7)
			for i := range 2 {
				r.turn(i, 3.3, 5.5, 2)
				r.turn(i, 3.3, -5, 2)
			}
		}
	}
	both := []string{"load FR fail", "load vehicle fail"}
	judgeFlaws(t, []flaw{
		// Contact load = |f| + m·g: the element carries 5754.8 N, 25 kg weigh 245.2 N, together 6000 N.
		{name: "clean", check: "load FR", value: 6000, near: 1},
		{name: "twice the limit too heavy", do: stands(7200), open: both, check: "load FR", value: 7200, near: 1, says: []string{"off by 20.0 %"}},
		{name: "twice the limit too light", do: stands(4800), open: both, check: "load FR", value: 4800, near: 1, says: []string{"off by −20.0 %"}},
		{
			name: "at the limit", do: stands(6600), open: []string{"load FR inconclusive", "load vehicle inconclusive"},
			check: "load FR", value: 6600, near: 1, says: []string{"too close to the limit of 10.0 %"},
		},
		{name: "sum", do: stands(7200), open: both, check: "load vehicle", value: 13200, near: 2},
		{name: "mass of the vehicle not known", do: stands(7200), spoil: func(r *rig) { r.setup.MassKg = 0 }, open: []string{"load FR fail"}},
		{name: "load not known", spoil: func(r *rig) { r.setup.Corners[1].LoadN = 0 }, check: "load FL", value: 6000, near: 1},
		// |f| knows no angle: the wheel stands 40° round.
		{name: "angle off", spoil: func(r *rig) { r.wheels[1].delta = 40 * degree }, open: []string{"angle-offset FR fail"}, check: "load FR", value: 6000, near: 1},
	})
}

func TestLoadNeedsRest(t *testing.T) {
	r := newRig(1, "FL")
	r.setup.MassKg = rigLoadN / gravity
	r.run(2.6) // half a second to settle, then whole seconds
	got := r.judge.Result()
	keepsRules(t, &r.setup, got)
	f := find(got, "load", "FL", "")
	if f.Verdict != Inconclusive || f.Uncertainty.Known || !f.Value.Known || f.Sentence != "FL has stood on the ground at rest for 2 seconds; 3 are the least" {
		t.Errorf("%s, %v ± %v, %q, want inconclusive with a value and 2 seconds", f.Verdict, f.Value, f.Uncertainty, f.Sentence)
	}
	r.run(2)
	if f := find(r.judge.Result(), "load", "FL", ""); f.Verdict != Pass {
		t.Errorf("%s: %q, want pass", f.Verdict, f.Sentence)
	}
}

// A corner without an angle, or whose angle is dead, still stands on the ground.
func TestLoadWithoutAngle(t *testing.T) {
	for _, c := range []string{"not fitted", "silent", "constant"} {
		t.Run(c, func(t *testing.T) {
			r := newRig(1, "FL", "FR")
			switch c {
			case "not fitted":
				r.setup.Corners[1].Channels[Angle] = None
			case "silent":
				r.drop = func(message int) bool { return message == 3 }
			case "constant":
				r.spoil = func(corner int, q Quantity, v float64) float64 {
					if corner == 1 && q == Angle {
						return 1
					}
					return v
				}
			}
			r.run(5)
			got := r.judge.Result()
			keepsRules(t, &r.setup, got)
			if f := find(got, "load", "FR", ""); f.Verdict != Pass || math.Abs(f.Value.Value-rigLoadN) > 1 {
				t.Errorf("%s %v: %q, want pass", f.Verdict, f.Value, f.Sentence)
			}
		})
	}
}

// The sum waits for its uncertainty as each corner does.
func TestLoadSumNeedsRest(t *testing.T) {
	r := newRig(1, "FL", "FR")
	r.setup.MassKg = 2 * rigLoadN / gravity
	for _, c := range []struct {
		until float64 // s
		want  Verdict
	}{{1.8, Inconclusive}, {2.8, Inconclusive}, {4.8, Pass}} {
		r.run(c.until - float64(r.at-1_700_000_000e9)*1e-9)
		if f := find(r.judge.Result(), "load", "vehicle", ""); f.Verdict != c.want {
			t.Errorf("after %.1f s: %s ± %v: %q, want %s", c.until, f.Verdict, f.Uncertainty, f.Sentence, c.want)
		}
	}
}
