package daemon

import (
	"encoding/json"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// TestSaid: what persons say stands in the result as what it is.
func TestSaid(t *testing.T) {
	empty := bench(t).result(Capture{})
	tests := []struct {
		name string
		said Statement
		want Confirmation // state to reason
	}{
		{"within", Statement{ID: "wheel-bolts", Value: new(160.0), Initials: "AB", At: 5}, Confirmation{State: StateConfirmed, Value: new(160.0), Initials: "AB", At: 5}},
		{"at the end of the range", Statement{ID: "wheel-bolts", Value: new(170.0), Initials: "AB", At: 5}, Confirmation{State: StateConfirmed, Value: new(170.0), Initials: "AB", At: 5}},
		{"outside", Statement{ID: "wheel-bolts", Value: new(171.0), Initials: "AB", At: 5}, Confirmation{State: StateOpen, Value: new(171.0), Initials: "AB", At: 5}},
		{"without the value", Statement{ID: "wheel-bolts", Initials: "AB", At: 5}, Confirmation{State: StateOpen, Initials: "AB", At: 5}},
		{"not possible", Statement{ID: "wheel-bolts", Initials: "AB", Reason: "no wrench", At: 5}, Confirmation{State: StateNotPossible, Initials: "AB", Reason: "no wrench", At: 5}},
		{"no value asked", Statement{ID: "cable", Initials: "AB", At: 5}, Confirmation{State: StateConfirmed, Initials: "AB", At: 5}},
		{"nothing the setup asks", Statement{ID: "mirror", Initials: "AB", At: 5}, Confirmation{State: StateOpen}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			test := NewTest()
			test.Use(empty.Setup.SHA256)
			test.Confirm(tt.said)
			r := empty
			said := test.Said()
			said.Apply(&r)
			c := r.Confirmations[0]
			if tt.said.ID == "cable" {
				c = r.Confirmations[1]
			}
			c.ID, c.Text, c.Unit, c.Min, c.Max = "", "", "", nil, nil
			if diff := cmp.Diff(c, tt.want); diff != "" {
				t.Errorf("got before want:\n%s", diff)
			}
			if empty.Confirmations[0].State != StateOpen {
				t.Error("the result that was handed in was changed for others as well")
			}
		})
	}
}

// TestNothingSaid: a result of which nobody said anything has the same bytes as ever.
func TestNothingSaid(t *testing.T) {
	r := bench(t).result(Capture{})
	before, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	test := NewTest()
	test.Use(r.Setup.SHA256)
	said := test.Said()
	said.Apply(&r)
	after, err := json.Marshal(r)
	if err != nil || string(after) != string(before) {
		t.Errorf("%v, after:\n%s\nbefore:\n%s", err, after, before)
	}
}

// TestTestKept: what was said survives a restart, and nothing else does.
func TestTestKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "results")
	var log strings.Builder
	open := func() *Test { return OpenTest(dir, slog.New(slog.NewTextHandler(&log, nil))) }
	one := open()
	one.Use("setup")
	one.Confirm(Statement{ID: "cable", Initials: "AB", At: 7})
	one.Skip(Deviation{Step: "roll", Reason: "no room", At: 8})
	one.Skip(Deviation{Step: "lift", Reason: "no lift", At: 8})
	one.Skip(Deviation{Step: "lift"})
	one.Filled(Form{Performed: "A. Berg", Item: "no. 7", Conditions: "21 °C"})
	two := open()
	two.Use("setup")
	if diff := cmp.Diff(two.Said(), one.Said()); diff != "" {
		t.Errorf("after a restart, before it:\n%s", diff)
	}
	if s := two.Said(); len(s.Deviations) != 1 || s.Deviations[0].Reason != "no room" {
		t.Errorf("deviations %+v, want the roll alone", s.Deviations)
	}
	two.Afresh()
	if s := two.Said(); len(s.Statements)+len(s.Deviations) > 0 || s.Token == one.Said().Token || s.Form != (Form{Performed: "A. Berg", Item: "no. 7"}) {
		t.Errorf("a new test begins with %+v, want only what was filled in, without the conditions", s)
	}
	two.Confirm(Statement{ID: "cable", Initials: "AB", At: 9})
	other := open()
	other.Use("another setup")
	if s := other.Said(); len(s.Statements) > 0 || s.Form != (Form{Performed: "A. Berg"}) {
		t.Errorf("with another setup %+v, want nothing of the vehicle before", s)
	}

	file := filepath.Join(dir, stateFile)
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var k kept
	if err := json.Unmarshal(text, &k); err != nil {
		t.Fatal(err)
	}
	k.Saved = time.Now().Add(-tooOld - time.Minute)
	k.Said.Statements["cable"] = Statement{ID: "cable", Initials: "AB", At: 9}
	if text, err = json.Marshal(k); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"old": string(text), "cut short": string(text[:len(text)/2]), "empty": "", "of another schema": `{"schema": 2, "said": {"token": "x"}}`,
		"of something else": `[1]`, "huge": strings.Repeat(" ", maxState+1),
	} {
		log.Reset()
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		fresh := open()
		fresh.Use("another setup")
		if s := fresh.Said(); len(s.Statements) > 0 || s.Token == "" {
			t.Errorf("%s: %+v, want a new test", name, s)
		}
		_, err := os.Stat(file + ".bad")
		if aside := err == nil; aside != (name != "old") || log.Len() == 0 {
			t.Errorf("%s: set aside %v, log %q, want it set aside and told", name, aside, log.String())
		}
		_ = os.Remove(file + ".bad")
		fresh.Confirm(Statement{ID: "cable"})
		if fresh.Trouble() != "" {
			t.Errorf("%s: %s", name, fresh.Trouble())
		}
	}
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	if two.Confirm(Statement{ID: "cable"}); two.Trouble() == "" || len(two.Said().Statements) != 1 {
		t.Error("without its folder the test does not say that nothing is kept, or forgets what was said")
	}
}

// FuzzState: whatever stands in the file, a test begins.
func FuzzState(f *testing.F) {
	f.Add([]byte(`{"schema":1,"saved":"2026-01-01T00:00:00Z","said":{"token":"00","setup":"x","statements":{"a":{"id":"a","value":1}},"deviations":[{"step":"roll"}],"signed":{"name":"n"}}}`))
	f.Add([]byte(`{"schema":1,"said":{"token":"00","statements":null}}`))
	f.Add([]byte("\x00"))
	f.Fuzz(func(t *testing.T, text []byte) {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, stateFile), text, 0o600); err != nil {
			t.Fatal(err)
		}
		test := OpenTest(dir, slog.New(slog.DiscardHandler))
		test.Use("x")
		test.Confirm(Statement{ID: "cable", Initials: "AB"})
		test.Skip(Deviation{Step: "lift", Reason: "r"})
		if s := test.Said(); s.Token == "" || s.Statements["cable"].Initials != "AB" || test.Trouble() != "" {
			t.Errorf("%+v, %s", s, test.Trouble())
		}
	})
}
