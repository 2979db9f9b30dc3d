package archive

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/report"
)

// result is one of some size, with all that JSON keeps and what it does not.
func result(i int) daemon.Result {
	name := fmt.Sprintf("a/%05d <&> \u00e4.log", i)
	r := daemon.Result{
		Schema: daemon.Schema, Program: "plumbline (test)", Setup: daemon.SetupFile{File: "m.yaml", SHA256: "00", Vehicle: "Minibus"},
		Captures: []daemon.Capture{{File: name, Frames: uint64(i), First: 1_700_000_000_000_000_001, Last: 1_700_000_100_000_000_002, Warnings: []string{}}},
		Verdict:  checks.Verdict(i % 3), Findings: []daemon.Finding{}, Causes: []daemon.Cause{}, Open: []string{}, Confirmations: []daemon.Confirmation{},
		Next: "turn FL on",
	}
	if i%4 == 1 {
		r.Captures[0].Unusable = name + ": reading ended"
		r.Captures[0].Warnings = []string{"x", r.Captures[0].Unusable}
	}
	for k := range 40 {
		value := float64(i) / 3
		r.Findings = append(r.Findings, daemon.Finding{
			Check: "zero", Subject: fmt.Sprintf("C%d", k), Channel: "fx", Verdict: checks.Fail, Value: &value, Unit: "N",
			Sentence: "reads more without load than it may", Next: "tare it",
		})
	}
	return r
}

// TestSheets: whatever the order in which results come, what is written is what is written of all at once.
func TestSheets(t *testing.T) {
	for _, n := range []int{1, 2, 17} {
		results := make([]daemon.Result, n)
		names := make([]string, n)
		for i := range results {
			results[i] = result(i / 2 * 2) // the same file twice
			names[i] = results[i].Captures[0].File
		}
		var wantJSON, wantJUnit, wantText bytes.Buffer
		if err := daemon.Encode(&wantJSON, results); err != nil {
			t.Fatal(err)
		}
		if err := report.JUnit(&wantJUnit, results); err != nil {
			t.Fatal(err)
		}
		if err := report.Text(&wantText, results, report.Style{}); err != nil {
			t.Fatal(err)
		}
		var gotJSON, gotJUnit, gotText bytes.Buffer
		about := About{}
		s, err := NewSheets(&about, names, []Sheet{{Format: JSON, W: &gotJSON}, {Format: JUnit, W: &gotJUnit}, {Format: Text, W: &gotText, Dir: t.TempDir()}})
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range rand.New(rand.NewPCG(1, 2)).Perm(n) {
			if err := s.Add(i, &results[i]); err != nil {
				t.Fatal(err)
			}
		}
		if err := s.Write(); err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct{ name, got, want string }{
			{"JSON", gotJSON.String(), wantJSON.String()}, {"JUnit", gotJUnit.String(), wantJUnit.String()}, {"text", gotText.String(), wantText.String()},
		} {
			if diff := cmp.Diff(c.got, c.want); diff != "" {
				t.Errorf("%d results, %s: got before want:\n%s", n, c.name, diff)
			}
		}
	}
}

// TestSheetsFaults: a result that comes twice, or is of no recording, is told.
func TestSheetsFaults(t *testing.T) {
	s, err := NewSheets(&About{}, []string{"a", "b"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	r := result(0)
	if err := s.Add(1, &r); err != nil {
		t.Fatal(err)
	}
	for _, i := range []int{1, -1, 2} {
		if err := s.Add(i, &r); err == nil {
			t.Errorf("index %d: no error", i)
		}
	}
	if len(s.Rows()) != 1 {
		t.Errorf("got %d rows", len(s.Rows()))
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestLines: what is read from result lines is what was written, also what JSON does not carry.
func TestLines(t *testing.T) {
	const n, shards = 9, 4
	list := make([]Recording, n)
	names := make([]string, n)
	for i := range list {
		list[i].Place = fmt.Sprint(i)
		r := result(i)
		names[i] = r.Captures[0].File
	}
	dir := t.TempDir()
	var files []string
	for k := 1; k <= shards; k++ {
		var out bytes.Buffer
		shard := Shard{k, shards}
		about := Describe("plumbline (test)", daemon.SetupFile{}, false, shard, list)
		s, err := NewSheets(&about, names, []Sheet{{Format: Lines, W: &out}})
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range shard.Pick(list) {
			r := result(i)
			if err := s.Add(i, &r); err != nil {
				t.Fatal(err)
			}
		}
		if err := s.Write(); err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		files = append(files, filepath.Join(dir, fmt.Sprint(k)))
		if err := os.WriteFile(files[k-1], out.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	results, err := Open(files)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(results.Names(), names); diff != "" {
		t.Errorf("names: got before want:\n%s", diff)
	}
	next := 0
	err = results.Each(func(i int, got *daemon.Result) error {
		want := result(i)
		if diff := cmp.Diff(*got, want); diff != "" || i != next {
			t.Errorf("index %d, want %d: got before want:\n%s", i, next, diff)
		}
		next++
		return nil
	})
	if err != nil || next != n {
		t.Errorf("%d results, %v", next, err)
	}
}

// TestSheetsMemory: of ten thousand results what is held is small, and not what they say.
func TestSheetsMemory(t *testing.T) {
	const n = 10_000
	names := make([]string, n)
	for i := range names {
		names[i] = fmt.Sprintf("a/%05d.log", i)
	}
	path := filepath.Join(t.TempDir(), "out.json")
	out, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	s, err := NewSheets(&About{}, names, []Sheet{{Format: JSON, W: out, Dir: t.TempDir()}})
	if err != nil {
		t.Fatal(err)
	}
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	for i := range n {
		r := result(i)
		r.Findings = r.Findings[:6]
		if err := s.Add(i, &r); err != nil {
			t.Fatal(err)
		}
	}
	runtime.GC()
	runtime.ReadMemStats(&after)
	if err := s.Write(); err != nil {
		t.Fatal(err)
	}
	info, err := out.Stat()
	if err != nil {
		t.Fatal(err)
	}
	held := int64(after.HeapAlloc) - int64(before.HeapAlloc)
	t.Logf("%d bytes held a result, %d written", held/n, info.Size()/n)
	if held/n > 1000 {
		t.Errorf("%d bytes held of each result, want less than 1,000", held/n)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}
