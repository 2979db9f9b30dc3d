package checks

import (
	"fmt"
	"testing"
)

func TestZero(t *testing.T) {
	flaws := []flaw{{name: "clean"}}
	for q := range Quantity(components) {
		size, near := 120.0, 3.0 // twice zero_force_n
		if q >= Mx {
			size, near = 24, 0.5 // twice zero_moment_nm
		}
		for _, v := range []float64{size, -size} {
			flaws = append(flaws, flaw{
				name:  fmt.Sprintf("%s by %g", q, v),
				spoil: func(r *rig) { r.wheels[1].zero[q] = v },
				open:  []string{"zero FR " + q.String() + " fail"},
				check: "zero FR " + q.String(), value: v, near: near,
				says: []string{"FR " + q.String() + " reads ", " without load, more than "},
			})
		}
	}
	flaws = append(flaws,
		flaw{
			// The weight's own moment about X, m·g·e = 245.17 N · 0.1 m = 24.5 N·m, turns with the wheel and is no zero.
			name: "moment of the hanging weight",
			do: func(r *rig) {
				r.wheels[0].mx, r.wheels[1].mx = -hangingN*0.1, hangingN*0.1
				r.brief(0, 1)
			},
			check: "zero FL mx", value: 0, near: 0.5,
		},
		flaw{
			name:  "half the limit",
			spoil: func(r *rig) { r.wheels[0].zero[Fx], r.wheels[0].zero[Fz] = 30, -30 },
			check: "zero FL fz", value: -30, near: 3,
		},
		flaw{
			name:  "at the limit",
			spoil: func(r *rig) { r.wheels[0].zero[Fy] = 60 },
			open:  []string{"zero FL fy inconclusive"},
			check: "zero FL fy", value: 60, near: 1, says: []string{"too close to the limit of 60.0 N to decide"},
		},
		flaw{
			name: "no channel",
			spoil: func(r *rig) {
				r.setup.Corners[0].Channels[Fy] = None
			},
		},
	)
	judgeFlaws(t, flaws)
}

func TestZeroIsAbsent(t *testing.T) {
	r := newRig(1, "FL")
	r.setup.Corners[0].Channels[Fy] = None
	r.setup.Corners[0].Channels[Mz] = None
	r.brief(0)
	got := r.judge.Result()
	for q := range Quantity(components) {
		want := Pass
		if q == Fy || q == Mz {
			want = Absent
		}
		if f := find(got, "zero", "FL", q.String()); f.Verdict != want {
			t.Errorf("%s is %s, want %s: %s", q, f.Verdict, want, f.Sentence)
		}
	}
}

// Fixed axes can only be turned back as a pair: of one alone the offset cannot be told.
func TestZeroOfOneFixedAxis(t *testing.T) {
	for _, q := range []Quantity{Fx, Fz, Mx, Mz} {
		t.Run(q.String(), func(t *testing.T) {
			r := newRig(1, "FL")
			r.resolved()
			r.setup.Corners[0].Channels[q] = None
			partner := Fx + Fz - q
			if q >= Mx {
				partner = Mx + Mz - q
			}
			r.wheels[0].zero[partner] = 200
			r.brief(0)
			got := r.judge.Result()
			keepsRules(t, &r.setup, got)
			if f := find(got, "zero", "FL", partner.String()); f.Verdict == Pass || f.Verdict == Fail || f.Value.Known {
				t.Errorf("%s without %s is %s, %v: %s", partner, q, f.Verdict, f.Value, f.Sentence)
			}
		})
	}
}
