package dashboards

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestBuilt: what is committed is what the code builds, file by file, and nothing else.
func TestBuilt(t *testing.T) {
	files, err := Files()
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.RemoveAll("built"); err != nil {
			t.Fatal(err)
		}
		if _, err := Write("built"); err != nil {
			t.Fatal(err)
		}
	}
	got := map[string]string{}
	for _, f := range files {
		got[f.Name] = string(f.Data)
	}
	want := map[string]string{}
	err = fs.WalkDir(os.DirFS("built"), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(filepath.Join("built", name))
		want[name] = string(text)
		return err
	})
	if err != nil {
		t.Fatalf("%v (go test -run Built -update writes it)", err)
	}
	for _, name := range sorted(got) {
		if diff := cmp.Diff(got[name], want[name]); diff != "" {
			t.Errorf("built/%s is not what the code builds (go test -run Built -update), got before want:\n%s", name, diff)
		}
		delete(want, name)
	}
	for name := range want {
		t.Errorf("built/%s: the code does not build it", name)
	}
}

// TestReadmeLinks: each link of README.md and of the runbooks goes to a file that is written.
func TestReadmeLinks(t *testing.T) {
	files, err := Files()
	if err != nil {
		t.Fatal(err)
	}
	names := map[string]bool{}
	for _, f := range files {
		names[f.Name] = true
	}
	links := regexp.MustCompile(`\]\(([^)]+)\)`)
	n := 0
	for _, f := range files {
		if !strings.HasSuffix(f.Name, ".md") {
			continue
		}
		for _, m := range links.FindAllStringSubmatch(string(f.Data), -1) {
			n++
			if to := filepath.ToSlash(filepath.Join(filepath.Dir(f.Name), m[1])); !names[to] {
				t.Errorf("%s: link to %s, which is not written", f.Name, to)
			}
		}
	}
	if n < 30 {
		t.Errorf("found %d links; want one for each alarm at the least", n)
	}
}

// TestWrite: files land where they are named, also in a folder that is not there yet.
func TestWrite(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "folder")
	files, err := Write(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if text, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(f.Name))); err != nil || string(text) != string(f.Data) {
			t.Errorf("%s: %v", f.Name, err)
		}
	}
	if _, err := Write(filepath.Join(dir, "README.md")); err == nil {
		t.Error("a file in the place of the folder: no error")
	}
}
