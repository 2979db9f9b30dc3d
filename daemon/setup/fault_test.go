package setup

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite the .want files of setups with faults and warnings")

// TestFaults loads each file of bad/, which holds one mistake (many.yaml:
// several), and compares all that is said with the .want beside it.
func TestFaults(t *testing.T) {
	compareAll(t, "bad", func(t *testing.T, s *Setup, err error) string {
		t.Helper()
		faults, ok := errors.AsType[Faults](err)
		if !ok || len(faults) == 0 || s != nil {
			t.Fatalf("got setup %v, error %v, want no setup and faults", s, err)
		}
		return faults.Error()
	})
}

// TestWarnings does so with what is allowed and weakens a check.
func TestWarnings(t *testing.T) {
	compareAll(t, "warned", func(t *testing.T, s *Setup, err error) string {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return strings.Join(s.Warnings, "\n")
	})
}

// compareAll reads the setups of a folder and compares what is said of them.
func compareAll(t *testing.T, folder string, said func(*testing.T, *Setup, error) string) {
	t.Helper()
	dir := filepath.Join(testdata, folder)
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, e := range entries {
		ending := filepath.Ext(e.Name())
		if ending == ".want" || ending == ".dbc" {
			continue
		}
		name := strings.TrimSuffix(e.Name(), ending)
		seen[name] = true
		t.Run(name, func(t *testing.T) {
			text, err := os.ReadFile(filepath.Join(dir, e.Name()))
			if err != nil {
				t.Fatal(err)
			}
			s, err := Parse(e.Name(), text, func(path string) ([]byte, error) {
				text, err := os.ReadFile(filepath.Join(dir, path))
				if err != nil { // without the folder in its text
					err = &os.PathError{Op: "open", Path: path, Err: errors.Unwrap(err)}
				}
				return text, err
			})
			got := []byte(said(t, s, err) + "\n")
			path := filepath.Join(dir, name+".want")
			if *update {
				if err := os.WriteFile(path, got, 0o600); err != nil {
					t.Fatal(err)
				}
				return
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatalf("%v: look at what is said and run with -update", err)
			}
			if !bytes.Equal(got, want) {
				t.Errorf("(-want +got):\n%s", cmp.Diff(strings.Split(string(want), "\n"), strings.Split(string(got), "\n")))
			}
		})
	}
	wants, err := filepath.Glob(filepath.Join(dir, "*.want"))
	if err != nil || len(seen) == 0 {
		t.Fatalf("%d setups in %s, %v", len(seen), dir, err)
	}
	for _, path := range wants {
		if name := strings.TrimSuffix(filepath.Base(path), ".want"); !seen[name] {
			t.Errorf("%s belongs to no setup", path)
		}
	}
}
