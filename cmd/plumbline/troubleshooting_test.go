package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"plumbline/checks"
)

// TestTroubleshooting: each cause that checks can name and each check has a row in daemon/TROUBLESHOOTING.md, no
// cause stands there that nothing names, and each is made by a test.
func TestTroubleshooting(t *testing.T) {
	text, err := os.ReadFile("../../daemon/TROUBLESHOOTING.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(text), "\n## It names a cause\n")
	table, _, _ := strings.Cut(rest, "\n## ")
	named := map[string]bool{}
	for row := range strings.SplitSeq(table, "\n| ") {
		first, _, _ := strings.Cut(row, " | ")
		for _, m := range regexp.MustCompile("`([a-z-]+)`").FindAllStringSubmatch(first, -1) {
			named[m[1]] = true
		}
	}

	files, err := filepath.Glob("../../checks/cause*.go")
	if err != nil {
		t.Fatal(err)
	}
	// An identifier is written where a Cause is made, where one is changed, or returned by whichCable.
	id := regexp.MustCompile(`(?:\bID: +|\.ID(?:, [\w.]+)* = |return )"([a-z]+(?:-[a-z]+)*)[:"]`)
	known := map[string]bool{}
	made := testsOfCauses(t)
	for _, name := range files {
		code, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range id.FindAllStringSubmatch(string(code), -1) {
			if !strings.HasSuffix(name, "_test.go") && !known[m[1]] {
				known[m[1]] = true
				if !named[m[1]] {
					t.Errorf("the cause %s has no row in daemon/TROUBLESHOOTING.md, under \"It names a cause\"", m[1])
				}
				if !regexp.MustCompile(`[" ]` + m[1] + `[:"]`).MatchString(made) {
					t.Errorf("no test makes the cause %s: give daemon/causes_test.go a row with the fault that does", m[1])
				}
			}
		}
	}
	if len(known) < 30 {
		t.Errorf("%d causes found in the code: this test does not see them any more", len(known))
	}
	for name := range named {
		if !known[name] {
			t.Errorf("nothing names the cause %s", name)
		}
	}

	_, rest, _ = strings.Cut(rest, "\n## ")
	for _, c := range checks.All() {
		if c.Name != "bus" && !regexp.MustCompile("(?m)^\\| [^|]*`"+c.Name+"`").MatchString(rest) {
			t.Errorf("the check %s has no row in daemon/TROUBLESHOOTING.md, below the causes", c.Name)
		}
	}
}

// testsOfCauses is the code of the tests that expect causes.
func testsOfCauses(t *testing.T) string {
	t.Helper()
	var all strings.Builder
	for _, pattern := range []string{"../../daemon/causes*_test.go", "../../checks/*_test.go"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %d files, %v", pattern, len(files), err)
		}
		for _, name := range files {
			code, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			all.Write(code)
		}
	}
	return all.String()
}
