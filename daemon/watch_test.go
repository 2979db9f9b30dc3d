package daemon

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/checks"
)

func TestWatch(t *testing.T) {
	result := func(verdicts ...checks.Verdict) *Result {
		var r Result
		for i, v := range verdicts {
			r.Findings = append(r.Findings, Finding{Check: "zero", Subject: "FL", Channel: string(rune('a' + i)), Verdict: v, Sentence: string(rune('a'+i)) + " is " + v.String()})
		}
		return &r
	}
	const open, pass, fail, absent = checks.Inconclusive, checks.Pass, checks.Fail, checks.Absent
	change := func(from, to checks.Verdict, sentence string) []Change {
		return []Change{{"FL", "zero", from, to, sentence}}
	}
	var w Watch
	steps := []struct {
		name string
		r    *Result
		want []Change
	}{
		{"nothing yet", result(open, open, absent), nil},
		{"one channel passes", result(pass, open, absent), nil},
		{"all pass", result(pass, pass, absent), change(open, pass, "a is pass")},
		{"no change", result(pass, pass, absent), nil},
		{"one fails", result(pass, fail, open), change(pass, fail, "b is fail")},
		{"it comes back", result(pass, pass, pass), change(fail, pass, "a is pass")},
		{"taken away", result(absent, absent, absent), change(pass, absent, "a is absent")},
	}
	for _, step := range steps {
		t.Run(step.name, func(t *testing.T) {
			if diff := cmp.Diff(w.Look(step.r), step.want); diff != "" {
				t.Errorf("got before want:\n%s", diff)
			}
		})
	}
	if got := new(Watch).Look(result(absent)); got != nil {
		t.Errorf("absent from the start: got %v", got)
	}
}
