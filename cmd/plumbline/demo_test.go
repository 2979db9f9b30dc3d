package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"io"
	"os"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/checks"
	"plumbline/daemon"
)

func pid() string { return strconv.Itoa(os.Getpid()) }

// TestDemo: a healthy vehicle passes, one with a fault fails and says where.
func TestDemo(t *testing.T) {
	tests := []struct {
		name string
		args []string
		code int
		want []string
	}{
		{"healthy", []string{"--corners", "4"}, 0, []string{"turning FL by hand", "FL         zero          inconclusive → pass", "\n✓ PASS\n", "plumbline is an aid"}},
		{"another seed", []string{"--corners", "2", "--seed", "7"}, 0, []string{"\n✓ PASS\n"}},
		{"zero", []string{"--corners", "1", "--fault", "zero:FL=115"}, 1, []string{"zero          inconclusive → fail", "\n✗ FAIL · 1 failed\n", "✗ FL zero fz"}},
		{"exchanged", []string{"--fault", "harness:RL,RR"}, 1, []string{"\nCauses\n", "RL and RR are exchanged"}},
		{"nothing arrives", []string{"--corners", "1", "--fault", "off"}, 1, []string{"✗ FAIL"}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := call(t, append([]string{"demo"}, test.args...)...)
			if got.code != test.code || got.errors != "" {
				t.Errorf("exit code: got %d, want %d; standard error: %q\n%s", got.code, test.code, got.errors, got.out)
			}
			for _, want := range test.want {
				if !strings.Contains(got.out, want) {
					t.Errorf("%q is missing in\n%s", want, got.out)
				}
			}
		})
	}
}

// TestDemoAgain: the same seed gives the same bytes.
func TestDemoAgain(t *testing.T) {
	first, second := call(t, "demo", "--corners", "1"), call(t, "demo", "--corners", "1")
	if diff := cmp.Diff(first, second, cmp.AllowUnexported(called{})); diff != "" {
		t.Errorf("first before second:\n%s", diff)
	}
}

// TestReplayOfDemo: a recording of the demo is judged as the demo was: live and
// replay are the same program.
func TestReplayOfDemo(t *testing.T) {
	yard(t, nil)
	for _, args := range [][]string{nil, {"--fault", "zero:FL=115"}} {
		code := len(args) / 2
		live := recorded(t, code, "drive.log", args...)
		replay := call(t, "replay", "one.yaml", "drive.log")
		if replay.code != code || replay.errors != "" {
			t.Errorf("%v: exit code: got %d, want %d; %q", args, replay.code, code, replay.errors)
		}
		of := func(text string) string { // from the verdict on
			i := strings.Index(text, "PASS")
			if i < 0 {
				i = strings.Index(text, "FAIL ·")
			}
			return text[max(i, 0):]
		}
		if diff := cmp.Diff(of(replay.out), of(live.out)); diff != "" {
			t.Errorf("%v: replay before live:\n%s", args, diff)
		}
	}
	noneUnfinished(t)
}

// TestReplayJSON: one capture is an object, several are an array in the order given.
func TestReplayJSON(t *testing.T) {
	yard(t, map[string]string{"empty.log": ""})
	recorded(t, 0, "good.log")
	recorded(t, 1, "bad.log", "--fault", "zero:FL=115")
	tests := []struct {
		name     string
		captures []string
		code     int
		want     []checks.Verdict
	}{
		{"pass", []string{"good.log"}, 0, []checks.Verdict{checks.Pass}},
		{"fail", []string{"bad.log"}, 1, []checks.Verdict{checks.Fail}},
		{"gone", []string{"gone.log"}, 3, []checks.Verdict{checks.Inconclusive}},
		{"empty", []string{"empty.log"}, 3, []checks.Verdict{checks.Inconclusive}},
		{"several", []string{"good.log", "bad.log", "gone.log", "good.log"}, 1, []checks.Verdict{checks.Pass, checks.Fail, checks.Inconclusive, checks.Pass}},
		{"none failed", []string{"gone.log", "good.log"}, 3, []checks.Verdict{checks.Inconclusive, checks.Pass}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := call(t, append([]string{"replay", "--format", "json", "one.yaml"}, test.captures...)...)
			if got.code != test.code || got.errors != "" {
				t.Errorf("exit code: got %d, want %d; standard error %q", got.code, test.code, got.errors)
			}
			results := make([]daemon.Result, 1)
			var into any = &results[0]
			if len(test.captures) > 1 {
				into = &results
			}
			d := json.NewDecoder(strings.NewReader(got.out))
			d.DisallowUnknownFields()
			if err := d.Decode(into); err != nil {
				t.Fatal(err)
			}
			var files []string
			var verdicts []checks.Verdict
			for _, r := range results {
				files = append(files, r.Captures[0].File)
				verdicts = append(verdicts, r.Verdict)
				if r.Schema != 1 || r.Setup.File != "one.yaml" || len(r.Setup.SHA256) != 64 {
					t.Errorf("got %d, %+v", r.Schema, r.Setup)
				}
			}
			if !slices.Equal(files, test.captures) {
				t.Errorf("order: got %v, want %v", files, test.captures)
			}
			if !slices.Equal(verdicts, test.want) {
				t.Errorf("verdicts: got %v, want %v", verdicts, test.want)
			}
		})
	}
}

