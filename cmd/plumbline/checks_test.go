package main

import (
	"encoding/json"
	"os"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"plumbline/checks"
)

// TestChecksReference holds checks/REFERENCE.md to what the code prints.
func TestChecksReference(t *testing.T) {
	const file = "../../checks/REFERENCE.md"
	c := call(t, "checks", "--format", "markdown")
	if c.code != 0 || c.errors != "" {
		t.Fatalf("exit code %d: %s", c.code, c.errors)
	}
	if *update {
		put(t, file, c.out)
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v: go test ./cmd/plumbline -run TestChecksReference -update writes it", err)
	}
	if diff := cmp.Diff(c.out, string(want)); diff != "" {
		t.Errorf("%s is not what the code prints; go test ./cmd/plumbline -run TestChecksReference -update writes it (−got +want):\n%s", file, diff)
	}
}

// TestChecksText: every check with every field, no line wider than a terminal.
func TestChecksText(t *testing.T) {
	c := call(t, "checks")
	if c.code != 0 {
		t.Fatalf("exit code %d: %s", c.code, c.errors)
	}
	for line := range strings.SplitSeq(c.out, "\n") {
		if n := utf8.RuneCountInString(line); n > 100 {
			t.Errorf("%d columns, want at most 100: %s", n, line)
		}
	}
	parts := strings.Split(strings.TrimSuffix(c.out, "\n"), "\n\n")
	if len(parts) != len(checks.All()) {
		t.Fatalf("%d checks printed, want %d", len(parts), len(checks.All()))
	}
	for i, want := range checks.All() {
		if !strings.HasPrefix(parts[i], want.Name+" ("+string(want.Group)) {
			t.Errorf("part %d begins %.40q, want %s", i, parts[i], want.Name)
		}
		flat := strings.Join(strings.Fields(parts[i]), " ")
		for _, text := range append([]string{want.Asks, want.Means, want.Do, want.Evidence, want.Formula, want.Source}, want.Limits...) {
			if !strings.Contains(flat, text) {
				t.Errorf("%s does not say %q", want.Name, text)
			}
		}
	}
}

func TestChecksJSON(t *testing.T) {
	var got []checkDoc
	c := call(t, "checks", "supply", "zero", "--format", "json")
	if err := json.Unmarshal([]byte(c.out), &got); err != nil {
		t.Fatalf("%v\n%s%s", err, c.out, c.errors)
	}
	names := []string{}
	for _, d := range got {
		names = append(names, d.Name)
		if d.Evidence == "" || d.Formula == "" || d.Source == "" || d.Asks == "" || d.Means == "" || d.Do == "" || len(d.Limits) == 0 {
			t.Errorf("%s: a field is empty: %+v", d.Name, d)
		}
	}
	if want := []string{"zero", "supply"}; !slices.Equal(names, want) {
		t.Fatalf("got %v, want %v", names, want)
	}
	if got, want := got[1].Limits[0].Default, []float64{9, 32}; !slices.Equal(got, want) { // measurement model, 5b
		t.Errorf("supply_v: got %v, want %v", got, want)
	}
}

func TestChecksErrors(t *testing.T) {
	for _, tt := range []struct {
		args []string
		want string
	}{
		{[]string{"checks", "zeros"}, `no check "zeros": did you mean zero: expected one of alive`},
		{[]string{"checks", "nothing-of-the-kind"}, `no check "nothing-of-the-kind": expected one of alive`},
		{[]string{"checks", "--format", "xml"}, `unknown format "xml": expected one of text, json, markdown`},
	} {
		c := call(t, tt.args...)
		if c.code != 2 || !strings.Contains(c.errors, tt.want) || c.out != "" {
			t.Errorf("%v: exit code %d, %q, %q; want 2, %q", tt.args, c.code, c.errors, c.out, tt.want)
		}
	}
}
