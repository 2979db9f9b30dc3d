package checks

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestAngleOffsetBoltHolesAreTheCause(t *testing.T) {
	r := newRig(2, "FL", "FR")
	r.wheels[1].delta = -144 * degree
	r.brief(0, 1)
	got := r.judge.Result()
	if len(got.Causes) != 1 || got.Causes[0].ID != "bolt-holes:FR" || find(got, "angle-offset", "FR", "").Cause != "bolt-holes:FR" {
		t.Errorf("causes = %+v, want bolt-holes:FR", got.Causes)
	}
	if len(got.Causes) == 1 && got.Next != got.Causes[0].Next {
		t.Errorf("next = %q, want the cause's", got.Next)
	}
}

// The first cause that claims a finding keeps it, and what passed is claimed by none.
func TestCauseClaimsOnce(t *testing.T) {
	r := newRig(2, "FL", "FR", "RL")
	r.start()
	x := newExplainer(newView(r.judge), []Finding{
		{Check: "zero", Subject: "FL", Channel: "fx", Verdict: Fail},
		{Check: "zero", Subject: "FL", Channel: "fz", Verdict: Pass},
		{Check: "zero", Subject: "RL", Channel: "fx", Verdict: Fail},
		{Check: "load", Subject: "FR", Verdict: Inconclusive},
		{Check: "drag", Subject: "FR", Verdict: Absent},
	})
	x.add(Cause{ID: "first", Subjects: []string{"FL"}}, []string{"zero"})
	x.add(Cause{ID: "second", Subjects: []string{"FL", "FR"}}, []string{"zero", "load", "drag"})
	var got [][]string
	for _, c := range x.causes {
		got = append(got, c.Explains)
	}
	if diff := cmp.Diff(got, [][]string{{"zero/FL/fx"}, {"load/FR/"}}); diff != "" {
		t.Errorf("explains (−got +want):\n%s", diff)
	}
	var ids []string
	for _, f := range x.findings {
		ids = append(ids, f.Cause)
	}
	if diff := cmp.Diff(ids, []string{"first", "", "", "second", ""}); diff != "" {
		t.Errorf("causes (−got +want):\n%s", diff)
	}
}

// An exchanged cable explains what fails at both corners, and nothing elsewhere.
func TestCauseExplainsBothCorners(t *testing.T) {
	r := newRig(2, "FL", "FR", "RL")
	exchange(r.angleFrom, 0, 1)
	r.wheels[2].zero[Fx] = 120
	r.brief(0, 1, 2)
	got := r.judge.Result()
	keepsRules(t, &r.setup, got)
	for _, f := range got.Findings {
		if !covered(f.Check) || f.Verdict == Pass || f.Verdict == Absent {
			continue
		}
		if explained := f.Cause != ""; explained != (f.Subject != "RL") {
			t.Errorf("%s %s %s is %s, cause %q", f.Check, f.Subject, f.Channel, f.Verdict, f.Cause)
		}
	}
}

// A frozen radial force explains the load of its corner and the sum, unless another corner is off as well.
func TestStandingStill(t *testing.T) {
	for _, c := range []struct {
		name  string
		other Verdict // load of FR
		want  []string
	}{
		{"alone", Pass, []string{"zero/FL/fx", "frozen/FL/fx", "noise/FL/fx", "load/FL/", "load/vehicle/"}},
		{"another is off", Fail, []string{"zero/FL/fx", "frozen/FL/fx", "noise/FL/fx", "load/FL/"}},
	} {
		r := newRig(2, "FL", "FR")
		r.start()
		x := newExplainer(newView(r.judge), []Finding{
			{Check: "zero", Subject: "FL", Channel: "fx", Verdict: Inconclusive},
			{Check: "zero", Subject: "FL", Channel: "fz", Verdict: Fail},
			{Check: "frozen", Subject: "FL", Channel: "fx", Verdict: Fail},
			{Check: "noise", Subject: "FL", Channel: "fx", Verdict: Inconclusive},
			{Check: "noise", Subject: "FL", Channel: "fz", Verdict: Fail},
			{Check: "load", Subject: "FL", Verdict: Fail},
			{Check: "load", Subject: "FR", Verdict: c.other},
			{Check: "load", Subject: "vehicle", Verdict: Fail},
		})
		x.standing(0)
		if len(x.causes) != 1 || x.causes[0].ID != "stands-still:FL" {
			t.Fatalf("%s: %+v", c.name, x.causes)
		}
		if diff := cmp.Diff(x.causes[0].Explains, c.want); diff != "" {
			t.Errorf("%s: explains (−got +want):\n%s", c.name, diff)
		}
	}
}
