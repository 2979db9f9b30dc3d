package daemon

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
)

func TestTold(t *testing.T) {
	result := func(failing ...string) *Result {
		r := &Result{Causes: []Cause{{ID: "off", Sentence: "the amplifier is off", Explains: []string{"alive/FL", "alive/FR"}}}}
		for _, subject := range []string{"FL", "FR", "RL"} {
			f := Finding{Check: "alive", Subject: subject, Sentence: subject + " is silent"}
			if subject != "RL" {
				f.Cause = "off"
			}
			for _, name := range failing {
				if name == subject {
					f.Failed = &Failed{Count: 1, Now: true}
				}
			}
			r.Findings = append(r.Findings, f)
		}
		return r
	}
	begins := func(at int64, text string) bus.Note { return bus.Note{At: at, Kind: bus.Told, Count: 1, Text: text} }
	ends := func(at int64, text string) bus.Note { return bus.Note{At: at, Kind: bus.Told, Text: text} }
	var told told
	for i, step := range []struct {
		failing []string
		want    []bus.Note
	}{
		{nil, nil},
		{[]string{"FL", "FR", "RL"}, []bus.Note{begins(1, "fails: the amplifier is off"), begins(1, "fails: alive/RL: RL is silent")}},
		{[]string{"FL", "FR", "RL"}, nil},
		{[]string{"FR"}, []bus.Note{ends(3, "no longer fails: alive/FL, alive/RL")}},
		{[]string{"FR", "FL"}, []bus.Note{begins(4, "fails: the amplifier is off")}},
		{nil, []bus.Note{ends(5, "no longer fails: alive/FL, alive/FR")}},
	} {
		if diff := cmp.Diff(told.look(int64(i), result(step.failing...)), step.want); diff != "" {
			t.Errorf("step %d, got before want:\n%s", i, diff)
		}
	}
}