func TestReplayJUnit(t *testing.T) {
	yard(t, nil)
	recorded(t, 1, "bad.log", "--fault", "zero:FL=115")
	got := call(t, "replay", "one.yaml", "bad.log", "gone.log", "-f", "junit", "-o", "results.xml")
	if got.code != 1 || !strings.Contains(got.out, "2 captures: 0 passed, 1 failed, 0 still open, 1 unusable") || got.errors != "" {
		t.Errorf("got %+v", got)
	}
	text, err := os.ReadFile("results.xml")
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		XMLName  xml.Name `xml:"testsuites"`
		Failures int      `xml:"failures,attr"`
		Errors   int      `xml:"errors,attr"`
	}
	if err := xml.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	if doc.Failures != 1 || doc.Errors != 1 {
		t.Errorf("got %d failures and %d errors, want 1 and 1", doc.Failures, doc.Errors)
	}
}

// TestReplayStandardInput reads a recording from there.
func TestReplayStandardInput(t *testing.T) {
	yard(t, nil)
	recorded(t, 0, "good.log")
	f, err := os.Open("good.log")
	if err != nil {
		t.Fatal(err)
	}
	before := os.Stdin
	os.Stdin = f
	defer func() { os.Stdin = before }()
	got := call(t, "replay", "one.yaml", "-", "--format", "json")
	if got.code != 0 || !strings.Contains(got.out, `"file": "-",`) {
		t.Errorf("got exit code %d, %q\n%.300s", got.code, got.errors, got.out)
	}
}

// TestOutput: a file takes its name when it is whole, and not before.
func TestOutput(t *testing.T) {
	yard(t, map[string]string{"old.txt": "the last good one"})
	if err := os.Symlink("old.txt", "link.txt"); err != nil {
		t.Fatal(err)
	}
	out, err := create("link.txt", io.Discard)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := out.WriteString("half"); err != nil {
		t.Fatal(err)
	}
	if text, _ := os.ReadFile("old.txt"); string(text) != "the last good one" {
		t.Errorf("before commit: got %q", text)
	}
	out.discard()
	if text, _ := os.ReadFile("old.txt"); string(text) != "the last good one" {
		t.Errorf("after discard: got %q", text)
	}
	noneUnfinished(t)
	if out, err = create("link.txt", io.Discard); err != nil {
		t.Fatal(err)
	}
	if _, err := out.WriteString("whole"); err != nil {
		t.Fatal(err)
	}
	if err := out.commit(); err != nil {
		t.Fatal(err)
	}
	out.discard()
	if text, _ := os.ReadFile("old.txt"); string(text) != "whole" {
		t.Errorf("after commit: got %q", text)
	}
	if info, err := os.Lstat("link.txt"); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link was replaced: %v, %v", info, err)
	}
	// no more than the group may read, whatever the umask; other systems know no such thing
	if info, err := os.Stat("old.txt"); err != nil || runtime.GOOS != "windows" && info.Mode().Perm()&^0o640 != 0 || info.Mode().Perm()&0o600 != 0o600 {
		t.Errorf("permissions: got %v, %v", info, err)
	}
	noneUnfinished(t)

	// a device is written to, not replaced
	if out, err = create(os.DevNull, io.Discard); err != nil {
		t.Fatal(err)
	}
	if err := out.commit(); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(os.DevNull); err != nil || info.Mode().IsRegular() {
		t.Errorf("%s: got %v, %v", os.DevNull, info, err)
	}
}

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }

// TestBrokenOutput: what could not be written is an error, never a pass.
func TestBrokenOutput(t *testing.T) {
	yard(t, nil)
	recorded(t, 0, "good.log")
	for _, args := range [][]string{{"replay", "one.yaml", "good.log"}, {"listen", "good.log"}, {"demo", "--corners", "1"}, {"version"}, {"setup", "check", "one.yaml"}, {"demo", "--list-faults"}} {
		var errs bytes.Buffer
		if code := run(args, strings.NewReader(""), broken{}, &errs); code == 0 || errs.Len() == 0 {
			t.Errorf("%v: got exit code %d, %q", args, code, &errs)
		}
	}
}

// TestGuard: a fault of the program is neither a usage error nor a failed check.
func TestGuard(t *testing.T) {
	var errs bytes.Buffer
	code := guard(&errs, func() int { panic("index out of range") })
	if code != exitInternal || !strings.Contains(errs.String(), "please report it") || !strings.Contains(errs.String(), "index out of range") {
		t.Errorf("got exit code %d, %q", code, &errs)
	}
}
