package packaging

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// documents: what the package holds to be read leads nowhere that is not there.
func documents(t *testing.T, dir string) {
	t.Helper()
	link := regexp.MustCompile(`\]\(([^)#:]+)(#[^)]*)?\)`)
	pages, err := filepath.Glob(filepath.Join(dir, "*.md"))
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
			if _, err := os.Stat(filepath.Join(dir, m[1])); err != nil {
				t.Errorf("%s leads to %s, which the package does not hold", filepath.Base(page), m[1])
			}
		}
	}
	if links < 5 {
		t.Errorf("%d links found: the check itself does not see them", links)
	}
	for _, name := range []string{"copyright", "plumbline.spdx.json", "examples/70-plumbline.rules", "examples/80-can0.network", "examples/90-plumbline-sysctl.conf"} {
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil || len(strings.TrimSpace(string(text))) == 0 {
			t.Errorf("%s: %d bytes, %v", name, len(text), err)
		}
	}
}
