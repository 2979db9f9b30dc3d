package checks

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// flaw is one thing that is wrong with a vehicle, and all that must come of it.
type flaw struct {
	name  string
	spoil func(*rig) // before the Judge is made
	do    func(*rig) // instead of a brief function test
	open  []string   // "check subject channel verdict" of all that neither passes nor is absent, in the order of results
	check string     // "check subject channel" of the finding that has the value
	value float64    // the truth
	near  float64    // how far from it the value may be
	says  []string   // parts of the sentence of that finding
	frame []ForceFrame
}

// judgeFlaws shows each flaw to a Judge in rotating and in fixed axes.
func judgeFlaws(t *testing.T, flaws []flaw, corners ...string) {
	t.Helper()
	if len(corners) == 0 {
		corners = []string{"FL", "FR"}
	}
	for _, f := range flaws {
		frames := f.frame
		if frames == nil {
			frames = []ForceFrame{Rotating, Fixed}
		}
		for _, frame := range frames {
			t.Run(f.name+"/"+[]string{"rotating", "fixed"}[frame], func(t *testing.T) {
				r := newRig(7, corners...)
				if frame == Fixed {
					r.resolved()
				}
				r.setup.MassKg = float64(len(corners)) * rigLoadN / gravity
				if f.spoil != nil {
					f.spoil(r)
				}
				if f.do != nil {
					f.do(r)
				} else {
					all := make([]int, len(corners))
					for i := range all {
						all[i] = i
					}
					r.brief(all...)
				}
				got := r.judge.Result()
				keepsRules(t, &r.setup, got)
				if diff := cmp.Diff(open(got), f.open); diff != "" {
					t.Errorf("what is open (−got +want):\n%s", diff)
					for _, g := range got.Findings {
						if g.Verdict == Fail || g.Verdict == Inconclusive {
							t.Logf("%s %s %s: %s: %s", g.Check, g.Subject, g.Channel, g.Verdict, g.Sentence)
						}
					}
				}
				f.judgeValue(t, got)
			})
		}
	}
}

func (f *flaw) judgeValue(t *testing.T, got Result) {
	t.Helper()
	if f.check == "" {
		return
	}
	words := append(strings.Fields(f.check), "")
	g := find(got, words[0], words[1], words[2])
	if !g.Value.Known || math.Abs(g.Value.Value-f.value) > f.near {
		t.Errorf("%s = %+v, want %v within %v: %s", f.check, g.Value, f.value, f.near, g.Sentence)
	}
	if g.Uncertainty.Known && math.Abs(g.Value.Value-f.value) > 2*g.Uncertainty.Value {
		t.Errorf("%s = %v ± %v, want %v to lie within twice that", f.check, g.Value.Value, g.Uncertainty.Value, f.value)
	}
	for _, part := range f.says {
		if !strings.Contains(g.Sentence, part) {
			t.Errorf("%s says %q, want %q in it", f.check, g.Sentence, part)
		}
	}
}

// covered tells whether the flaws of these tests are told as far as this check sees them; what other
// checks see of them is told in their own tests.
func covered(check string) bool {
	return slices.Contains([]string{
		"alive", "placement", "zero", "weight", "axes", "drag", "angle-offset", "angle-sense", "angle-steps", "angle-jumps", "angle-slip", "load",
	}, check)
}

// open lists what neither passed nor is absent.
func open(r Result) []string {
	var out []string
	for _, f := range r.Findings {
		if covered(f.Check) && (f.Verdict == Fail || f.Verdict == Inconclusive) {
			out = append(out, strings.Join(strings.Fields(f.Check+" "+f.Subject+" "+f.Channel+" "+f.Verdict.String()), " "))
		}
	}
	return out
}

