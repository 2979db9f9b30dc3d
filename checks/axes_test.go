package checks

import "testing"

func TestAxes(t *testing.T) {
	flaws := []flaw{{name: "clean", check: "axes FR", value: 0, near: 0.003}}
	// Fx·(1+a), Fz·(1−a) is f + a·conj(f): the axes differ by 2a = 8 %. An axis that leans by φ,
	// Fz + φ·Fx, is f + iφ/2·conj(f) beside a turn of φ/2: φ = 2·0.04 rad = 4.58°.
	for _, c := range []struct {
		name    string
		epsilon complex128
		says    string
	}{
		{"fx more sensitive", 0.04, "differ by 8.0 %"},
		{"fz more sensitive", -0.04, "differ by −8.0 %"},
		{"angle wider than 90°", 0.04i, "4.5"},
		{"angle narrower than 90°", -0.04i, "−4.5"},
	} {
		flaws = append(flaws, flaw{
			name:  c.name,
			spoil: func(r *rig) { r.wheels[1].epsilon, r.wheels[1].noiseN = c.epsilon, 1 },
			open:  []string{"axes FR fail"},
			check: "axes FR", value: 0.04, near: 0.001, says: []string{c.says},
		})
	}
	flaws = append(flaws,
		flaw{
			name: "half the limit", spoil: func(r *rig) { r.wheels[1].epsilon = 0.006 + 0.008i },
			check: "axes FR", value: 0.01, near: 0.003,
		},
		flaw{
			name: "at the limit", spoil: func(r *rig) { r.wheels[1].epsilon = 0.02 },
			open: []string{"axes FR inconclusive"}, check: "axes FR", value: 0.02, near: 0.003, says: []string{"too close to the limit of 0.020"},
		},
		flaw{
			name: "turned over the angle counting backward", spoil: func(r *rig) {
				r.wheels[1].epsilon = 0.04
				r.angle[1] = func(theta float64) float64 { return -theta }
			},
			open: []string{"axes FR fail", "angle-offset FR inconclusive", "angle-sense FR fail"}, check: "axes FR", value: 0.04, near: 0.003,
		},
	)
	judgeFlaws(t, flaws)
}
