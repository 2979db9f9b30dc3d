package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// visitor is a person at the page, without scripts.
type visitor struct{ url string }

func (v *visitor) get(t *testing.T, path string) string {
	t.Helper()
	return v.ask(t, http.MethodGet, path, nil)
}

// send sends a form and follows where it leads.
func (v *visitor) send(t *testing.T, path string, form url.Values) string {
	t.Helper()
	return v.ask(t, http.MethodPost, path, strings.NewReader(form.Encode()))
}

func (v *visitor) ask(t *testing.T, method, path string, body io.Reader) string {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, strings.TrimSuffix(v.url, "/")+path, body)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK {
		t.Fatalf("%s %s: %v, status %d: %s", method, path, err, answer.StatusCode, text)
	}
	return string(text)
}

func (v *visitor) hidden(t *testing.T, page, name string) string {
	t.Helper()
	m := regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(v.get(t, page))
	if m == nil {
		t.Fatalf("%s has no %s", page, name)
	}
	return m[1]
}

func (v *visitor) sign(t *testing.T) {
	t.Helper()
	page := v.send(t, "/signoff", url.Values{
		"test": {v.hidden(t, "/signoff", "test")}, "amends": {v.hidden(t, "/signoff", "amends")}, "performed": {"A. Berg"}, "initials": {"AB"},
	})
	if !strings.Contains(page, "Signed by A. Berg") {
		t.Fatalf("it was not signed: %s", page)
	}
}

func (v *visitor) afresh(t *testing.T) {
	t.Helper()
	v.send(t, "/afresh", url.Values{"test": {v.hidden(t, "/afresh", "test")}, "really": {"yes"}})
}

// signedTests lists the folders of signed tests, the oldest first.
func signedTests(t *testing.T, dir string) []string {
	t.Helper()
	list, err := filepath.Glob(filepath.Join(dir, "2*Z-*"))
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// sameAgain replays a signed test by its own setup and recording: the findings are those of its result.
func sameAgain(t *testing.T, folder string) daemon.Result {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(folder, "result.json"))
	if err != nil {
		t.Fatal(err)
	}
	signed := decoded(t, text)
	again := call(t, "replay", filepath.Join(folder, "setup.yaml"), filepath.Join(folder, "recording"), "--format", "json")
	var replayed daemon.Result
	if err := json.Unmarshal([]byte(again.out), &replayed); err != nil {
		t.Fatalf("%v: %s%s", err, again.out, again.errors)
	}
	if diff := cmp.Diff(replayed.Findings, signed.Findings); diff != "" || len(signed.Findings) == 0 {
		t.Errorf("%s: replayed before signed:\n%s", folder, diff)
	}
	if replayed.Verdict != signed.Verdict || replayed.Captures[0].Frames != signed.Captures[0].Frames {
		t.Errorf("%s: replayed %v of %d frames, signed %v of %d", folder, replayed.Verdict, replayed.Captures[0].Frames, signed.Verdict, signed.Captures[0].Frames)
	}
	return signed
}

func decoded(t *testing.T, text []byte) daemon.Result {
	t.Helper()
	var r daemon.Result
	if err := json.Unmarshal(text, &r); err != nil || len(r.Captures) != 1 {
		t.Fatalf("%v: %s", err, text)
	}
	return r
}

// said is what a program says while it runs.
type said struct {
	mu   sync.Mutex
	text strings.Builder
}

func (s *said) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(b)
}

func (s *said) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

