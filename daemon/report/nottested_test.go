package report

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/checks"
	"plumbline/daemon"
)

// TestNotTested: what a test does not need is no warning, and a drive that was not driven is said once.
func TestNotTested(t *testing.T) {
	v := view{W: english()}
	if m := v.mark(checks.Inconclusive, false); m.Word != "not judged" || !m.Soft {
		t.Errorf("not required: %+v", m)
	}
	if m := v.mark(checks.Inconclusive, true); m.Word != "inconclusive" || m.Soft {
		t.Errorf("required: %+v", m)
	}
	r := daemon.Result{}
	for _, subject := range []string{"FL", "FR"} {
		for _, channel := range []string{"fx", "fy", "noise", "rate"} {
			r.Findings = append(r.Findings, daemon.Finding{Check: "drift", Subject: subject, Channel: channel, Sentence: channel + " of " + subject + " was short"})
		}
	}
	r.Findings = append(r.Findings, daemon.Finding{Check: "slip", Subject: "road", Sentence: "it was not rolled"})
	var out testView
	v.notTested(&out, &r)
	want := []notTested{
		{"FL, FR drift", "not judged", "the tables above say of each what was missing"},
		{"road slip", "not judged", "it was not rolled"},
	}
	if diff := cmp.Diff(out.NotTested, want); diff != "" {
		t.Errorf("got before want:\n%s", diff)
	}
}
