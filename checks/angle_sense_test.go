package checks

import "testing"

func TestAngleSense(t *testing.T) {
	counted := []string{"angle-offset FR inconclusive", "angle-sense FR fail"}
	says := []string{"the angle of FR counts against its forces"}
	judgeFlaws(t, []flaw{
		{name: "clean", check: "angle-sense FR", value: 0, near: 0.01},
		// f = −i·m·g: all of the weight is in g₋, so its share is 1.
		{
			name: "angle reversed", spoil: func(r *rig) { r.angle[1] = func(theta float64) float64 { return -theta } },
			open: counted, check: "angle-sense FR", value: 1, near: 0.01, says: says,
		},
		{
			name: "fx and fz exchanged", spoil: func(r *rig) { r.wheels[1].swapped = true },
			open: counted, check: "angle-sense FR", value: 1, near: 0.01, says: says,
		},
		{
			name: "reversed twice", spoil: func(r *rig) {
				r.wheels[1].swapped = true
				r.angle[1] = func(theta float64) float64 { return -theta }
			},
			open: []string{"angle-offset FR fail"}, check: "angle-sense FR", value: 0, near: 0.01,
		},
	})
}

// One sign of a radial axis wrong is a mirror: it turns the other way round, whichever way the wheel was turned.
func TestAngleSenseOneSign(t *testing.T) {
	for _, omega := range []float64{5, -5} {
		for _, q := range []Quantity{Fx, Fz} {
			r := newRig(3, "FL")
			r.spoil = func(_ int, channel Quantity, v float64) float64 {
				if channel == q {
					return -v
				}
				return v
			}
			r.lift()
			r.run(1)
			r.turn(0, 4.3, omega, 2)
			if f := find(r.judge.Result(), "angle-sense", "FL", ""); f.Verdict != Fail {
				t.Errorf("%s reversed, turned at %g: %s: %s", q, omega, f.Verdict, f.Sentence)
			}
		}
	}
}
