package checks

import (
	"math"
	"testing"
)

func TestSkew(t *testing.T) {
	for _, c := range []struct {
		name  string
		lateS float64
		delta float64 // rad
		want  Verdict
	}{
		{"together", 0, 0, Pass},
		{"twice the limit", 0.004, 0, Fail},
		{"twice the limit, early", -0.004, 0, Fail},
		{"late and off", 0.006, 0.03, Fail},
		{"off alone", 0, 0.03, Pass},
	} {
		for _, frame := range []ForceFrame{Rotating, Fixed} {
			r := newRig(3, "FL", "FR")
			if frame == Fixed {
				r.resolved()
			}
			r.wheels[1].lateS, r.wheels[1].delta = c.lateS, c.delta
			r.brief(0, 1)
			got := r.judge.Result()
			f := find(got, "skew", "FR", "")
			if f.Verdict != c.want || math.Abs(f.Value.Value-c.lateS) > 0.0006 {
				t.Errorf("%s: %s %v, want %s %v: %s", c.name, f.Verdict, f.Value.Value, c.want, c.lateS, f.Sentence)
			}
			if f := find(got, "skew", "FL", ""); f.Verdict != Pass {
				t.Errorf("%s: FL is blamed: %s", c.name, f.Sentence)
			}
			// At 4 rad/s an angle that is late by 6 ms is behind by 1.4°; turning both ways takes that out of the offset.
			if f := find(got, "angle-offset", "FR", ""); math.Abs(f.Value.Value-c.delta) > 0.004 {
				t.Errorf("%s: angle-offset = %v, want %v", c.name, f.Value.Value, c.delta)
			}
		}
	}
}

func TestSkewNeedsBothDirections(t *testing.T) {
	r := newRig(3, "FL")
	r.run(4)
	r.lift()
	r.run(1)
	r.turn(0, 5.2, 4, 2)
	if f := find(r.judge.Result(), "skew", "FL", ""); f.Verdict != Inconclusive || f.Next != "Turn FL three turns back." {
		t.Errorf("%s: %s → %s", f.Verdict, f.Sentence, f.Next)
	}
}
