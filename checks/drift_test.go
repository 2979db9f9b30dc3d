package checks

import (
	"strings"
	"testing"
)

// drive rolls the wheels at omega, rad/s, for so many seconds, moving the zero of the second one by perS.
func (r *rig) drive(seconds, omega float64, q Quantity, perS float64) {
	for _, w := range r.wheels {
		w.omega = omega
	}
	for range int(seconds) {
		r.run(1)
		r.wheels[1].zero[q] += perS
	}
	for _, w := range r.wheels {
		w.omega = 0
	}
}

func TestDrift(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(*rig)
		want Verdict
		says string
	}{
		{"too short", func(r *rig) { r.drive(60, 12, Fx, 0) }, Inconclusive, "has rolled for 60 s"},
		{"stays", func(r *rig) { r.drive(260, 12, Fx, 0) }, Pass, "has moved by"},
		{"a constant zero is no drift", func(r *rig) { r.wheels[1].zero[Fx] = 300; r.drive(260, 12, Fx, 0) }, Pass, "has moved by"},
		{"moves slowly", func(r *rig) { r.drive(130, 12, Fx, 0); r.drive(400, 12, Fx, 0.5) }, Fail, "beyond 60.0 N since"},
		{"one bump", func(r *rig) {
			r.drive(130, 12, Fx, 0)
			r.wheels[1].zero[Fx] += 150
			r.drive(10, 12, Fx, 0)
			r.wheels[1].zero[Fx] -= 150
			r.drive(120, 12, Fx, 0)
		}, Pass, "has moved by"},
		{"an amplifier that starts anew", func(r *rig) {
			r.drive(130, 12, Fx, 0)
			r.drop = func(int) bool { return true }
			r.drive(8, 12, Fx, 0)
			r.drop = nil
			r.drive(120, 12, Fx, 0)
		}, Pass, "has moved by"},
		{"moves on over a start of the amplifier", func(r *rig) {
			r.drive(130, 12, Fx, 0)
			r.drive(60, 12, Fx, 0.5)
			r.drop = func(int) bool { return true }
			r.drive(8, 12, Fx, 0.5)
			r.drop = nil
			r.drive(240, 12, Fx, 0.5)
		}, Fail, "beyond 60.0 N since"},
		{"away and back", func(r *rig) {
			r.drive(130, 12, Fx, 0)
			r.wheels[1].zero[Fx] += 150
			r.drive(120, 12, Fx, 0)
			r.wheels[1].zero[Fx] -= 150
			r.drive(150, 12, Fx, 0)
		}, Fail, "came back"},
	} {
		for _, frame := range []ForceFrame{Rotating, Fixed} {
			r := newRig(8, "FL", "FR")
			if frame == Fixed {
				r.resolved()
			}
			r.rateHz = 50
			r.run(4)
			c.do(r)
			got := r.judge.Result()
			f := find(got, "drift", "FR", "fx")
			if f.Verdict != c.want || !strings.Contains(f.Sentence, c.says) {
				t.Errorf("%s: %s: %s; want %s, %q", c.name, f.Verdict, f.Sentence, c.want, c.says)
			}
			for _, blameless := range []Finding{find(got, "drift", "FL", "fx"), find(got, "drift", "FR", "fz")} {
				if blameless.Verdict == Fail {
					t.Errorf("%s: %s", c.name, blameless.Sentence)
				}
			}
		}
	}
}
