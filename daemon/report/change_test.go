package report

import (
	"bytes"
	"strings"
	"testing"

	"plumbline/checks"
	"plumbline/daemon"
)

func TestChange(t *testing.T) {
	long := strings.Repeat("all six components are near zero, ", 4)
	tests := []struct {
		name  string
		c     daemon.Change
		style Style
		want  string
	}{
		{"plain", daemon.Change{Subject: "FL", Check: "zero", To: checks.Pass, Sentence: "near zero"}, Style{}, "   12.3 s  FL      zero          inconclusive → pass    near zero\n"},
		{"no sentence", daemon.Change{Subject: "FL", Check: "zero", From: checks.Pass}, Style{}, "   12.3 s  FL      zero          pass → inconclusive\n"},
		{"ASCII", daemon.Change{Subject: "FL", Check: "zero", To: checks.Absent}, Style{ASCII: true}, "   12.3 s  FL      zero          inconclusive -> absent\n"},
		{"cut", daemon.Change{Subject: "FL", Check: "zero", To: checks.Pass, Sentence: long}, Style{}, "   12.3 s  FL      zero          inconclusive → pass    all six components are near zero, all six c…\n"},
		{"a failure is said whole", daemon.Change{Subject: "FL", Check: "zero", To: checks.Fail, Sentence: strings.TrimSpace(long)}, Style{}, "   12.3 s  FL      zero          inconclusive → fail    " + strings.TrimSpace(long) + "\n"},
		{"colour", daemon.Change{Subject: "FL", Check: "zero", To: checks.Fail}, Style{Colour: true}, "   12.3 s  FL      zero          inconclusive → \x1b[1;31mfail\x1b[0m\n"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var out bytes.Buffer
			if err := Change(&out, 12.34, &test.c, 6, 12, test.style); err != nil {
				t.Fatal(err)
			}
			if got := out.String(); got != test.want {
				t.Errorf("got\n%q, want\n%q", got, test.want)
			}
		})
	}
}