// keepsRules fails the test where a result breaks what holds for every result.
func keepsRules(t *testing.T, s *Setup, r Result) {
	t.Helper()
	ids := map[string]bool{"": true}
	explained := map[string]bool{}
	for _, c := range r.Causes {
		ids[c.ID] = true
		if c.Sentence == "" || c.Next == "" || len(c.Subjects) == 0 {
			t.Errorf("cause %+v says nothing", c)
		}
		for _, e := range c.Explains {
			if explained[e] {
				t.Errorf("%s is explained twice", e)
			}
			explained[e] = true
		}
	}
	failed, missing, passed := false, false, false
	for _, f := range r.Findings {
		name := f.Check + "/" + f.Subject + "/" + f.Channel
		for _, n := range []Number{f.Value, f.Uncertainty, f.Limit} {
			if math.IsNaN(n.Value) || math.IsInf(n.Value, 0) || !n.Known && n.Value != 0 || n.Value == 0 && math.Signbit(n.Value) {
				t.Errorf("%s: number %+v", name, n)
			}
		}
		for _, text := range []string{f.Sentence, f.Next} {
			for _, bad := range []string{"NaN", "Inf", "%!"} {
				if strings.Contains(text, bad) {
					t.Errorf("%s says %q", name, text)
				}
			}
		}
		switch {
		case f.Sentence == "":
			t.Errorf("%s: no sentence", name)
		case (f.Verdict == Fail || f.Verdict == Inconclusive && f.Required) && f.Next == "":
			t.Errorf("%s is %s and does not say what to do: %s", name, f.Verdict, f.Sentence)
		case f.Verdict == Pass && f.Evidence.Samples <= 0 && f.Subject != "vehicle":
			t.Errorf("%s passes without evidence: %+v", name, f.Evidence)
		case f.Evidence.Samples < 0 || f.Evidence.To < f.Evidence.From || f.Evidence.Revolutions < 0:
			t.Errorf("%s: evidence %+v", name, f.Evidence)
		case !ids[f.Cause] || (f.Cause != "") != explained[name]:
			t.Errorf("%s: cause %q, explained %v", name, f.Cause, explained[name])
		}
		if covered(f.Check) && f.Value.Known && f.Uncertainty.Known && f.Limit.Known {
			x, u, l := math.Abs(f.Value.Value-right(s, f)), f.Uncertainty.Value, f.Limit.Value
			want := Inconclusive
			switch {
			case x+u <= l:
				want = Pass
			case x-u > l:
				want = Fail
			}
			if f.Verdict != want {
				t.Errorf("%s: %v ± %v against %v is %s, want %s", name, x, u, l, f.Verdict, want)
			}
		}
		failed = failed || f.Verdict == Fail
		missing = missing || f.Verdict == Inconclusive && f.Required
		passed = passed || f.Verdict == Pass
	}
	want := Inconclusive
	switch {
	case failed:
		want = Fail
	case passed && !missing:
		want = Pass
	}
	if r.Verdict != want {
		t.Errorf("overall %s, want %s", r.Verdict, want)
	}
}

// right returns the value that a finding's limit counts from.
func right(s *Setup, f Finding) float64 {
	switch f.Check {
	case "weight":
		return 1
	case "radius":
		for i := range s.Corners {
			if s.Corners[i].Name == f.Subject {
				t, _ := parseTyre(s.Corners[i].Tyre)
				return t.radiusM()
			}
		}
	case "clearance":
		for i := range s.Optics {
			if s.Optics[i].Name == f.Subject {
				return s.Optics[i].ClearanceM
			}
		}
	case "load":
		for i := range s.Corners {
			if s.Corners[i].Name == f.Subject {
				return s.Corners[i].LoadN
			}
		}
		return s.MassKg * 9.80665
	}
	return 0
}

// passes returns which of these "check subject channel" passed.
func passes(r Result, names []string) []string {
	var out []string
	for _, n := range names {
		words := append(strings.Fields(n), "")
		if find(r, words[0], words[1], words[2]).Verdict == Pass {
			out = append(out, n)
		}
	}
	return slices.Clip(out)
}

func contains(text, part string) bool { return strings.Contains(text, part) }
