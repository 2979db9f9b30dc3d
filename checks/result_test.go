package checks

import (
	"strings"
	"testing"
)

func TestOverall(t *testing.T) {
	pass, fail, absent := Finding{Verdict: Pass, Required: true}, Finding{Verdict: Fail}, Finding{Verdict: Absent}
	missing, idle := Finding{Required: true}, Finding{}
	for _, c := range []struct {
		name     string
		findings []Finding
		want     Verdict
	}{
		{"nothing", nil, Inconclusive},
		{"only absent", []Finding{absent, absent}, Inconclusive},
		{"only waiting", []Finding{idle}, Inconclusive},
		{"pass", []Finding{pass, absent}, Pass},
		{"one is missing", []Finding{pass, missing}, Inconclusive},
		{"one is missing that nobody waits for", []Finding{pass, idle}, Pass},
		{"fail", []Finding{pass, missing, fail}, Fail},
	} {
		if got := overall(c.findings); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// How far a wheel has been turned decides what can be told of it.
func TestTooFewTurns(t *testing.T) {
	for _, c := range []struct {
		turns     float64
		value     bool // known
		undecided string
	}{
		{0, false, "RL has turned 0.0 turns forward and 0.0 back while lifted; 1 is the least, 3 give an uncertainty"},
		{0.4, false, "RL has turned 0.4 turns forward and 0.0 back while lifted; 1 is the least, 3 give an uncertainty"},
		{1.2, true, "RL has turned 1 whole turn forward and 0 back; 3 give an uncertainty"},
		{2.2, true, "RL has turned 2 whole turns forward and 0 back; 3 give an uncertainty"},
		{3.3, true, ""},
	} {
		for _, frame := range []ForceFrame{Rotating, Fixed} {
			r := newRig(6, "RL")
			r.setup.Corners[0].Forces = frame
			r.run(1)
			r.lift()
			r.run(1)
			r.wheels[0].omega, r.wheels[0].my = 5, 2
			r.run(c.turns * 2 * 3.14159265 / 5)
			got := r.judge.Result() // still turning
			keepsRules(t, &r.setup, got)
			for _, name := range []string{"zero RL fx", "zero RL fz", "zero RL mz", "weight RL", "axes RL", "angle-offset RL", "angle-slip RL"} {
				words := append(strings.Fields(name), "")
				f := find(got, words[0], words[1], words[2])
				if c.undecided == "" {
					if f.Verdict == Pass && f.Uncertainty.Known || words[0] == "angle-slip" {
						continue
					}
					t.Errorf("%g turns: %s is %s: %s", c.turns, name, f.Verdict, f.Sentence)
					continue
				}
				sentence := strings.ReplaceAll(f.Sentence, "0.3 turns", "0.4 turns") // less what it takes to see that it turns
				if f.Verdict != Inconclusive || f.Uncertainty.Known || sentence != c.undecided {
					t.Errorf("%g turns: %s is %s ± %v: %q, want %q", c.turns, name, f.Verdict, f.Uncertainty, f.Sentence, c.undecided)
				}
				if words[0] != "angle-slip" && f.Value.Known != c.value {
					t.Errorf("%g turns: %s has value %v, want known %v", c.turns, name, f.Value, c.value)
				}
			}
		}
	}
}

func TestNotFitted(t *testing.T) {
	for _, c := range []struct {
		name   string
		remove []Quantity
		absent []string
		judged []string
	}{
		{"no angle", []Quantity{Angle}, []string{"placement", "zero", "weight", "axes", "drag", "angle-offset", "angle-sense", "angle-steps", "angle-jumps", "angle-slip"}, []string{"alive", "load"}},
		{"no radial force", []Quantity{Fx, Fz}, []string{"placement", "weight", "axes", "angle-offset", "angle-sense", "angle-slip", "load"}, []string{"alive", "angle-steps", "angle-jumps"}},
		{"no my", []Quantity{My}, []string{"drag"}, []string{"alive", "placement", "weight", "axes", "angle-offset", "load"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(6, "RL")
			for _, q := range c.remove {
				r.setup.Corners[0].Channels[q] = None
			}
			r.brief(0)
			got := r.judge.Result()
			keepsRules(t, &r.setup, got)
			for _, name := range c.absent {
				for _, f := range got.Findings {
					if f.Check == name && f.Channel == "" && (f.Verdict != Absent || f.Required || f.Sentence == "") {
						t.Errorf("%s is %s, required %v: %q, want absent", name, f.Verdict, f.Required, f.Sentence)
					}
				}
			}
			for _, name := range c.judged {
				if f := find(got, name, "RL", ""); f.Verdict != Pass {
					t.Errorf("%s is %s, want pass: %s", name, f.Verdict, f.Sentence)
				}
			}
		})
	}
}

func TestNextIsOneThing(t *testing.T) {
	r := newRig(6, "FL", "FR")
	r.start()
	for _, c := range []struct {
		do   func()
		want string
	}{
		{func() {}, "Switch the amplifier on."},
		{func() { r.run(4.6) }, "Lift FL and turn it"},
		{func() { r.lift(); r.run(1); r.turn(1, 1.3, 5, 2) }, "Go on turning FR"}, // the wheel under way, not the first of the order
		{func() { r.run(5) }, "Go on turning FR"},
		{func() { r.turn(1, 3.2, 5, 2) }, "Turn FR three turns back."},
		{func() { r.turn(0, 1.3, 5, 2) }, "Go on turning FL"}, // another wheel turns
		{func() { r.turn(0, 3.2, 5, 2) }, "Turn FL three turns back."},
		{func() { r.turn(0, 3.3, -5, 2) }, "Turn FR three turns back."}, // done: what is left, in the order
	} {
		c.do()
		if got := r.judge.Result().Next; !contains(got, c.want) {
			t.Errorf("next %q, want %q", got, c.want)
		}
	}
}
