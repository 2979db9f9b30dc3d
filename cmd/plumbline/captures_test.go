package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/checks"
	"plumbline/daemon"
)

const capturesDir = "../../testdata/captures"

// captureFolders lists the captures, one a folder. A folder without its expectation fails.
func captureFolders(t *testing.T) []string {
	t.Helper()
	setups, err := filepath.Glob(filepath.Join(capturesDir, "*", "setup.yaml"))
	if err != nil || len(setups) < 25 {
		t.Fatalf("%d captures below %s (%v), want at least 25", len(setups), capturesDir, err)
	}
	var folders []string
	for _, s := range setups {
		folders = append(folders, filepath.Dir(s))
	}
	return folders
}

func captureOf(t *testing.T, folder string) string {
	t.Helper()
	found, _ := filepath.Glob(filepath.Join(folder, "capture.*"))
	if len(found) != 1 {
		t.Fatalf("%s holds %d captures, want one file capture.*", folder, len(found))
	}
	return found[0]
}

// replayed runs replay on one capture and returns what it printed, decoded, and the exit code.
func replayed(t *testing.T, folder string) (daemon.Result, called) {
	t.Helper()
	c := call(t, "replay", filepath.Join(folder, "setup.yaml"), captureOf(t, folder), "--format", "json")
	var r daemon.Result
	if err := json.Unmarshal([]byte(c.out), &r); err != nil {
		t.Fatalf("%s: %v\n%s\n%s", folder, err, c.out, c.errors)
	}
	return r, c
}

// summary is the text that stands in a want file: what a person would compare.
func summary(folder string, r *daemon.Result, exit int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "exit %d\n", exit)
	for _, c := range r.Captures {
		for _, w := range c.Warnings {
			fmt.Fprintf(&b, "warning %s\n", strings.TrimPrefix(w, folder+string(filepath.Separator)))
		}
	}
	for i := range r.Causes {
		fmt.Fprintf(&b, "cause %s\n", r.Causes[i].ID)
	}
	for i := range r.Findings {
		f := &r.Findings[i]
		fmt.Fprintf(&b, "%s %s", f.Verdict, f.Name())
		if f.Value != nil {
			fmt.Fprintf(&b, " %.4f", *f.Value)
		}
		if f.Uncertainty != nil {
			fmt.Fprintf(&b, " ± %.4f", *f.Uncertainty)
		}
		if f.Unit != "" && f.Value != nil {
			b.WriteString(" " + f.Unit)
		}
		b.WriteByte('\n')
	}
	return b.String()
}

func TestCaptures(t *testing.T) {
	for _, folder := range captureFolders(t) {
		t.Run(filepath.Base(folder), func(t *testing.T) {
			r, c := replayed(t, folder)
			got, file := summary(folder, &r, c.code), filepath.Join(folder, "want")
			if *update {
				if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatalf("%v: go test ./cmd/plumbline -run TestCaptures -update writes it", err)
			}
			if d := cmp.Diff(got, string(want)); d != "" {
				t.Errorf("%s (−got +want):\n%s", folder, d)
			}
			for i := range r.Findings {
				if f := &r.Findings[i]; f.Sentence == "" || f.Verdict == checks.Fail && f.Next == "" {
					t.Errorf("%s says %q, next %q: a finding has a sentence, a fail says what to do", f.Name(), f.Sentence, f.Next)
				}
			}
		})
	}
}

// row is [check, subject, channel]; a nil channel is any.
type row [3]*string

func (w row) matches(f *daemon.Finding) bool {
	subject := *w[1] == "*" || slices.Contains(strings.Split(*w[1], "|"), f.Subject)
	return *w[0] == f.Check && subject && (w[2] == nil || *w[2] == f.Channel)
}

func any1(rows []row, f *daemon.Finding) bool {
	return slices.ContainsFunc(rows, func(w row) bool { return w.matches(f) })
}

// expectation is the expect.json of a recording that an outside model made.
type expectation struct {
	Exit        int      `json:"exit"`
	MustFail    []row    `json:"must_fail"`
	MustPass    []row    `json:"must_pass"`
	MustNotPass []row    `json:"must_not_pass"`
	MayFail     []row    `json:"may_fail"`
	Values      [][5]any `json:"values"`
	Cause       []string `json:"cause_must_mention"`
}

