package archive

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"plumbline/daemon"
)

// FuzzOpen: whatever stands in a file of result lines, it is read or refused, and what is read can be read again.
func FuzzOpen(f *testing.F) {
	for _, n := range []int{0, 1, 3} {
		list := make([]Recording, n)
		names := make([]string, n)
		about := Describe("plumbline (test)", daemon.SetupFile{}, false, Shard{}, list)
		var out bytes.Buffer
		s, err := NewSheets(&about, names, []Sheet{{Format: Lines, W: &out}})
		if err != nil {
			f.Fatal(err)
		}
		for i := range list {
			r := result(i)
			r.Findings = r.Findings[:1]
			if err := s.Add(i, &r); err != nil {
				f.Fatal(err)
			}
		}
		if err := s.Write(); err != nil {
			f.Fatal(err)
		}
		if err := s.Close(); err != nil {
			f.Fatal(err)
		}
		f.Add(out.Bytes())
	}
	f.Add([]byte("{\"plumbline\":\"results\",\"schema\":1,\"shard\":1,\"of\":1000000,\"recordings\":1000000000}\n{\"end\":true}\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		file := filepath.Join(t.TempDir(), "shard.jsonl")
		if err := os.WriteFile(file, text, 0o600); err != nil {
			t.Fatal(err)
		}
		results, err := Open([]string{file})
		if err != nil {
			return
		}
		n := 0
		err = results.Each(func(i int, _ *daemon.Result) error {
			if i != n {
				t.Errorf("result %d at place %d", i, n)
			}
			n++
			return nil
		})
		if err == nil && n != len(results.Names()) {
			t.Errorf("%d results of %d recordings", n, len(results.Names()))
		}
	})
}
