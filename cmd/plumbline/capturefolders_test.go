package main

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"plumbline/bus/simulated"
)

// TestCaptureFolders: each folder is whole and says what it is of, and what came out is what its row says was wrong.
func TestCaptureFolders(t *testing.T) {
	rows := map[string]*recipe{}
	for _, r := range recipes() {
		rows[r.name] = &r
	}
	entries, err := os.ReadDir(capturesDir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !e.IsDir() {
			continue
		}
		name, folder := e.Name(), filepath.Join(capturesDir, e.Name())
		for _, one := range []string{"capture.*", "setup.yaml", "want"} {
			if n := filesLike(folder, one); n != 1 {
				t.Errorf("%s holds %d files %s, want one", folder, n, one)
			}
		}
		if filesLike(folder, "*.dbc") == 0 {
			t.Errorf("%s holds no *.dbc: a recording is judged by the files beside it", folder)
		}
		r := rows[name]
		delete(rows, name)
		switch {
		case r != nil:
			for _, odd := range r.unlike(t, folder) {
				t.Errorf("%s: %s", folder, odd)
			}
		case filesLike(folder, "expect.json") == 0:
			t.Errorf("%s: nothing says what is wrong in it: a simulated one has a row in recipes() of record_test.go, another one an expect.json", folder)
		}
	}
	for name := range rows {
		t.Errorf("there is no capture %s: go test ./cmd/plumbline -run TestRecord -record %s, then -run TestCaptures -update", name, name)
	}
	if odd := (recipe{name: "one", says: "nothing wrong", faults: "drag:FL"}).unlike(t, filepath.Join(capturesDir, "weight")); len(odd) != 2 {
		t.Errorf("the check itself, on a wheel that drags and a recording with another fault: %q", odd)
	}
}

func filesLike(folder, pattern string) int {
	found, _ := filepath.Glob(filepath.Join(folder, pattern))
	return len(found)
}

// unlike tells in what the expectation of a capture is not what its row says: for each fault its check must fail where the fault is.
func (r recipe) unlike(t *testing.T, folder string) (odd []string) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(folder, "want"))
	if err != nil {
		return []string{err.Error()}
	}
	for word := range strings.FieldsSeq(r.faults) {
		f, err := simulated.ParseFault(word)
		if err != nil {
			t.Fatal(err)
		}
		kinds := simulated.Kinds()
		check := kinds[slices.IndexFunc(kinds, func(k simulated.Kind) bool { return k.Name == f.Kind })].Check
		if !regexp.MustCompile(`(?m)^fail ` + check + `/(` + strings.ReplaceAll(f.Corner, ",", "|") + `)\b`).Match(text) {
			odd = append(odd, "it was made with "+word+", and in want "+check+" does not fail: does the recording show it?")
		}
	}
	if strings.Contains(r.says, "nothing wrong") && regexp.MustCompile(`(?m)^fail `).Match(text) {
		odd = append(odd, "nothing is wrong in it, and in want something fails")
	}
	return odd
}
