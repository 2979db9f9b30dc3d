package main

import (
	"os"
	"strings"
	"testing"
)

// TestDashboards: everything is written and listed; what is there is left alone.
func TestDashboards(t *testing.T) {
	t.Chdir(t.TempDir())
	c := call(t, "dashboards", "boards")
	if c.code != 0 || !strings.Contains(c.out, "grafana/dashboards/drive.json\n") || !strings.HasSuffix(c.errors, "begin with boards/README.md\n") {
		t.Fatalf("exit code %d:\n%s%s", c.code, c.out, c.errors)
	}
	for name := range strings.Lines(c.out) {
		if _, err := os.Stat("boards/" + strings.TrimSpace(name)); err != nil {
			t.Error(err)
		}
	}
	put(t, "boards/README.md", "mine")
	if c := call(t, "dashboards", "boards"); c.code != 2 || c.errors != "plumbline: boards is not empty: name another folder, or add --force to replace files of the same name\n" {
		t.Errorf("a folder that holds something: exit code %d: %s", c.code, c.errors)
	}
	if text, _ := os.ReadFile("boards/README.md"); string(text) != "mine" {
		t.Error("it was replaced all the same")
	}
	if c := call(t, "dashboards", "--force", "boards"); c.code != 0 {
		t.Errorf("--force: exit code %d: %s", c.code, c.errors)
	}
	if text, _ := os.ReadFile("boards/README.md"); string(text) == "mine" {
		t.Error("--force does not replace")
	}
}
