package checks

import (
	"fmt"
	"math"
	"testing"
)

func TestAngleSlip(t *testing.T) {
	flaws := []flaw{{name: "clean", check: "angle-slip FR", value: 0, near: 0.15 * degree}}
	for _, v := range []float64{0.6, -0.6} {
		// An encoder that shows 1 − 0.6/360 of the angle loses 0.6° per turn: 0.6/360·2048 = 3.4 counts.
		verb := "loses "
		if v < 0 {
			verb = "gains "
		}
		flaws = append(flaws, flaw{
			name: fmt.Sprintf("by %g° per turn", v),
			spoil: func(r *rig) {
				r.angle[1] = func(theta float64) float64 { return theta * (1 - v/360) }
				r.wheels[1].theta = 0
			},
			open:  []string{"angle-offset FR inconclusive", "angle-slip FR fail"},
			check: "angle-slip FR", value: v * degree, near: 0.15 * degree,
			says: []string{verb, " of 2048 counts"},
		})
	}
	flaws = append(flaws,
		// Axes that differ make the force of each quarter of a turn point elsewhere, each turn alike.
		flaw{
			name: "axes differ", spoil: func(r *rig) { r.wheels[1].epsilon = 0.04 },
			open: []string{"axes FR fail"}, check: "angle-slip FR", value: 0, near: 0.15 * degree,
		},
		flaw{
			name: "zero is off", spoil: func(r *rig) { r.wheels[1].zero[Fx] = 120 },
			open: []string{"zero FR fx fail"}, check: "angle-slip FR", value: 0, near: 0.15 * degree,
		},
	)
	judgeFlaws(t, flaws)
}

// Of 2048 counts 4 are lost each turn: δ falls by 4·360/2048 = 0.7031° per turn, forward and back.
func TestAngleSlipInCounts(t *testing.T) {
	r := newRig(5, "FL")
	r.wheels[0].theta = 0
	r.wheels[0].noiseN = 0.5
	r.angle[0] = func(theta float64) float64 { return theta * 2044 / 2048 }
	r.brief(0)
	f := find(r.judge.Result(), "angle-slip", "FL", "")
	if want := 4 * 2 * math.Pi / 2048; math.Abs(f.Value.Value-want) > 0.01*degree || !contains(f.Sentence, "4.0 of 2048 counts") {
		t.Errorf("%v: %q, want %v and 4.0 of 2048 counts", f.Value.Value, f.Sentence, want)
	}
}
