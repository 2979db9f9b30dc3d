package main_test

import (
	"bytes"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// houseRoot is the module's root as seen from this package.
const houseRoot = "../.."

// longest is the number of lines at which a file is split; at 400 one looks twice.
const longest = 600

// houseFile is one Go file of the module.
type houseFile struct {
	path    string // relative to the root, with slashes
	pkg     string // import path of its folder
	test    bool
	imports []string
	syntax  *ast.File
	set     *token.FileSet
}

// houseFiles reads all Go files, whatever system or build tag they are for.
func houseFiles(t *testing.T) []houseFile {
	t.Helper()
	var files []houseFile
	err := filepath.WalkDir(houseRoot, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		base := d.Name()
		if d.IsDir() && name != houseRoot && (base == "testdata" || strings.HasPrefix(base, ".") || strings.HasPrefix(base, "_")) {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(base, ".go") {
			return nil
		}
		rel, err := filepath.Rel(houseRoot, name)
		if err != nil {
			return err
		}
		src, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		f, err := parseHouseFile(filepath.ToSlash(rel), src)
		files = append(files, f)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// parseHouseFile reads one file; rel is its path relative to the root, with slashes.
func parseHouseFile(rel string, src []byte) (houseFile, error) {
	f := houseFile{path: rel, pkg: path.Join("plumbline", path.Dir(rel)), test: strings.HasSuffix(rel, "_test.go"), set: token.NewFileSet()}
	var err error
	f.syntax, err = parser.ParseFile(f.set, rel, src, parser.ParseComments|parser.SkipObjectResolution)
	if err != nil {
		return f, err
	}
	for _, spec := range f.syntax.Imports {
		p, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			return f, fmt.Errorf("%s: import %s: %w", rel, spec.Path.Value, err)
		}
		f.imports = append(f.imports, p)
	}
	return f, nil
}

// TestRoot holds what is tracked at the root against the list in DEVELOPERS.md.
func TestRoot(t *testing.T) {
	for _, odd := range oddAtRoot(gitFiles(t, "--cached")) {
		t.Errorf("%s stands at the root; it belongs into one of the folders, or into .github", odd)
	}
	got := oddAtRoot([]string{"bus/frame.go", ".ci/run", "README.md", "notes.txt", "util/x.go", "testdata/a.dbc", "util/y.go", "bus.go"})
	if diff := cmp.Diff([]string{"notes.txt", "util", "bus.go"}, got); diff != "" {
		t.Errorf("the check itself, on invented names (-want +got):\n%s", diff)
	}
}

func oddAtRoot(files []string) []string {
	house := regexp.MustCompile(`^(cmd/.*|daemon/.*|bus/.*|checks/.*|dashboards/.*|testdata/.*|go\.mod|go\.sum|README\.md|DEVELOPERS\.md|LICENSE|\..*)$`)
	var odd []string
	for _, f := range files {
		top, _, _ := strings.Cut(f, "/")
		if !house.MatchString(f) && !slices.Contains(odd, top) {
			odd = append(odd, top)
		}
	}
	return odd
}

// TestFileLength finds files that have more than one subject by now.
func TestFileLength(t *testing.T) {
	for _, f := range gitFiles(t, "--cached", "--others", "--exclude-standard") {
		if !writtenByHand(f) {
			continue
		}
		src, err := os.ReadFile(filepath.Join(houseRoot, filepath.FromSlash(f)))
		if errors.Is(err, fs.ErrNotExist) {
			continue // deleted, not committed yet
		}
		if err != nil {
			t.Fatal(err)
		}
		if n := bytes.Count(src, []byte("\n")); n > longest {
			t.Errorf("%s has %d lines; split it by subject, at most %d", f, n, longest)
		}
	}
	for name, want := range map[string]bool{"bus/frame.go": true, "daemon/web/page.js": true, ".ci/run": true, "testdata/x.go": false, "dashboards/built/wheels.json": false, "LICENSE": false} {
		if got := writtenByHand(name); got != want {
			t.Errorf("writtenByHand(%q) = %v, want %v", name, got, want)
		}
	}
}

func writtenByHand(name string) bool {
	if strings.Contains("/"+name, "/testdata/") {
		return false
	}
	return name == ".ci/run" || slices.Contains([]string{".go", ".js", ".css", ".html", ".tmpl", ".sh", ".md", ".yml"}, path.Ext(name))
}

// gitFiles lists files of the checkout relative to its root. Without git there is no answer, which only a CI machine minds.
func gitFiles(t *testing.T, which ...string) []string {
	t.Helper()
	args := append([]string{"-c", "safe.directory=*", "-C", houseRoot, "ls-files", "-z"}, which...)
	out, err := exec.CommandContext(t.Context(), "git", args...).Output()
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("git ls-files: %v", err)
		}
		t.Skipf("git ls-files: %v; run this in a git checkout", err)
	}
	return strings.FieldsFunc(string(out), func(r rune) bool { return r == 0 })
}

// TestPackageComments wants one package comment in each package: what it is, what it never does.
func TestPackageComments(t *testing.T) {
	for _, broken := range uncommented(houseFiles(t)) {
		t.Error(broken)
	}
	var files []houseFile
	for name, src := range map[string]string{
		"bus/a/doc.go": "// Package a is.\npackage a", "bus/a/a.go": "package a",
		"bus/b/b.go": "package b", "bus/c/c.go": "// Bytes and such.\npackage c", "bus/d/d_test.go": "package d",
		"bus/e/doc.go": "// Package e is.\npackage e", "bus/e/e.go": "// Package e is too.\npackage e",
		"cmd/f/main.go": "// F listens.\npackage main",
	} {
		f, err := parseHouseFile(name, []byte(src))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, f)
	}
	want := []string{
		"plumbline/bus/b has 0 comments that begin with \"Package b\", want one, in doc.go",
		"plumbline/bus/c has 0 comments that begin with \"Package c\", want one, in doc.go",
		"plumbline/bus/e has 2 comments that begin with \"Package e\", want one, in doc.go",
	}
	if diff := cmp.Diff(want, uncommented(files)); diff != "" {
		t.Errorf("the check itself, on invented packages (-want +got):\n%s", diff)
	}
}

func uncommented(files []houseFile) []string {
	count, name := map[string]int{}, map[string]string{}
	for _, f := range files {
		if f.test {
			continue
		}
		name[f.pkg] = f.syntax.Name.Name
		begin := "Package " + f.syntax.Name.Name + " "
		if f.syntax.Name.Name == "main" {
			begin = "" // a command's comment begins with its own name
		}
		if f.syntax.Doc != nil && strings.HasPrefix(f.syntax.Doc.Text(), begin) {
			count[f.pkg]++
		}
	}
	var broken []string
	for pkg := range name {
		if n := count[pkg]; n != 1 {
			broken = append(broken, fmt.Sprintf("%s has %d comments that begin with \"Package %s\", want one, in doc.go", pkg, n, name[pkg]))
		}
	}
	slices.Sort(broken)
	return broken
}
