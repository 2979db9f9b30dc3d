package main_test

import (
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// TestDeveloperMap: the map of the house in DEVELOPERS.md names every package.
func TestDeveloperMap(t *testing.T) {
	_, house, _ := strings.Cut(developers(t), "## The house")
	house, _, _ = strings.Cut(house, "Nothing else stands at the root")
	seen := map[string]bool{}
	for _, f := range houseFiles(t) {
		name := filepath.Base(filepath.Dir(f.path))
		if f.pkg == "plumbline/cmd/plumbline" {
			name = "cmd/plumbline"
		}
		if !seen[name] && !regexp.MustCompile(`\b`+name+`\b`).MatchString(house) {
			t.Errorf("the map of the house in DEVELOPERS.md does not name %s", f.pkg)
		}
		seen[name] = true
	}
	for _, m := range regexp.MustCompile(`\b([a-z]+)/ `).FindAllStringSubmatch(house, -1) {
		if _, err := os.Stat(filepath.Join(houseRoot, m[1])); !seen[m[1]] && err != nil && m[1] != "plumbline" && m[1] != "built" {
			t.Errorf("the map of the house in DEVELOPERS.md names %s, which is not there", m[1])
		}
	}
}

// TestDeveloperCommands holds the calls of go test in DEVELOPERS.md against what there is: the folders, the tests that -run,
// -bench and -fuzz choose, the flags. Running them all takes an hour.
func TestDeveloperCommands(t *testing.T) {
	files := houseFiles(t)
	calls := regexp.MustCompile("(?m)go test ([^`#\n&]+)").FindAllStringSubmatch(developers(t), -1)
	if len(calls) < 20 {
		t.Errorf("%d calls of go test found", len(calls))
	}
	for _, m := range calls {
		for _, wrong := range wrongCall(files, m[1]) {
			t.Errorf("go test %s: %s", m[1], wrong)
		}
	}
	if wrong := wrongCall(files, "./checks ./nowhere -run TestNoSuchThing -shots x"); len(wrong) != 3 {
		t.Errorf("the check itself, on a call with three faults: %q", wrong)
	}
}

func developers(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(houseRoot, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// wrongCall tells what of a call of go test there is not.
func wrongCall(files []houseFile, call string) (wrong []string) {
	words := regexp.MustCompile(`'[^']*'|"[^"]*"|\S+`).FindAllString(call, -1)
	var packages, patterns, flags []string
	for i := 0; i < len(words); i++ {
		word := strings.Trim(words[i], `'"`)
		switch name, isFlag := strings.CutPrefix(word, "-"); {
		case isFlag && slices.Contains([]string{"run", "bench", "fuzz"}, name) && i+1 < len(words):
			i++
			if p := strings.Trim(words[i], `'"`); p != "^$" && p != "." {
				patterns = append(patterns, p)
			}
		case isFlag:
			flags = append(flags, name)
		case strings.HasPrefix(word, "./"):
			packages = append(packages, strings.TrimSuffix(strings.TrimPrefix(word, "./"), "/"))
		}
	}
	of := func(pkg string) (out []houseFile) {
		tree, all := strings.CutSuffix(pkg, "/...")
		for _, f := range files {
			if dir := filepath.ToSlash(filepath.Dir(f.path)); dir == tree || all && strings.HasPrefix(dir, tree+"/") {
				out = append(out, f)
			}
		}
		return out
	}
	var text strings.Builder
	for _, pkg := range packages {
		found := of(pkg)
		if len(found) == 0 {
			wrong = append(wrong, "there is no package "+pkg)
		}
		for _, f := range found {
			if src, err := os.ReadFile(filepath.Join(houseRoot, filepath.FromSlash(f.path))); err == nil && f.test {
				text.Write(src)
			}
		}
	}
	names := regexp.MustCompile(`(?m)^func ((?:Test|Benchmark|Fuzz)\w+)`).FindAllStringSubmatch(text.String(), -1)
	for _, p := range patterns {
		top, _, _ := strings.Cut(p, "/")
		if re, err := regexp.Compile(top); err != nil || !slices.ContainsFunc(names, func(m []string) bool { return re.MatchString(m[1]) }) {
			wrong = append(wrong, "no test is called "+top)
		}
	}
	for _, name := range flags {
		known := flag.Lookup("test."+name) != nil || strings.HasPrefix(name, "rapid.") && strings.Contains(text.String(), "pgregory.net/rapid")
		if !known && !strings.Contains(text.String(), `"`+name+`", `) {
			wrong = append(wrong, "no flag is called "+name)
		}
	}
	return wrong
}