// TestOutsideModel holds the program against recordings of an independent model of the physics,
// which shares no code with it and came with what each must show.
func TestOutsideModel(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join(capturesDir, "*", "expect.json"))
	if len(files) < 12 {
		t.Fatalf("%d recordings with expect.json, want 12", len(files))
	}
	built := map[string]bool{}
	for _, c := range checks.All() {
		built[c.Name] = true
	}
	for _, file := range files {
		folder := filepath.Dir(file)
		t.Run(filepath.Base(folder), func(t *testing.T) {
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			var e expectation
			if err := json.Unmarshal(text, &e); err != nil {
				t.Fatal(err)
			}
			r, c := replayed(t, folder)
			all := e.hold(t, &r, built)
			if all && c.code != e.Exit {
				t.Errorf("exit code %d, want %d", c.code, e.Exit)
			}
		})
	}
}

// hold compares a result with what it must show; false where a check that must fail is not built.
func (e *expectation) hold(t *testing.T, r *daemon.Result, built map[string]bool) bool {
	t.Helper()
	for i := range r.Findings {
		f := &r.Findings[i]
		switch {
		case f.Verdict == checks.Fail && !any1(e.MustFail, f) && !any1(e.MayFail, f):
			t.Errorf("false alarm: %s: %s", f.Name(), f.Sentence)
		case f.Verdict == checks.Pass && any1(e.MustNotPass, f):
			t.Errorf("%s passed: %s", f.Name(), f.Sentence)
		}
	}
	all := true
	for _, w := range e.MustFail {
		if !built[*w[0]] {
			all = false
			continue
		}
		if !slices.ContainsFunc(r.Findings, func(f daemon.Finding) bool { return f.Verdict == checks.Fail && w.matches(&f) }) {
			t.Errorf("%s %s did not fail", *w[0], *w[1])
		}
	}
	for _, w := range e.MustPass {
		if !built[*w[0]] {
			continue
		}
		n := 0
		for i := range r.Findings {
			if f := &r.Findings[i]; w.matches(f) {
				n++
				if f.Verdict != checks.Pass {
					t.Errorf("%s is %s: %s", f.Name(), f.Verdict, f.Sentence)
				}
			}
		}
		if n == 0 {
			t.Errorf("no finding %s %s", *w[0], *w[1])
		}
	}
	e.values(t, r, built)
	if len(e.Cause) > 0 && all && !slices.ContainsFunc(r.Causes, func(c daemon.Cause) bool {
		return !slices.ContainsFunc(e.Cause, func(word string) bool { return !strings.Contains(c.Sentence, word) })
	}) {
		t.Errorf("no cause mentions all of %q: %+v", e.Cause, r.Causes)
	}
	return all
}

func (e *expectation) values(t *testing.T, r *daemon.Result, built map[string]bool) {
	t.Helper()
	for _, v := range e.Values {
		check, subject := v[0].(string), v[1].(string)
		channel, _ := v[2].(string)
		want, tolerance := v[3].(float64), v[4].(float64)
		if !built[check] {
			continue
		}
		i := slices.IndexFunc(r.Findings, func(f daemon.Finding) bool {
			return f.Check == check && f.Subject == subject && f.Channel == channel
		})
		if i < 0 || r.Findings[i].Value == nil {
			t.Errorf("%s %s %s has no value, want %g", check, subject, channel, want)
		} else if got := *r.Findings[i].Value; math.Abs(got-want) > tolerance {
			t.Errorf("%s %s %s = %g, want %g within %g", check, subject, channel, got, want, tolerance)
		}
	}
}

// TestSameBytes: order of map iteration, parallelism and time zone never show.
func TestSameBytes(t *testing.T) {
	folder := filepath.Join(capturesDir, "clean-four")
	setup, capture := filepath.Join(folder, "setup.yaml"), captureOf(t, folder)
	args := []string{"replay", setup, capture, capture, capture, "--format", "json"}
	first := call(t, args...)
	zone := time.Local
	defer func() { time.Local = zone }()
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	for i, east := range []int{0, 5*3600 + 1800, -9 * 3600} {
		time.Local = time.FixedZone("somewhere", east)
		runtime.GOMAXPROCS(1 + 2*i)
		if again := call(t, args...); again.out != first.out {
			t.Fatalf("run %d differs:\n%s", i, cmp.Diff(first.out, again.out))
		}
	}
	var results []json.RawMessage
	if err := json.Unmarshal([]byte(first.out), &results); err != nil || len(results) != 3 {
		t.Fatalf("%d results (%v), want 3 in one array", len(results), err)
	}
	if !bytes.Equal(results[0], results[1]) || !bytes.Equal(results[0], results[2]) {
		t.Error("the same capture three times gives different results")
	}
}
