package main

import (
	"io/fs"
	"maps"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"plumbline/bus/simulated"
)

// documents are all Markdown files of the project, by path from its root.
func documents(t *testing.T) map[string]string {
	t.Helper()
	root := filepath.Join("..", "..")
	out := map[string]string{}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == ".git" || d.Name() == "testdata"):
			return filepath.SkipDir
		case filepath.Ext(path) == ".md":
			text, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			name, err := filepath.Rel(root, path)
			out[filepath.ToSlash(name)] = string(text)
			return err
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(out) < 8 {
		t.Fatalf("%d documents found", len(out))
	}
	return out
}

// TestDocumentLinks follows every link to a file of the project, pictures too.
func TestDocumentLinks(t *testing.T) {
	link := regexp.MustCompile(`(?:\]\(|src(?:set)?=")([^)\s"]+)[)"]`)
	for name, text := range documents(t) {
		for _, m := range link.FindAllStringSubmatch(text, -1) {
			u, err := url.Parse(m[1])
			if err != nil {
				t.Errorf("%s: %q is no link: %v", name, m[1], err)
				continue
			}
			if u.Scheme != "" || u.Path == "" || strings.HasPrefix(u.Path, "/") { // elsewhere, or of the page
				continue
			}
			to := filepath.Join("..", "..", filepath.Dir(name), filepath.FromSlash(u.Path))
			if _, err := os.Stat(to); err != nil {
				t.Errorf("%s: %s leads nowhere", name, m[1])
			}
		}
	}
}

// shown returns the commands of plumbline that a document shows: those to be run, lines of code blocks that begin with
// its name, and those that are only spoken of, code between words.
func shown(text string) (run, named []string) {
	inline := regexp.MustCompile("`(plumbline [^`]+)`")
	fenced := false
	lines := strings.Split(text, "\n")
	for i := 0; i < len(lines); i++ {
		line := lines[i]
		if strings.HasPrefix(strings.TrimSpace(line), "```") {
			fenced = !fenced
			continue
		}
		code := strings.TrimPrefix(strings.TrimSpace(line), "go run ./cmd/")
		if (fenced || strings.HasPrefix(line, "    ")) && strings.HasPrefix(code, "plumbline ") {
			for strings.HasSuffix(code, "\\") && i+1 < len(lines) {
				i++
				code = strings.TrimSuffix(code, "\\") + strings.TrimSpace(lines[i])
			}
			run = append(run, code)
			continue
		}
		for _, m := range inline.FindAllStringSubmatch(line, -1) {
			named = append(named, m[1])
		}
	}
	return run, named
}

// words splits a command line as a shell does, without comments. What it is to be written to is apart.
func words(line string) (args []string, to string) {
	part := regexp.MustCompile(`'[^']*'|"[^"]*"|\S+`)
	all := part.FindAllString(line, -1)
	for i := 0; i < len(all); i++ {
		switch w := all[i]; {
		case strings.HasPrefix(w, "#") || w == "|" || w == "&&":
			return args, to
		case w == ">" && i+1 < len(all):
			i++
			to = all[i]
		default:
			args = append(args, strings.Trim(w, `'"`))
		}
	}
	return args, to
}

// TestDocumentCommands runs every command that the documents show, in a folder that holds what they speak of. Those that would
// listen to a bus or a port, or serve a page for ever, and those only spoken of, are held against the flags that there are.
func TestDocumentCommands(t *testing.T) {
	texts := documents(t)
	documentYard(t)
	here := strings.NewReplacer("/etc/plumbline/", "", "/var/lib/plumbline", "recordings")
	seen := map[string]bool{}
	for _, name := range slices.Sorted(maps.Keys(texts)) {
		lines, named := shown(texts[name])
		for i, line := range append(lines, named...) {
			if seen[line] || strings.HasPrefix(line, "plumbline COMMAND") || strings.Contains(line, "…") || strings.Contains(line, "...") {
				continue
			}
			seen[line] = true
			args, to := words(here.Replace(line))
			args = args[1:]
			if i >= len(lines) || slices.ContainsFunc(args, placeholder) || endless(args) {
				checkFlags(t, name, line, args)
				continue
			}
			c := call(t, args...)
			if c.code == 2 {
				t.Errorf("%s: %s: exit code 2: %s", name, line, c.errors)
			}
			if _, err := os.Stat(to); to != "" && err != nil {
				put(t, to, c.out)
			}
		}
	}
	if len(seen) < 12 {
		t.Errorf("only %d commands found", len(seen))
	}
}

// placeholder tells a word that stands for another one, as in SETUP.
func placeholder(word string) bool {
	return regexp.MustCompile(`^[A-Z][A-Z_]+[0-9]?(\.[a-z]+)?$`).MatchString(word) || strings.ContainsAny(word, "[$")
}

// endless tells commands that go on until they are ended, take minutes, or name what this machine does not have.
func endless(args []string) bool {
	switch args[0] {
	case "run", "matrix":
		return true
	case "listen":
		return len(args) > 1 && (strings.HasPrefix(args[1], "can") && !strings.Contains(args[1], ".") || strings.HasPrefix(args[1], "/dev/"))
	case "demo":
		return slices.Contains(args, "--listen") || slices.Contains(args, "--speed") || slices.Contains(args, "--web-config")
	}
	return false
}

// checkFlags finds the command and its flags.
func checkFlags(t *testing.T, name, line string, args []string) {
	t.Helper()
	root := newRoot(streams{})
	c, rest, err := root.Find(args)
	if err != nil || c == root {
		t.Errorf("%s: %s: no such command: %v", name, line, err)
		return
	}
	for _, word := range rest {
		flag, ok := strings.CutPrefix(word, "--")
		flag, _, _ = strings.Cut(flag, "=")
		if ok && flag != "help" && c.Flags().Lookup(flag) == nil && root.PersistentFlags().Lookup(flag) == nil {
			t.Errorf("%s: %s: %s has no flag --%s", name, line, c.CommandPath(), flag)
		}
	}
}

// documentYard makes a folder with the files that the documents speak of, and goes there.
func documentYard(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	cfg := simulated.Standard(4)
	for _, f := range cfg.DBCs() {
		put(t, f.Name, f.Text)
		put(t, "wheels.dbc", f.Text)
	}
	for _, dir := range []string{"recordings", "archive", filepath.Join("archive", "2026-01", "a"), "tests", "etc"} {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{"setup.yaml", "minibus.yaml", "vehicle.yaml"} {
		put(t, name, cfg.SetupYAML())
	}
	if c := call(t, "demo", "--record", "capture.log"); c.code != 0 {
		t.Fatal(c.errors)
	}
	log, err := os.ReadFile("capture.log")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"before.log", "after.log", "recordings/one.log", "archive/one.log", "archive/2026-01/a/two.log", "archive/2026-01/a/three.pcapng.zst"} {
		put(t, name, string(log))
	}
	for name, log := range map[string]string{"before.json": "before.log", "after.json": "after.log", "tests/one.json": "before.log"} {
		if c := call(t, "replay", "setup.yaml", log, "-o", name); c.code != 0 {
			t.Fatal(c.errors)
		}
	}
}
