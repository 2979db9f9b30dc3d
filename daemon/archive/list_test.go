package archive

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// tree makes files in the folder that the test runs in.
func tree(t *testing.T, files ...string) {
	t.Helper()
	t.Chdir(t.TempDir())
	for _, file := range files {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func TestList(t *testing.T) {
	tree(t, "a/2.log", "a/10.log.zst", "a/b/1.pcapng", "a/b/notes.txt", "a/b/.hidden.log", "a/.git/x.log", "a/b/c/d.dat", "e.log", "[x].log",
		"a/rec/plumbline-20260131T101112Z-000002.pcapng.zst", "a/rec/plumbline-20260131T101112Z-000001.pcapng.zst", "a/rec/plumbline-20260131T101112Z-000010.pcapng.zst",
		"a/rec/plumbline-20260201T101112Z-000001.pcapng", "z/UPPER.LOG")
	if err := os.Symlink("../e.log", "a/link.log"); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("..", "a/circle"); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("a", "linked"); err != nil {
		t.Fatal(err)
	}
	const first, second = "rec/plumbline-20260131T101112Z*3", "rec/plumbline-20260201T101112Z*1"
	all := []string{"10.log.zst", "2.log", "b/1.pcapng", "link.log", first, second}
	for _, test := range []struct {
		name string
		args []string
		want []string // names below; *N: of N parts
	}{
		{"a folder", []string{"a"}, under("a", all)},
		{"through a link", []string{"linked"}, under("linked", all)},
		{"a file, one that is gone, standard input", []string{"e.log", "gone.log", "-", "a/b/notes.txt", "e.log"}, []string{"e.log", "gone.log", "-", "a/b/notes.txt", "e.log"}},
		{"a name with brackets that is there", []string{"[x].log"}, []string{"[x].log"}},
		{"a pattern", []string{"a/*.log"}, []string{"a/2.log", "a/link.log"}},
		{"a pattern for folders", []string{"a/[br]*"}, []string{"a/b/1.pcapng", "a/" + first, "a/" + second}},
		{"at any depth", []string{"**/*.pcapng"}, []string{"a/b/1.pcapng", "a/" + second}},
		{"all below", []string{"a/**"}, under("a", all)},
		{"an ending of its own", []string{"a/**/*.dat"}, []string{"a/b/c/d.dat"}},
		{"a star is a recording", []string{"a/b/*"}, []string{"a/b/1.pcapng"}},
		{"upper case", []string{"z"}, []string{"z/UPPER.LOG"}},
		{"each once", []string{"a/2.log", "a", "a/*.log"}, append([]string{"a/2.log", "a/10.log.zst"}, under("a", all[2:])...)},
	} {
		t.Run(test.name, func(t *testing.T) {
			list, err := List(test.args)
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, r := range list {
				name := filepath.ToSlash(r.Name)
				if n := len(r.Parts); n > 0 {
					name += "*" + string(rune('0'+n))
				}
				got = append(got, name)
			}
			if diff := cmp.Diff(got, test.want); diff != "" {
				t.Errorf("got before want:\n%s", diff)
			}
		})
	}
	list, err := List([]string{"a"})
	if err != nil {
		t.Fatal(err)
	}
	if p := list[4].Parts; !strings.HasSuffix(p[0], "000001.pcapng.zst") || !strings.HasSuffix(p[2], "000010.pcapng.zst") {
		t.Errorf("parts are not in order: %v", p)
	}
	if list[2].Place != "b/1.pcapng" {
		t.Errorf("place: got %s", list[2].Place)
	}
}

func under(folder string, names []string) []string {
	var out []string
	for _, name := range names {
		out = append(out, folder+"/"+name)
	}
	return out
}

func TestListFaults(t *testing.T) {
	tree(t, "a/notes.txt")
	for _, test := range []struct{ arg, want string }{
		{"a", "a holds no recording (looked for .log, "},
		{"a/*.log", "a/*.log matches no recording"},
		{"b/**/x", "matches no recording"},
		{"a/[x", "[ needs its ]"},
	} {
		if list, err := List([]string{test.arg}); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: got %v, %v, want %q", test.arg, list, err, test.want)
		}
	}
}

// TestListUnreadable: a folder that may not be read is told, and the rest is found.
func TestListUnreadable(t *testing.T) {
	tree(t, "a/1.log", "a/shut/2.log")
	if err := os.Chmod("a/shut", 0); err != nil {
		t.Fatal(err)
	}
	if _, err := os.ReadDir("a/shut"); err == nil {
		t.Skip("this user may read everything")
	}
	list, err := List([]string{"a"})
	if err != nil || len(list) != 2 || list[1].Err == nil {
		t.Errorf("got %v, %v", list, err)
	}
}
