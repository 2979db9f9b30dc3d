package packaging

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// documents: what the package holds to be read leads nowhere that is not there.
func documents(t *testing.T, dir string) {
	t.Helper()
	link := regexp.MustCompile(`(?:\]\(|src(?:set)?=")([^)#:"]+)(#[^)]*)?[)"]`)
	var pages []string
	err := filepath.WalkDir(dir, func(name string, d fs.DirEntry, err error) error {
		if strings.HasSuffix(name, ".md") {
			pages = append(pages, name)
		}
		return err
	})
	if err != nil || len(pages) < 5 {
		t.Fatalf("%d documents in %s, %v", len(pages), dir, err)
	}
	links := 0
	for _, page := range pages {
		text, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range link.FindAllStringSubmatch(string(text), -1) {
			links++
			if _, err := os.Stat(filepath.Join(filepath.Dir(page), m[1])); err != nil {
				t.Errorf("%s leads to %s, which the package does not hold", page, m[1])
			}
		}
	}
	if links < 5 {
		t.Errorf("%d links found: the check itself does not see them", links)
	}
	for _, name := range []string{"copyright", "plumbline.spdx.json", "README.md", "github/CHANGELOG.md", "daemon/packaging/SERVICE.md", "daemon/packaging/70-plumbline.rules", "daemon/packaging/kubernetes-job.yaml"} {
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil || len(strings.TrimSpace(string(text))) == 0 {
			t.Errorf("%s: %d bytes, %v", name, len(text), err)
		}
	}
}
