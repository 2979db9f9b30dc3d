package setup

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// FuzzParse reads any text in each format: no panic, an error is Faults with
// places inside the file, and the same text gives the same answer.
func FuzzParse(f *testing.F) {
	for _, pattern := range []string{"good/*", "bad/*", "warned/*", "clean-*/*"} {
		paths, err := filepath.Glob(filepath.Join(testdata, pattern))
		if err != nil {
			f.Fatal(err)
		}
		for _, path := range paths {
			ending := filepath.Ext(path)
			if ending == ".want" || ending == ".dbc" {
				continue
			}
			text, err := os.ReadFile(path)
			if err != nil {
				f.Fatal(err)
			}
			f.Add("setup"+ending, string(text))
		}
	}
	dbc, err := os.ReadFile(testdata + "/bad/wheels.dbc")
	if err != nil {
		f.Fatal(err)
	}
	read := func(string) ([]byte, error) { return dbc, nil }
	f.Fuzz(func(t *testing.T, name, text string) {
		got, err := Parse(name, []byte(text), read)
		again, errAgain := Parse(name, []byte(text), read)
		if err == nil {
			if diff := cmp.Diff(got, again); diff != "" || errAgain != nil {
				t.Errorf("read twice: %v\n%s", errAgain, diff)
			}
			return
		}
		faults, ok := errors.AsType[Faults](err)
		if !ok || len(faults) == 0 || got != nil {
			t.Fatalf("got setup %v, error %v, want faults", got, err)
		}
		lines := strings.Count(text, "\n") + strings.Count(text, "\r") + 2 // a lone CR ends a line of YAML too
		for _, fault := range faults {
			if fault.Line < 1 || fault.Line > lines || fault.Column < 1 || fault.Text == "" {
				t.Errorf("fault %q has no place in %d lines", fault, lines)
			}
		}
		if errAgain == nil || err.Error() != errAgain.Error() {
			t.Errorf("read twice:\n%v\n%v", err, errAgain)
		}
	})
}

// FuzzWrite makes a first setup of any DBC file: it can be read, and all that
// is said of it is what a person has still to write or to decide.
func FuzzWrite(f *testing.F) {
	for _, pattern := range []string{"*/*.dbc"} {
		paths, err := filepath.Glob(filepath.Join(testdata, pattern))
		if err != nil {
			f.Fatal(err)
		}
		for _, path := range paths {
			text, err := os.ReadFile(path)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(string(text))
		}
	}
	open := regexp.MustCompile(`^(vehicle is missing|no corners|corner .* has no (load_n|channels)|corner .* has (fx|fz|mx|mz) and no|` +
		`corner .* sends rotating components and has no angle|optic .* has (two heights|a third height) and no|optic .* has no channels|` +
		`the DBC file gives .* the unit .* not known|the channels cannot be decoded together)`)
	f.Fuzz(func(t *testing.T, text string) {
		read := func(string) ([]byte, error) { return []byte(text), nil }
		var b bytes.Buffer
		if err := Write(&b, []string{"first.dbc"}, read); err != nil {
			return // the DBC file is broken
		}
		_, err := Parse("setup.yaml", b.Bytes(), read)
		faults, _ := errors.AsType[Faults](err)
		for _, fault := range faults {
			if !open.MatchString(fault.Text) {
				t.Errorf("%s\n%s", fault, b.String())
			}
		}
	})
}

// TestSize reads files that are made to grow: time and memory stay small.
func TestSize(t *testing.T) {
	fill := func(begin, part, end string) string {
		return begin + strings.Repeat(part, (maxBytes-len(begin)-len(end))/len(part)) + end
	}
	rows := []struct {
		name, text string
	}{
		{"list.yaml", fill("confirm: [", "1,", "]")},
		{"keys.yaml", fill("", "a: 1\n", "")},
		{"deep.yaml", fill("a: ", "[", "")},
		{"deep-block.yaml", fill("", "- ", "")},
		{"corners.yaml", fill("defaults: {channels: {fx: a.b, fy: c.d}}\ncorners:\n", "- {name: a}\n", "")},
		{"word.yaml", fill("", "a", ": 1")},
		{"list.toml", fill("confirm = [", "1,", "]")},
		{"keys.toml", fill("confirm = [", "{id=1},", "]")},
		{"deep.toml", fill("a = ", "[", "")},
		{"dotted.toml", fill("a", ".a", " = 1")},
		{"tables.toml", fill("", "[[a]]\n", "")},
		{"word.toml", fill("[", "a", "]\nb = [1, 2, 3]")},
		{"list.json", fill(`{"confirm": [`, "1,", "1]}")},
		{"deep.json", fill(`{"a": `, "[", "")},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err := Parse(row.name, []byte(row.text), os.ReadFile)
			runtime.ReadMemStats(&after)
			if err == nil {
				t.Error("got no error, want faults")
			}
			const most = 600 << 20 // allocated in all, collected ones included
			if got := after.TotalAlloc - before.TotalAlloc; got > most {
				t.Errorf("allocated %d MB, want at most %d", got>>20, most>>20)
			} else {
				t.Logf("%d MB", got>>20)
			}
		})
	}
}
