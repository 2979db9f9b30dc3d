package checks

import (
	"strings"
	"testing"
)

func TestDrag(t *testing.T) {
	turns := func(forward, back float64) func(*rig) {
		return func(r *rig) {
			r.run(4.6)
			r.lift()
			r.run(0.7)
			r.turn(0, 3.3, 5.5, 2)
			r.turn(0, 3.3, -5, 2)
			r.turn(1, 3.3, 5.5, forward)
			r.turn(1, 3.3, -5, back)
		}
	}
	judgeFlaws(t, []flaw{
		{name: "clean", check: "drag FR", value: 2, near: 0.3},
		// The rim turned forward by hand drives the hub forward, My > 0: (24 − (−24))/2 = 24.
		{name: "binding", do: turns(24, 24), open: []string{"drag FR fail"}, check: "drag FR", value: 24, near: 0.3, says: []string{"a drag of ", " N·m, more than 12.00 N·m"}},
		// The hub turned by the engine drives the rim: every sign is the other, the size is the same.
		{name: "turned by the engine", do: turns(-24, -24), open: []string{"drag FR fail"}, check: "drag FR", value: 24, near: 0.3},
		// Forward 3, back −1: zero (3 + (−1))/2 = 1, drag (3 − (−1))/2 = 2.
		{name: "zero apart from drag", do: turns(3, 1), check: "zero FR my", value: 1, near: 0.3},
		{name: "drag apart from zero", do: turns(3, 1), check: "drag FR", value: 2, near: 0.3},
		{name: "big zero", spoil: func(r *rig) { r.wheels[1].zero[My] = -100 }, open: []string{"zero FR my fail"}, check: "drag FR", value: 2, near: 0.3},
		{name: "at the limit", do: turns(12, 12), open: []string{"drag FR inconclusive"}, check: "drag FR", value: 12, near: 0.3, says: []string{"too close to the limit of 12.00 N·m"}},
		{name: "no channel", spoil: func(r *rig) { r.setup.Corners[1].Channels[My] = None }},
	})
}

func TestDragNeedsBothDirections(t *testing.T) {
	for _, c := range []struct {
		name  string
		omega float64
		want  string
	}{
		{"forward", 5, "FL has turned 5.2 turns forward, but not back; both are needed"},
		{"back", -5, "FL has turned 5.2 turns back, but not forward; both are needed"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(3, "FL")
			r.run(1)
			r.lift()
			r.run(1)
			r.turn(0, 5.3, c.omega, 2)
			got := r.judge.Result()
			keepsRules(t, &r.setup, got)
			for _, f := range []Finding{find(got, "drag", "FL", ""), find(got, "zero", "FL", "my")} {
				// The wheel rests when it is asked, so only whole turns count.
				text := strings.ReplaceAll(f.Sentence, "5.0 turns", "5.2 turns")
				if f.Verdict != Inconclusive || f.Uncertainty.Known || text != c.want {
					t.Errorf("%s is %s, %q; want inconclusive, %q", f.Check, f.Verdict, f.Sentence, c.want)
				}
			}
			for _, q := range []string{"fx", "fy", "fz", "mx", "mz"} {
				if f := find(got, "zero", "FL", q); f.Verdict != Pass {
					t.Errorf("zero %s is %s, want pass: %s", q, f.Verdict, f.Sentence)
				}
			}
		})
	}
}
