package checks

import (
	"math"
	"testing"
)

func TestWeight(t *testing.T) {
	judgeFlaws(t, []flaw{
		{name: "clean", check: "weight FL", value: 1, near: 0.003, says: []string{"FL weighs 24", " N hanging", "25.0 kg"}},
		// 25 kg hang, the setup says 25/1.1: measured ÷ expected = 1.1.
		{
			name: "reads a tenth more", spoil: func(r *rig) { r.setup.Corners[1].WheelMassKg = rigMassKg / 1.1 },
			open: []string{"weight FR fail"}, check: "weight FR", value: 1.1, near: 0.003,
		},
		{
			name: "reads a tenth less", spoil: func(r *rig) { r.setup.Corners[1].WheelMassKg = rigMassKg / 0.9 },
			open: []string{"weight FR fail"}, check: "weight FR", value: 0.9, near: 0.003,
		},
		{
			name: "at the limit", spoil: func(r *rig) { r.setup.Corners[1].WheelMassKg = rigMassKg / 1.05 },
			open: []string{"weight FR inconclusive"}, check: "weight FR", value: 1.05, near: 0.003, says: []string{"too close to the limit of 5.0 %"},
		},
		{name: "mass not known", spoil: func(r *rig) { r.setup.Corners[1].WheelMassKg = 0 }},
		// A channel whose scale is a thousand times too small still answers to its own angle.
		{
			name: "kN taken for N", frame: []ForceFrame{Rotating},
			spoil: func(r *rig) {
				for _, q := range []Quantity{Fx, Fz} {
					r.setup.Channels[r.setup.Corners[1].Channels[q]].Step = 1e-5
				}
				r.wheels[1].noiseN = 0.001
				r.spoil = func(corner int, q Quantity, v float64) float64 {
					if corner == 1 && (q == Fx || q == Fz) {
						return v / 5
					}
					return v
				}
			},
			open: []string{"weight FR fail", "load FR inconclusive", "load vehicle inconclusive"}, check: "weight FR", value: 0.2, near: 0.003,
		},
	})
}

func TestWeightIsAbsent(t *testing.T) {
	r := newRig(1, "FL", "FR")
	r.setup.Corners[0].WheelMassKg = 0
	r.setup.Corners[1].Channels[Fz] = None
	r.brief(0, 1)
	got := r.judge.Result()
	for _, name := range []string{"FL", "FR"} {
		if f := find(got, "weight", name, ""); f.Verdict != Absent {
			t.Errorf("%s is %s: %s", name, f.Verdict, f.Sentence)
		}
	}
	// Without the mass the wheel's own weight stands in for it: 245.2 N.
	if f := find(got, "load", "FL", ""); math.Abs(f.Value.Value-rigLoadN) > 3 {
		t.Errorf("load = %v, want %v", f.Value.Value, rigLoadN)
	}
}
