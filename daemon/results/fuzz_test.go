package results

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
)

// FuzzList: whatever stands in the sign-off of a folder that is called like a test, the folder is listed, with what is wrong
// with it or under its own name, and nothing but its own files is opened.
func FuzzList(f *testing.F) {
	const name = "20260301T101500Z-minibus-7-0123ABCD"
	f.Add(fmt.Sprintf(`{"schema": 1, "name": %q, "report": "PL-1", "verdict": "pass", "began": "2026-03-01T10:15:00Z", "form": {"performed": "A. Berg"}}`, name))
	f.Add(`{"schema": 1, "name": "../../etc"}`)
	f.Add(`{"schema": 2}`)
	f.Add("{")
	f.Add("")
	dir := filepath.Join(f.TempDir(), "tests")
	for _, path := range []string{filepath.Join(dir, name, reportFile), filepath.Join(filepath.Dir(dir), reportFile)} {
		if err := os.MkdirAll(filepath.Dir(path), 0o750); err != nil {
			f.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(path), 0o600); err != nil {
			f.Fatal(err)
		}
	}
	f.Fuzz(func(t *testing.T, text string) {
		if err := os.WriteFile(filepath.Join(dir, name, signFile), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := Open(dir, nil)
		if err != nil {
			t.Fatal(err)
		}
		list, err := s.List()
		if err != nil || len(list) != 1 || list[0].Name != name {
			t.Fatalf("got %+v, %v, want %s", list, err, name)
		}
		if e := &list[0]; e.Trouble == "" && e.Schema != 1 {
			t.Errorf("schema %d is listed as if it were known", e.Schema)
		}
		for _, asked := range []string{name, list[0].Report, list[0].Amends, list[0].Vehicle, ".."} {
			file, err := s.File(asked, reportFile)
			if (err == nil) != (asked == name && list[0].Trouble == "") {
				t.Errorf("%q, listed with %q: %v", asked, list[0].Trouble, err)
			}
			if err == nil {
				_ = file.Close() // was only read
			}
		}
	})
}
