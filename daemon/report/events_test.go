package report

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/checks"
	"plumbline/daemon"
)

// TestTimes: what failed stands in its order, several of one cause or of one moment on one line, and no more than fits.
func TestTimes(t *testing.T) {
	const second = daemon.Instant(1e9)
	start := daemon.Instant(1_700_000_000e9) // 22:13:20 UTC
	failed := func(first, last daemon.Instant, count int, now bool) *daemon.Failed {
		return &daemon.Failed{First: start + first*second, Began: start + first*second, Last: start + last*second, Count: count, Now: now}
	}
	r := &daemon.Result{
		Captures: []daemon.Capture{{First: start, Last: start + 9000*second}},
		Drives: []daemon.Drive{
			{From: start + 60*second, To: start + 4000*second},
			{From: start + 5000*second, To: start + 9000*second, Now: true},
		},
		Findings: []daemon.Finding{
			{Check: "drift", Subject: "FL", Channel: "fx", Verdict: checks.Fail, Failed: failed(3000, 9000, 1, true)},
			{Check: "drift", Subject: "FL", Channel: "mx", Verdict: checks.Fail, Failed: failed(3400, 9000, 1, true)},
			{Check: "alive", Subject: "FL", Verdict: checks.Fail, Failed: failed(100, 103, 2, false)},
			{Check: "alive", Subject: "FR", Verdict: checks.Fail, Failed: failed(101, 103, 2, false)},
			{Check: "alive", Subject: "RL", Verdict: checks.Fail, Failed: failed(4000, 4001, 1, false)},
			{Check: "noise", Subject: "RR", Channel: "fz", Verdict: checks.Fail, Cause: "cable:RR", Failed: failed(7000, 7001, 1, false)},
			{Check: "spikes", Subject: "RR", Channel: "fz", Verdict: checks.Fail, Cause: "cable:RR", Failed: failed(50, 9000, 3, true)},
			{Check: "zero", Subject: "RR", Channel: "fz", Verdict: checks.Pass},
		},
	}
	var b strings.Builder
	text{&b, Style{}, r}.times()
	want := `
When
  driven from 22:14:20 to 23:20:00, 1 h 5 min
  driving since 23:36:40, 1 h 6 min
                  first failed  last failed
  RR cable        22:14:10      2023-11-15 00:43:20  3 times  goes on
  FL FR alive     22:15:00      22:15:03             2 times  is over
  FL drift fx mx  23:03:20      2023-11-15 00:43:20  once     goes on
  RL alive        23:20:00      23:20:01             once     is over
`
	if diff := cmp.Diff(b.String(), want); diff != "" {
		t.Errorf("got before want:\n%s", diff)
	}

	r.Findings = nil
	for i := range 40 {
		r.Findings = append(r.Findings, daemon.Finding{Check: "alive", Subject: fmt.Sprint("A", i), Verdict: checks.Fail, Failed: failed(daemon.Instant(100*i), daemon.Instant(100*i+1), 1, false)})
	}
	b.Reset()
	text{&b, Style{}, r}.times()
	if lines := strings.Count(b.String(), "\n"); lines > maxEvents+maxDrives+4 || !strings.Contains(b.String(), "and 29 more") {
		t.Errorf("%d lines:\n%s", lines, b.String())
	}

	// a function test in which something fails from the start needs no times
	r.Drives, r.Findings = nil, []daemon.Finding{{Check: "zero", Subject: "FL", Verdict: checks.Fail, Failed: failed(20, 9000, 1, true)}}
	b.Reset()
	if (text{&b, Style{}, r}).times(); b.Len() > 0 {
		t.Errorf("got %q, want nothing", b.String())
	}
}
