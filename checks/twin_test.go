package checks

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Two corners that carry the same numbers are found whichever of them is heard first, also where all of a moment has one
// time stamp and now the one comes first and now the other; the result does not depend on it.
func TestTwinsOfOneMoment(t *testing.T) {
	s, tape := tape(Rotating)
	forces := map[int64][]Sample{} // of FL, by time
	for _, h := range tape {
		if h.mark == "" && h.message == 0 {
			forces[h.at] = h.samples
		}
	}
	for k := range tape {
		if h := &tape[k]; h.mark == "" && h.message == 2 { // of FR
			for i, of := range forces[h.at] {
				h.samples[i].Value = of.Value
			}
		}
	}
	want := play(s, tape, nil)
	if f := find(want, "placement", "FR", ""); f.Verdict != Fail || !strings.Contains(f.Sentence, "sample for sample") {
		t.Fatalf("placement of FR: %+v, want fail", f)
	}
	random := rand.New(rand.NewPCG(5, 6))
	for from := 0; from < len(tape); {
		to := from + 1
		for to < len(tape) && tape[to].at == tape[from].at && tape[to].mark == "" && tape[from].mark == "" {
			to++
		}
		part := tape[from:to]
		if random.IntN(2) == 0 {
			slices.Reverse(part)
		}
		from = to
	}
	if diff := cmp.Diff(play(s, tape, nil), want); diff != "" {
		t.Errorf("now the one first and now the other (−got +want):\n%.3000s", diff)
	}
}