// await waits until a pattern is said, and returns its last group.
func (s *said) await(t *testing.T, pattern string, times int) string {
	t.Helper()
	p := regexp.MustCompile(pattern)
	for range 1200 {
		if found := p.FindAllStringSubmatch(s.String(), -1); len(found) >= times {
			last := found[len(found)-1]
			return last[len(last)-1]
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("%q was not said %d times:\n%s", pattern, times, s.String())
	return ""
}

// TestDemoSigned signs the demo twice in one test, begins another and signs that: each folder replays.
func TestDemoSigned(t *testing.T) {
	yard(t, nil)
	for _, dir := range []string{"", "kept"} {
		ctx, cancel := context.WithCancel(t.Context())
		var out, errs said
		root := newRoot(streams{strings.NewReader(""), &out, &errs})
		args := []string{"demo", "--corners", "1", "--speed", "2000", "--listen", "127.0.0.1:0", "--fault", "zero:FL=115"}
		if dir != "" {
			args = append(args, "--results", dir)
		}
		root.SetArgs(args)
		ended := make(chan error, 1)
		go func() { ended <- root.ExecuteContext(ctx) }()
		v := &visitor{url: errs.await(t, `look at (\S+)`, 1)}
		errs.await(t, "the page stays at", 1)
		metrics := v.get(t, "/metrics")
		for _, want := range []string{
			`\nplumbline_source_load_ratio{source="wheels"} 0\.[0-9]`, `\nplumbline_source_frame_age_seconds_count{source="wheels"} [1-9]`,
			`\nplumbline_ended 1\n`, `\nplumbline_recording_state{state="recording"} 1\n`,
		} {
			if !regexp.MustCompile(want).MatchString(metrics) {
				t.Errorf("metrics of a demo that has ended lack %s", want)
			}
		}
		v.send(t, "/confirm", url.Values{"id": {"wheel-bolts"}, "value": {"160"}, "initials": {"AB"}})
		v.sign(t)
		where := regexp.MustCompile(`They are kept in ([^,]+),`).FindStringSubmatch(v.get(t, "/tests"))
		if where == nil {
			t.Fatal("the list does not say where the tests are")
		}
		if temporary := strings.Contains(v.get(t, "/tests"), "removed when it ends"); temporary != (dir == "") {
			t.Errorf("%q: the page says that tests are removed: %v", dir, temporary)
		}
		if dir != "" {
			v.afresh(t)
			errs.await(t, "the page stays at", 2)
			if strings.Contains(v.get(t, "/steps"), "160 N·m") {
				t.Error("what was confirmed in the test before counts in the new one")
			}
			v.sign(t)
			v.send(t, "/confirm", url.Values{"id": {"wheel-bolts"}, "value": {"165"}, "initials": {"AB"}})
			v.sign(t)
		}
		cancel()
		if code := conclude(io.Discard, <-ended); code != daemon.ExitFail {
			t.Errorf("exit code %d, want that of a failed check:\n%s%s", code, out.String(), errs.String())
		}
		tests := signedTests(t, where[1])
		if dir == "" {
			if _, err := os.Stat(where[1]); err == nil || !strings.Contains(errs.String(), "removed when the demo ends") {
				t.Errorf("%s is still there, or nobody was told that it goes", where[1])
			}
			continue
		}
		if len(tests) != 3 {
			t.Fatalf("signed tests %q, want 3", tests)
		}
		first := sameAgain(t, tests[0])
		for _, folder := range tests[1:] {
			if r := sameAgain(t, folder); r.Captures[0].First <= first.Captures[0].Last || r.Verdict != first.Verdict {
				t.Errorf("%s: it began at %v, want it after the first, with the same verdict", folder, r.Captures[0].First)
			}
		}
		if first.Confirmations[0].State != daemon.StateConfirmed {
			t.Errorf("confirmation %+v, want it given", first.Confirmations[0])
		}
	}
	if got := call(t, "demo", "--results", "x"); got.code != daemon.ExitUsage || !strings.Contains(got.errors, "add --listen") {
		t.Errorf("without a page: %d, %q", got.code, got.errors)
	}
}

// TestReread: what a reload does not take up is told, once for each change.
func TestReread(t *testing.T) {
	yard(t, nil)
	plain, err := os.ReadFile("one.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		name         string
		first        string
		then         []string // appended to the setup, one after the other
		asked, taped bool
		want         []string // of each reload, a pattern; empty: nothing is said
	}{
		{"nothing moves", "results: tests\n", []string{"results: tests\n"}, false, false, []string{""}},
		{"another folder, and back", "results: tests\n", []string{"results: kept\n", "results: kept\n", "results: tests\n"}, false, false, []string{"results: has changed.*restart.*tests.*kept", "", ""}},
		{"a first folder", "", []string{"results: tests\n"}, false, false, []string{"results: has changed.*none.*tests"}},
		{"by the flag", "results: tests\n", []string{"results: kept\n"}, true, false, []string{""}},
		{"a folder to record into", "results: tests\n", []string{"results: tests\nrecord: {dir: tape}\n"}, false, false, []string{"record: of the setup now names.*tape"}},
		{"a folder to record into, and the flag", "results: tests\n", []string{"results: tests\nrecord: {dir: tape}\n"}, false, true, []string{""}},
		{"a folder to record into, without results", "", []string{"record: {dir: tape}\n"}, false, false, []string{""}},
	} {
		t.Run(test.name, func(t *testing.T) {
			write := func(more string) {
				if err := os.WriteFile("two.yaml", append(bytes.Clone(plain), more...), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			write(test.first)
			first, err := setup.Load("two.yaml")
			if err != nil {
				t.Fatal(err)
			}
			var out bytes.Buffer
			load := reread("two.yaml", first, test.asked, test.taped, slog.New(slog.NewTextHandler(&out, nil)))
			for i, more := range test.then {
				out.Reset()
				write(more)
				if _, err := load(); err != nil {
					t.Fatal(err)
				}
				if got := out.String(); test.want[i] == "" && got != "" || !regexp.MustCompile(test.want[i]).MatchString(got) {
					t.Errorf("reload %d says %q, want %q", i+1, got, test.want[i])
				}
			}
		})
	}
}
