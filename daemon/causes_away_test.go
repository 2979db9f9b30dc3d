package daemon

import (
	"slices"
	"testing"

	"plumbline/bus/simulated"
	"plumbline/checks"
)

// TestAmplifierStaysAway: in a drive the amplifier falls silent for good. One cause says since when and what to look at, and explains
// all that failed; one wheel that falls silent is not told so.
func TestAmplifierStaysAway(t *testing.T) {
	for _, c := range []struct {
		name    string
		corners int
		corner  string // that falls silent; empty: all
		away    bool
	}{
		{"two wheels", 2, "", true},
		{"four wheels", 4, "", true},
		{"one of four", 4, "FR", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			cfg := simulated.Standard(c.corners)
			cfg.RateHz = 100
			cfg.Script = []simulated.Phase{
				{Kind: simulated.Rest, Seconds: 3},
				{Kind: simulated.Drive, SpeedMps: 5, Seconds: 20},
				{Kind: simulated.Drive},
			}
			cfg.Faults = []simulated.Fault{{Kind: "off", Corner: c.corner, Value: 14}}
			r := judgeSimulated(t, cfg, nil).Result()
			i := slices.IndexFunc(r.Causes, func(x Cause) bool { return x.ID == "amplifier-away:wheels" })
			if !c.away {
				if i >= 0 {
					t.Errorf("told: %s", r.Causes[i].Sentence)
				}
				return
			}
			if i < 0 || len(r.Causes) != 1 {
				t.Fatalf("causes %+v, want amplifier-away:wheels alone", r.Causes)
			}
			x := &r.Causes[i]
			const says, next = "nothing has come from any wheel since 14.0 s after the start: the amplifier is off, or its cable is out",
				"See that the amplifier has supply and is switched on, then its cable."
			if x.Sentence != says || x.Next != next || len(x.Subjects) != c.corners {
				t.Errorf("got %q, %q of %v; want %q, %q of %d wheels", x.Sentence, x.Next, x.Subjects, says, next, c.corners)
			}
			for k := range r.Findings {
				if f := &r.Findings[k]; f.Verdict == checks.Fail && f.Cause != x.ID {
					t.Errorf("%s stands alone: %s", f.Name(), f.Sentence)
				}
			}
		})
	}
}
