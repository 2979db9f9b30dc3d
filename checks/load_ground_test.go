package checks

import (
	"math"
	"testing"
)

// A zero of 115 N on a rotating axis makes |f| differ between positions of the wheel; once the turns have
// shown it, it is taken off and every position gives the same load.
func TestLoadWithoutZero(t *testing.T) {
	for _, frame := range []ForceFrame{Rotating, Fixed} {
		r := newRig(4, "FL", "FR")
		if frame == Fixed {
			r.resolved()
		}
		r.wheels[1].zero[Fx], r.wheels[1].zero[Fz] = 115, -60
		r.brief(0, 1)
		before := find(r.judge.Result(), "load", "FR", "")
		for range 6 {
			r.wheels[1].theta += 1.1
			r.run(2.2)
		}
		got := find(r.judge.Result(), "load", "FR", "")
		for _, f := range []Finding{before, got} {
			if math.Abs(f.Value.Value-rigLoadN) > 3 || f.Uncertainty.Value > 66 { // of these 65 from a sensitivity known to 1 %
				t.Errorf("load %v ± %v, want %v within 3", f.Value.Value, f.Uncertainty.Value, rigLoadN)
			}
		}
	}
}

func TestSplits(t *testing.T) {
	for _, c := range []struct {
		name  string
		loads [4]float64 // N, of 6000 each in the setup
		says  []string
		not   string
	}{
		{"as the setup says", [4]float64{6000, 6000, 6000, 6000}, nil, "carries"},
		// 6300 + 6300 of 24 000 N are 52.5 %: exactly 5 % more than 50 %; 6400 + 6400 are 53.3 %.
		{"a little to the left", [4]float64{6200, 5800, 6200, 5800}, nil, "carries"},
		{"to the left", [4]float64{6400, 5600, 6400, 5600}, []string{"the left side carries 53.3 %", "the setup says 50.0 %", "the right side carries 46.7 %"}, "axle"},
		{"to the front", [4]float64{6400, 6400, 5600, 5600}, []string{"axle 1 carries 53.3 %", "axle 2 carries 46.7 %"}, "side"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(4, "FL", "FR", "RL", "RR")
			r.setup.MassKg = 24000 / gravity
			for i, n := range c.loads {
				r.wheels[i].fz = n - hangingN
			}
			r.run(5)
			got := r.judge.Result()
			keepsRules(t, &r.setup, got)
			f := find(got, "load", "vehicle", "")
			for _, part := range c.says {
				if !contains(f.Sentence, part) {
					t.Errorf("says %q, want %q in it", f.Sentence, part)
				}
			}
			if contains(f.Sentence, c.not) && c.not != "carries" || c.not == "carries" && contains(f.Sentence, "setup says") {
				t.Errorf("says %q, want no %q in it", f.Sentence, c.not)
			}
		})
	}
}

// On the ground the load points up; what turns it is said beyond twice the limit of 1° and the uncertainty, and judges nothing.
func TestGroundOffset(t *testing.T) {
	// The encoder rounds down to whole counts of 0.18°: by 0.09° on average.
	const says = "standing on the ground its load points "
	for _, c := range []struct {
		name  string
		delta float64 // of the angle, °
		slope float64 // by which the load is turned on the ground, °
		frame ForceFrame
		want  Verdict
		says  string // empty: nothing of the ground
	}{
		{"level", 0, 0, Rotating, Pass, ""},
		{"level, fixed", 0, 0, Fixed, Pass, ""},
		{"a slope", 0, 1.5, Rotating, Pass, ""},
		{"a steep slope", 0, 4, Rotating, Pass, says + "3.8"},
		{"a steep slope, fixed", 0, -4, Fixed, Pass, says + "−4.1"},
		{"misaligned, level", 3, 0, Rotating, Fail, ""},
		{"misaligned, level, fixed", 3, 0, Fixed, Fail, ""},
		{"misaligned on a slope", 3, -4, Rotating, Fail, says + "−1.1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(4, "FL", "FR")
			if c.frame == Fixed {
				r.resolved()
			}
			w := r.wheels[1]
			w.delta = c.delta * degree
			size := w.fz
			slope := func() { w.fx, w.fz = size*math.Sin(c.slope*degree), size*math.Cos(c.slope*degree) }
			slope()
			r.run(4.6)
			r.lift()
			w.fx = 0
			r.run(0.7)
			for i := range 2 {
				r.turn(i, 3.3, 5.5, 2)
				r.turn(i, 3.3, -5, 2)
			}
			r.down()
			slope()
			r.run(3)
			f := find(r.judge.Result(), "angle-offset", "FR", "")
			if f.Verdict != c.want {
				t.Errorf("%s, want %s: %s", f.Verdict, c.want, f.Sentence)
			}
			if c.says == "" && contains(f.Sentence, says) || !contains(f.Sentence, c.says) {
				t.Errorf("says %q, want %q in it", f.Sentence, c.says)
			}
		})
	}
}
