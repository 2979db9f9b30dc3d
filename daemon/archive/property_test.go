package archive

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"plumbline/daemon"
)

// written is what stands in each format.
type written map[Format]string

// sheets writes what add adds in several formats.
func sheets(about *About, names []string, dir string, formats []Format, add func(*Sheets) error) (written, error) {
	outs := map[Format]*bytes.Buffer{}
	var list []Sheet
	for _, f := range formats {
		outs[f] = &bytes.Buffer{}
		list = append(list, Sheet{Format: f, W: outs[f], Dir: dir})
	}
	s, err := NewSheets(about, names, list)
	if err != nil {
		return nil, err
	}
	if err = add(s); err == nil {
		err = s.Write()
	}
	got := written{}
	for f, out := range outs {
		got[f] = out.String()
	}
	return got, errors.Join(err, s.Close())
}

// TestPropertyMerge: the results of an archive that was shared out among any number of machines, of which each was ready with them in
// any order, merged in any order, are byte for byte what one machine writes.
func TestPropertyMerge(t *testing.T) {
	dir := t.TempDir()
	every := []Format{Text, JSON, JUnit, Summary, Markdown, Lines}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "recordings")
		list, names, all := make([]Recording, n), make([]string, n), make([]daemon.Result, n)
		for i := range list {
			list[i].Place = fmt.Sprintf("%s/%d", rapid.StringN(0, 8, -1).Draw(t, "place"), i)
			all[i] = result(rapid.IntRange(0, 20).Draw(t, "result"))
			all[i].Findings = all[i].Findings[:rapid.IntRange(0, 3).Draw(t, "findings")]
			names[i] = all[i].Captures[0].File
		}
		order := func(count int) []int { // of that many
			out := make([]int, count)
			for i := range out {
				out[i] = i
			}
			return rapid.Permutation(out).Draw(t, "order")
		}
		describe := func(shard Shard) *About {
			about := Describe("plumbline (test)", daemon.SetupFile{}, false, shard, list)
			return &about
		}
		want, err := sheets(describe(Shard{}), names, dir, every, func(s *Sheets) error {
			for i := range all {
				if err := s.Add(i, &all[i]); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		shards := rapid.IntRange(1, 4).Draw(t, "machines")
		files := make([]string, shards)
		for _, k := range order(shards) {
			shard := Shard{k + 1, shards}
			mine := shard.Pick(list)
			out, err := sheets(describe(shard), names, dir, []Format{Lines}, func(s *Sheets) error {
				for _, i := range order(len(mine)) {
					if err := s.Add(mine[i], &all[mine[i]]); err != nil {
						return err
					}
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
			files[k] = filepath.Join(dir, fmt.Sprint(k))
			if err := os.WriteFile(files[k], []byte(out[Lines]), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		results, err := Open(rapid.Permutation(files).Draw(t, "files"))
		if err != nil {
			t.Fatal(err)
		}
		about := results.About
		about.Shard, about.Of = 1, 1
		got, err := sheets(&about, results.Names(), dir, every, func(s *Sheets) error { return results.Each(s.Add) })
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(got, want); diff != "" {
			t.Fatalf("%d shards, got before want:\n%s", shards, diff)
		}
	})
}
