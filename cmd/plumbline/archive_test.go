package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/daemon"
)

// archived makes an archive of so many recordings in the folder archive: short ones, of which every tenth
// fails, in folders by day; one that is corrupt; and what an archive holds beside recordings.
func archived(t testing.TB, n int) {
	t.Helper()
	cut := func(name string, lines int) string {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		all := strings.SplitAfter(string(text), "\n")
		return strings.Join(all[:min(lines, len(all))], "")
	}
	good, bad := cut("good.log", 1<<30), cut("bad.log", 1<<30)
	short := cut("good.log", 3000)
	for i := range n {
		day := fmt.Sprintf("archive/2026-01-%02d", 1+i*28/n)
		if err := os.MkdirAll(day, 0o755); err != nil {
			t.Fatal(err)
		}
		text := short
		switch i % 10 {
		case 3:
			text = bad
		case 6:
			text = good
		}
		put(t, fmt.Sprintf("%s/test-%04d.log", day, i), text)
	}
	put(t, "archive/2026-01-01/corrupt.pcapng", "\n\r\r\nthis is no section header, and what follows it is none")
	put(t, "archive/README", "not a recording")
	put(t, "archive/2026-01-01/.unfinished.log", short)
}

func content(t testing.TB, name string) string {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// TestArchive: shards that are merged equal what one machine writes, byte for byte, in every format; a
// corrupt file is reported, and the others are judged.
func TestArchive(t *testing.T) {
	yard(t, nil)
	recorded(t, 0, "good.log")
	recorded(t, 1, "bad.log", "--fault", "zero:FL=115")
	archived(t, 20)
	sheets := []string{"json", "xml", "txt", "md"}
	to := func(name string) []string {
		var args []string
		for _, s := range sheets {
			args = append(args, "-o", name+"."+s)
		}
		return args
	}
	whole := call(t, append([]string{"replay", "one.yaml", "archive"}, to("whole")...)...)
	if whole.code != daemon.ExitFail || whole.errors != "" {
		t.Fatalf("got %+v", whole)
	}
	if !strings.HasSuffix(whole.out, "21 captures: 2 passed, 2 failed, 16 still open, 1 unusable\n") || !strings.Contains(whole.out, "corrupt.pcapng\n          unusable: ") {
		t.Errorf("the summary:\n%s", whole.out)
	}
	var results []daemon.Result
	if err := json.Unmarshal([]byte(content(t, "whole.json")), &results); err != nil {
		t.Fatal(err)
	}
	if len(results) != 21 || results[0].Captures[0].File != "archive/2026-01-01/corrupt.pcapng" || results[20].Captures[0].File != "archive/2026-01-27/test-0019.log" {
		t.Errorf("got %d results, from %s to %s", len(results), results[0].Captures[0].File, results[len(results)-1].Captures[0].File)
	}

	const shards = 3
	var files []string
	for k := 1; k <= shards; k++ {
		file := fmt.Sprintf("shard-%d.jsonl", k)
		got := call(t, "replay", "one.yaml", "archive", "--shard", fmt.Sprintf("%d/%d", k, shards), "-o", file, "--jobs", "1")
		if got.code == daemon.ExitUsage || got.errors != "" {
			t.Errorf("shard %d: got %+v", k, got)
		}
		files = append(files, file)
	}
	merged := call(t, append([]string{"merge", "shard-*.jsonl"}, to("merged")...)...)
	if diff := cmp.Diff(merged, whole, cmp.AllowUnexported(called{})); diff != "" {
		t.Errorf("merged before whole:\n%s", diff)
	}
	for _, s := range sheets {
		if diff := cmp.Diff(content(t, "merged."+s), content(t, "whole."+s)); diff != "" {
			t.Errorf("%s: merged before whole:\n%s", s, diff)
		}
	}
	// the same from one process at a time and in any number of jobs
	if one := call(t, "replay", "one.yaml", "archive/**/*", "--jobs", "3", "-f", "json"); one.out != content(t, "whole.json") {
		t.Error("--jobs 3 and a pattern give other bytes")
	}

	t.Run("refused", func(t *testing.T) { refusals(t, files) })
	noneUnfinished(t)
}

// refusals: what is not all of one archive is not merged.
func refusals(t *testing.T, files []string) {
	t.Helper()
	first := content(t, files[0])
	lines := strings.SplitAfter(first, "\n")
	put(t, "cut.jsonl", strings.Join(lines[:len(lines)-2], ""))
	put(t, "half.jsonl", first[:len(first)/2])
	put(t, "less.jsonl", lines[0]+strings.Join(lines[2:], ""))
	put(t, "setup.jsonl", strings.Replace(first, `"vehicle":"`, `"vehicle":"Another `, 1))
	put(t, "list.jsonl", strings.Replace(first, `"list":"`, `"list":"0`, 1))
	put(t, "none.jsonl", "[]\n")
	for _, test := range []struct {
		name  string
		files []string
		want  string
	}{
		{"missing", files[1:], "shard 1/3 is missing"},
		{"twice", []string{files[0], files[1], files[2], "./" + files[0]}, "are both shard 1"},
		{"cut", []string{"cut.jsonl", files[1], files[2]}, "cut.jsonl was cut off after "},
		{"half", []string{"half.jsonl", files[1], files[2]}, "half.jsonl was cut off after "},
		{"less", []string{"less.jsonl", files[1], files[2]}, "run shard 1/3 again"},
		{"another setup", []string{"setup.jsonl", files[1], files[2]}, "different setups"},
		{"another archive", []string{"list.jsonl", files[1], files[2]}, "different archives"},
		{"no lines", []string{"none.jsonl"}, "none.jsonl holds no result lines"},
		{"gone", []string{"gone.jsonl"}, "gone.jsonl"},
	} {
		got := call(t, append([]string{"merge", "-o", "refused.json"}, test.files...)...)
		if got.code != daemon.ExitInconclusive || !strings.Contains(got.errors, test.want) || got.out != "" {
			t.Errorf("%s: got %+v, want %q", test.name, got, test.want)
		}
		if _, err := os.Stat("refused.json"); err == nil {
			t.Errorf("%s: something was written", test.name)
		}
	}
}

// TestArchiveOwnSetup: a recording with a setup beside it is judged by that.
func TestArchiveOwnSetup(t *testing.T) {
	yard(t, nil)
	recorded(t, 1, "bad.log", "--fault", "zero:FL=115")
	for _, folder := range []string{"tests/a", "tests/b/recording", "tests/c"} {
		if err := os.MkdirAll(folder, 0o755); err != nil {
			t.Fatal(err)
		}
		put(t, folder+"/drive.log", content(t, "bad.log"))
	}
	own := strings.Replace(content(t, "one.yaml"), "limits:", "limits:\n  zero_force_n: 500", 1)
	if own == content(t, "one.yaml") {
		own += "\nlimits: {zero_force_n: 500}\n"
	}
	dbcs, err := filepath.Glob("*.dbc")
	if err != nil || len(dbcs) == 0 {
		t.Fatal(dbcs, err)
	}
	for _, dbc := range dbcs {
		put(t, "tests/b/"+dbc, content(t, dbc))
	}
	put(t, "tests/b/setup.yaml", own)
	put(t, "tests/c/setup.yaml", "vehicle: Minibus\nsorces: []\n")
	got := call(t, "replay", "one.yaml", "tests", "--own-setup", "-f", "summary")
	want := `Captures
  ✗ FAIL  tests/a/drive.log
          1 failed: zero FL
  ✓ pass  tests/b/recording/drive.log
  … open  tests/c/drive.log
          unusable: the setup of its own is wrong:`
	if got.code != daemon.ExitFail || !strings.HasPrefix(got.out, want) {
		t.Errorf("got %d\n%s\nwant\n%s", got.code, got.out, want)
	}
}
