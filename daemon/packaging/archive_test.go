package packaging

import (
	"regexp"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"
)

// at returns what stands in a tree of YAML under a path, nil where nothing does.
func at(tree any, path ...any) any {
	for _, step := range path {
		switch key := step.(type) {
		case string:
			m, _ := tree.(map[string]any)
			tree = m[key]
		case int:
			l, _ := tree.([]any)
			if key >= len(l) {
				return nil
			}
			tree = l[key]
		}
	}
	return tree
}

func parsed(t *testing.T, name string) map[string]any {
	t.Helper()
	d := yaml.NewDecoder(strings.NewReader(read(t, name)))
	var tree map[string]any
	if err := d.Decode(&tree); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return tree
}

// TestKubernetes holds the Jobs to what an indexed Job must have. Keys and their meaning:
// https://kubernetes.io/docs/reference/kubernetes-api/workload-resources/job-v1/.
func TestKubernetes(t *testing.T) {
	for _, name := range []string{"kubernetes-job.yaml", "kubernetes-merge.yaml"} {
		job := parsed(t, name)
		pod := at(job, "spec", "template", "spec")
		if at(job, "apiVersion") != "batch/v1" || at(job, "kind") != "Job" || at(job, "metadata", "name") == nil || at(pod, "restartPolicy") != "Never" {
			t.Errorf("%s is no Job that runs once", name)
		}
		c := at(pod, "containers", 0)
		if at(c, "securityContext", "readOnlyRootFilesystem") != true || at(c, "securityContext", "allowPrivilegeEscalation") != false || at(pod, "securityContext", "runAsNonRoot") != true {
			t.Errorf("%s runs with more rights than it needs", name)
		}
		volumes := map[any]bool{}
		for i := 0; at(pod, "volumes", i) != nil; i++ {
			volumes[at(pod, "volumes", i, "name")] = true
		}
		for i := 0; at(c, "volumeMounts", i) != nil; i++ {
			if !volumes[at(c, "volumeMounts", i, "name")] {
				t.Errorf("%s mounts %v, which is no volume", name, at(c, "volumeMounts", i, "name"))
			}
		}
	}
	job := parsed(t, "kubernetes-job.yaml")
	if at(job, "spec", "completionMode") != "Indexed" || at(job, "spec", "completions") != at(job, "spec", "parallelism") {
		t.Errorf("not an indexed Job, or not all at a time: %v", at(job, "spec"))
	}
	script, _ := at(job, "spec", "template", "spec", "containers", 0, "args", 0).(string)
	if got, want := total(t, script), at(job, "spec", "completions"); got != want {
		t.Errorf("the script has %v shards, the Job %v", got, want)
	}
}

// total returns the N of --shard K/N in a script.
func total(t *testing.T, script string) int {
	t.Helper()
	m := regexp.MustCompile(`--shard \S[^/]*/(\d+)`).FindStringSubmatch(script)
	if m == nil {
		t.Fatalf("no --shard K/N in %q", script)
	}
	n := 0
	for _, c := range m[1] {
		n = 10*n + int(c-'0')
	}
	return n
}

// TestGitHub holds the workflow to what its matrix must have. Keys:
// https://docs.github.com/actions/reference/workflows-and-actions/workflow-syntax.
func TestGitHub(t *testing.T) {
	flow := parsed(t, "github-archive.yml")
	shards, _ := at(flow, "jobs", "judge", "strategy", "matrix", "shard").([]any)
	if len(shards) == 0 || at(flow, "on") == nil || at(flow, "jobs", "judge", "strategy", "fail-fast") != false {
		t.Fatalf("no matrix that runs to its end: %v", at(flow, "jobs", "judge", "strategy"))
	}
	for i, k := range shards {
		if k != i+1 {
			t.Errorf("shard %v at place %d of the matrix", k, i+1)
		}
	}
	script, _ := at(flow, "jobs", "judge", "steps", 2, "run").(string)
	if got := total(t, script); got != len(shards) {
		t.Errorf("the script has %d shards, the matrix %d", got, len(shards))
	}
	if at(flow, "jobs", "merge", "needs") != "judge" {
		t.Error("merge does not wait for judge")
	}
}

// TestGitLab holds the pipeline to what parallel jobs must have. Keys: https://docs.gitlab.com/ci/yaml/.
func TestGitLab(t *testing.T) {
	pipeline := parsed(t, "gitlab-archive.yml")
	if n, _ := at(pipeline, "judge", "parallel").(int); n < 2 || at(pipeline, "judge", "artifacts", "when") != "always" {
		t.Errorf("judge: got %v", at(pipeline, "judge"))
	}
	if at(pipeline, "judge", "allow_failure", "exit_codes", 0) != 1 || at(pipeline, "judge", "allow_failure", "exit_codes", 1) != 3 {
		t.Error("a shard that found something stops the pipeline before the merge")
	}
	if at(pipeline, "merge", "artifacts", "reports", "junit") != "results.xml" || at(pipeline, "stages", 1) != "merge" {
		t.Errorf("merge: got %v", at(pipeline, "merge"))
	}
}

// TestArchiveDoc: each file that ARCHIVE.md names beside itself is there.
func TestArchiveDoc(t *testing.T) {
	names := regexp.MustCompile("`((?:kubernetes|github|gitlab)-[a-z]+\\.ya?ml)`").FindAllStringSubmatch(read(t, "ARCHIVE.md"), -1)
	if len(names) < 4 {
		t.Errorf("only %d files are named", len(names))
	}
	for _, m := range names {
		parsed(t, m[1])
	}
}
