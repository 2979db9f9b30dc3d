package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plumbline/daemon/compare"
)

// TestCompare: recordings and results of them, in a folder as well, say the same; the exit code tells whether something moved.
func TestCompare(t *testing.T) {
	yard(t, nil)
	recorded(t, 0, "before.log", "--seed", "1")
	recorded(t, 0, "after.log", "--seed", "1", "--fault", "zero-fx:FL=45")
	for _, name := range []string{"before", "after"} {
		call(t, "replay", "one.yaml", name+".log", "-f", "json", "-o", name+".json")
	}
	folder := "20231114T221320Z-Minibus-7-0123ABCD"
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename("after.json", filepath.Join(folder, "result.json")); err != nil {
		t.Fatal(err)
	}
	var texts []string
	for _, test := range []struct {
		name string
		args []string
		code int
	}{
		{"recordings", []string{"--setup", "one.yaml", "before.log", "after.log"}, 1},
		{"results", []string{"before.json", folder}, 1},
		{"a recording and a result", []string{"--setup", "one.yaml", "before.log", folder}, 1},
		{"beyond a limit only", []string{"before.json", folder, "--fail-on", "limit"}, 0},
		{"the same", []string{"before.json", "before.json"}, 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			got := call(t, append([]string{"compare", "-f", "json"}, test.args...)...)
			if got.code != test.code || got.errors != "" {
				t.Fatalf("exit code %d, want %d: %s", got.code, test.code, got.errors)
			}
			var c compare.Comparison
			if err := json.Unmarshal([]byte(got.out), &c); err != nil {
				t.Fatal(err)
			}
			i := strings.Index(got.out, `"movements"`)
			if texts = append(texts, got.out[i:]); len(texts) <= 3 && texts[len(texts)-1] != texts[0] {
				t.Error("it says something else of the same tests")
			}
		})
	}
	text := call(t, "compare", "before.json", folder)
	if text.code != 1 || !strings.Contains(text.out, "the zero of FL fx moved by +") {
		t.Errorf("exit code %d:\n%s", text.code, text.out)
	}
	html := call(t, "compare", "before.json", folder, "-f", "html", "-o", "moved.html")
	if page, err := os.ReadFile("moved.html"); err != nil || html.code != 1 || !strings.Contains(string(page), "What moved") {
		t.Errorf("exit code %d, %v, %d bytes", html.code, err, len(page))
	}
}
