package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"go.yaml.in/yaml/v3"
	"golang.org/x/sys/unix"

	"plumbline/daemon"
)

// BenchmarkArchive judges an archive of 1,000 short recordings and a corrupt one on one core and on two, in
// turns, and says how much faster two are. On a machine that has other work to do the times of the processor
// tell more: what two cores need in all beside what one needs.
//
//	go test ./cmd/plumbline -run '^$' -bench Archive -benchtime 1x
func BenchmarkArchive(b *testing.B) {
	const recordings = 1000
	yard(b, nil)
	recorded(b, 0, "good.log")
	recorded(b, 1, "bad.log", "--fault", "zero:FL=115")
	archived(b, recordings)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	took, worked := map[int]time.Duration{}, map[int]time.Duration{}
	for b.Loop() {
		for _, cores := range []int{1, 2} {
			runtime.GOMAXPROCS(cores)
			begin, busy := time.Now(), processorTime(b)
			var out, errs strings.Builder
			code := run([]string{"replay", "one.yaml", "archive", "-o", "out.xml", "-o", "out.json"}, strings.NewReader(""), &out, &errs)
			took[cores] += time.Since(begin)
			worked[cores] += processorTime(b) - busy
			if code != daemon.ExitFail || !strings.Contains(out.String(), "1001 captures") || !strings.Contains(out.String(), ", 1 unusable") {
				b.Fatalf("exit code %d, %s\n%s", code, errs.String(), out.String())
			}
		}
	}
	b.ReportMetric(took[1].Seconds()/float64(b.N), "s/one-core")
	b.ReportMetric(took[2].Seconds()/float64(b.N), "s/two-cores")
	b.ReportMetric(worked[1].Seconds()/float64(b.N), "cpu-s/one-core")
	b.ReportMetric(worked[2].Seconds()/float64(b.N), "cpu-s/two-cores")
	b.ReportMetric(took[1].Seconds()/took[2].Seconds(), "times-faster")
}

// processorTime is what this process has used, of all cores.
func processorTime(tb testing.TB) time.Duration {
	tb.Helper()
	var u unix.Rusage
	if err := unix.Getrusage(unix.RUSAGE_SELF, &u); err != nil {
		tb.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// TestArchiveExamples runs what the examples for Kubernetes, GitHub and GitLab call, and holds the result against
// that of one machine.
func TestArchiveExamples(t *testing.T) {
	examples := map[string][]byte{}
	for _, name := range []string{"kubernetes-job.yaml", "kubernetes-merge.yaml", "github-archive.yml", "gitlab-archive.yml"} {
		text, err := os.ReadFile("../../daemon/packaging/" + name)
		if err != nil {
			t.Fatal(err)
		}
		examples[name] = text
	}
	program := programFile(t)
	yard(t, nil)
	recorded(t, 0, "good.log")
	recorded(t, 1, "bad.log", "--fault", "zero:FL=115")
	archived(t, 12)
	if err := os.Symlink("one.yaml", "setup.yaml"); err != nil {
		t.Fatal(err)
	}
	want := call(t, "replay", "setup.yaml", "archive", "-f", "json")
	tree := func(name string) map[string]any {
		var tree map[string]any
		if err := yaml.Unmarshal(examples[name], &tree); err != nil {
			t.Fatal(err)
		}
		return tree
	}
	step := func(tree any, path ...any) any {
		for _, p := range path {
			switch p := p.(type) {
			case string:
				tree = tree.(map[string]any)[p]
			case int:
				tree = tree.([]any)[p]
			}
		}
		return tree
	}
	job := tree("kubernetes-job.yaml")
	github, gitlab := tree("github-archive.yml"), tree("gitlab-archive.yml")
	shell := []any{"spec", "template", "spec", "containers", 0, "args", 0}
	for _, test := range []struct {
		name         string
		shards       int
		judge, merge any
		code         int // that a shard may end with beside 0
	}{
		{"kubernetes", step(job, "spec", "completions").(int), step(job, shell...), step(tree("kubernetes-merge.yaml"), shell...), 0},
		{"github", len(step(github, "jobs", "judge", "strategy", "matrix", "shard").([]any)), step(github, "jobs", "judge", "steps", 2, "run"), step(github, "jobs", "merge", "steps", 3, "run"), 0},
		{"gitlab", step(gitlab, "judge", "parallel").(int), step(gitlab, "judge", "script", 0), step(gitlab, "merge", "script", 0), 3},
	} {
		t.Run(test.name, func(t *testing.T) {
			dir := t.TempDir()
			for _, folder := range []string{"shards", "bin"} {
				if err := os.Mkdir(filepath.Join(dir, folder), 0o755); err != nil {
					t.Fatal(err)
				}
			}
			if err := os.Symlink(program, filepath.Join(dir, "bin", "plumbline")); err != nil {
				t.Fatal(err)
			}
			execute := func(script string, k int) int {
				number := strconv.Itoa(k)
				script = strings.NewReplacer(
					"${{ matrix.shard }}", number, `-o "shard-`, `-o "`+dir+`/shards/shard-`, "/results/", dir+"/shards/", "/setup/setup.yaml", "setup.yaml", " /archive", " archive",
					"'shards/", "'"+dir+"/shards/", "'shard-", "'"+dir+"/shards/shard-", "results.json", filepath.Join(dir, "results.json"), "results.xml", filepath.Join(dir, "results.xml"),
					"summary.md", filepath.Join(dir, "summary.md"),
				).Replace(strings.NewReplacer("/results/results", "results").Replace(script))
				c := exec.CommandContext(t.Context(), "/bin/sh", "-euc", script)
				c.Env = append(os.Environ(), "PATH="+filepath.Join(dir, "bin")+":/usr/bin:/bin", "GITHUB_STEP_SUMMARY="+filepath.Join(dir, "step"),
					"JOB_COMPLETION_INDEX="+strconv.Itoa(k-1), "CI_NODE_INDEX="+number, "CI_NODE_TOTAL="+strconv.Itoa(test.shards))
				out, err := c.CombinedOutput()
				if c.ProcessState == nil {
					t.Fatal(err)
				}
				code := c.ProcessState.ExitCode()
				if code != 0 && code != daemon.ExitFail && code != daemon.ExitInconclusive {
					t.Fatalf("%s\nended with %d:\n%s", script, code, out)
				}
				return code
			}
			for k := 1; k <= test.shards; k++ {
				if code := execute(test.judge.(string), k); code > test.code {
					t.Errorf("shard %d ended with %d", k, code)
				}
			}
			if code := execute(test.merge.(string), 0); code != want.code {
				t.Errorf("merge ended with %d, want %d", code, want.code)
			}
			if got := content(t, filepath.Join(dir, "results.json")); got != want.out {
				t.Error("what was merged is not what one machine writes")
			}
		})
	}
	if _, err := os.Stat("results.xml"); err == nil {
		t.Error("an example wrote where it should not")
	}
}
