package main_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// foreign stands for every package that is neither of the standard library nor of this module.
const foreign = "<foreign>"

// importRule says what some packages must not import, and why.
// A pattern is an import path; with /... at its end it is the path and all below.
type importRule struct {
	name   string
	from   []string // the rule speaks of these packages
	except []string // but not of these
	tests  bool     // and of their tests too
	deny   []string
	allow  []string // of what deny names
	why    string
}

// importRules is the house as DEVELOPERS.md draws it: cmd → daemon → {bus, checks}.
func importRules() []importRule {
	return []importRule{
		{
			name: "bus stands alone", from: []string{"plumbline/bus/..."}, tests: true,
			deny: []string{"plumbline/..."}, allow: []string{"plumbline/bus/..."},
			why: "bus knows no check; daemon brings the two together",
		},
		{
			name: "checks stands alone", from: []string{"plumbline/checks/..."}, tests: true,
			deny: []string{"plumbline/..."}, allow: []string{"plumbline/checks/..."},
			why: "checks knows no frame; daemon brings the two together",
		},
		{
			name: "daemon looks down", from: []string{"plumbline/daemon/..."}, tests: true,
			deny: []string{"plumbline/cmd/...", "plumbline/dashboards/..."},
			why:  "the daemon runs without whoever starts it and whoever draws it",
		},
		{
			name: "dashboards draws what daemon exports", from: []string{"plumbline/dashboards/..."},
			deny: []string{"plumbline/cmd/...", "plumbline/bus/..."},
			why:  "boards are made of metric names and checks; they hear no bus",
		},
		{
			name: "nothing imports cmd", from: []string{"plumbline/..."}, except: []string{"plumbline/cmd/..."}, tests: true,
			deny: []string{"plumbline/cmd/..."},
			why:  "what a command needs that another could need belongs to the daemon",
		},
		{
			name: "a frame needs no source", from: []string{"plumbline/bus"},
			deny: []string{"plumbline/..."},
			why:  "the ways in import bus, so bus imports none of them",
		},
		{
			name: "numerics know no wheel", from: []string{"plumbline/checks/fit/..."},
			deny: []string{"plumbline/..."},
			why:  "a fit is tested against published numbers, without a vehicle",
		},
		{
			name: "checks does no I/O", from: []string{"plumbline/checks/..."},
			deny: []string{
				"os/...", "io/fs", "io/ioutil", "net/...", "syscall/...", "log/...", "database/...", "embed", "plugin",
				"math/rand/...", "crypto/rand", "unsafe", "golang.org/x/sys/...", "golang.org/x/net/...",
			},
			why: "live and replay must say the same of the same samples",
		},
		{
			name: "checks stands on the standard library and gonum", from: []string{"plumbline/checks/..."},
			deny: []string{foreign}, allow: []string{"gonum.org/v1/gonum/..."},
			why: "what judges is to be read whole",
		},
		{
			name: "only socketcan and serialport touch a wire", from: []string{"plumbline/bus/..."},
			except: []string{"plumbline/bus/socketcan/...", "plumbline/bus/serialport/..."},
			deny:   []string{"net/...", "os/exec", "unsafe", "golang.org/x/sys/...", "golang.org/x/term", "go.bug.st/serial/..."},
			why:    "a recording and a simulation read from what they are given; one more way in from a wire is one more exception here",
		},
		{
			name: "a source serves nobody", from: []string{"plumbline/bus/..."},
			deny: []string{"net/http/...", "log/...", "os/exec"},
			why:  "a source returns frames, notes and errors; whoever runs it serves and logs",
		},
		{
			name: "no library that can send on a bus", from: []string{"plumbline/..."}, tests: true,
			deny: []string{
				"go.einride.tech/can/pkg/socketcan/...", "go.einride.tech/can/pkg/canrunner/...",
				"go.einride.tech/can/pkg/candevice/...", "github.com/brutella/can/...",
			},
			why: "plumbline only listens",
		},
		{
			name: "a serial port is opened in one place", from: []string{"plumbline/..."},
			except: []string{"plumbline/bus/serialport/..."},
			deny:   []string{"go.bug.st/serial/..."},
			why:    "plumbline only listens, and there it is made sure of",
		},
		{
			name: "flags belong to cmd", from: []string{"plumbline/..."}, except: []string{"plumbline/cmd/..."},
			deny: []string{"github.com/spf13/cobra/...", "github.com/spf13/pflag/...", "flag"},
			why:  "a library takes a Config",
		},
		{
			name: "the program carries no test code", from: []string{"plumbline/..."},
			deny: []string{"testing/...", "github.com/google/go-cmp/...", "go.uber.org/goleak/..."},
			why:  "a fake is a function or an in-memory source",
		},
	}
}

// TestImports holds every file of the module, of all systems and build tags, against the rules.
func TestImports(t *testing.T) {
	files := houseFiles(t)
	used := map[string]bool{}
	for _, f := range files {
		used[f.pkg] = true
	}
	if !used["plumbline/bus"] || !used["plumbline/checks"] {
		t.Fatalf("found packages %v; want bus and checks among them", used)
	}
	for _, r := range importRules() {
		t.Run(r.name, func(t *testing.T) {
			for _, broken := range r.check(files) {
				t.Error(broken)
			}
		})
	}
}

// TestImportRulesCanFail breaks each rule once, on an invented module.
func TestImportRulesCanFail(t *testing.T) {
	tests := []struct {
		rule string
		file houseFile
		want []string // the imports that break the rule
	}{
		{"bus stands alone", imports("bus/dbc", "fmt", "plumbline/bus", "plumbline/checks"), []string{"plumbline/checks"}},
		{"bus stands alone", testImports("bus/candump", "plumbline/bus/dbc", "plumbline/daemon/setup"), []string{"plumbline/daemon/setup"}},
		{"checks stands alone", imports("checks", "plumbline/checks/fit", "plumbline/bus/dbc"), []string{"plumbline/bus/dbc"}},
		{"checks stands alone", imports("checksum", "plumbline/bus"), nil}, // not below checks
		{"daemon looks down", imports("daemon/web", "plumbline/bus", "plumbline/dashboards"), []string{"plumbline/dashboards"}},
		{"dashboards draws what daemon exports", imports("dashboards", "plumbline/daemon/metrics", "plumbline/bus"), []string{"plumbline/bus"}},
		{"nothing imports cmd", testImports("daemon", "plumbline/cmd/plumbline"), []string{"plumbline/cmd/plumbline"}},
		{"nothing imports cmd", imports("cmd/plumbline", "plumbline/cmd/plumbline/internal"), nil},
		{"a frame needs no source", imports("bus", "plumbline/bus/candump"), []string{"plumbline/bus/candump"}},
		{"a frame needs no source", imports("bus/candump", "plumbline/bus"), nil},
		{"numerics know no wheel", imports("checks/fit", "math", "plumbline/checks"), []string{"plumbline/checks"}},
		{"checks does no I/O", imports("checks/fit", "math", "os", "net/http", "log/slog", "io/fs"), []string{"os", "net/http", "log/slog", "io/fs"}},
		{"checks does no I/O", imports("checks", "io", "osier", "sort"), nil},
		{"checks does no I/O", testImports("checks", "os"), nil},
		{
			"checks stands on the standard library and gonum",
			imports("checks", "gonum.org/v1/gonum/stat", "gonum.org/v1/plot", "math/cmplx", "plumbline/checks/fit"),
			[]string{"gonum.org/v1/plot"},
		},
		{"only socketcan and serialport touch a wire", imports("bus/pcapng", "golang.org/x/sys/unix", "io"), []string{"golang.org/x/sys/unix"}},
		{"only socketcan and serialport touch a wire", imports("bus/socketcan", "golang.org/x/sys/unix"), nil},
		{"a source serves nobody", imports("bus/socketcan", "net/http", "log/slog"), []string{"net/http", "log/slog"}},
		{"no library that can send on a bus", testImports("daemon", "go.einride.tech/can/pkg/socketcan"), []string{"go.einride.tech/can/pkg/socketcan"}},
		{"no library that can send on a bus", imports("bus/dbc", "go.einride.tech/can/pkg/dbc"), nil},
		{"a serial port is opened in one place", imports("daemon", "go.bug.st/serial"), []string{"go.bug.st/serial"}},
		{"flags belong to cmd", imports("daemon/setup", "github.com/spf13/viper", "github.com/spf13/cobra"), []string{"github.com/spf13/cobra"}},
		{"the program carries no test code", imports("bus", "testing", "github.com/google/go-cmp/cmp"), []string{"testing", "github.com/google/go-cmp/cmp"}},
		{"the program carries no test code", testImports("bus", "testing"), nil},
	}
	failed := map[string]bool{}
	for _, tt := range tests {
		t.Run(tt.rule+"/"+tt.file.pkg, func(t *testing.T) {
			i := slices.IndexFunc(importRules(), func(r importRule) bool { return r.name == tt.rule })
			if i < 0 {
				t.Fatalf("no rule %q", tt.rule)
			}
			r := importRules()[i]
			var want []string
			for _, imp := range tt.want {
				want = append(want, r.complain(tt.file, imp))
			}
			if diff := cmp.Diff(want, r.check([]houseFile{tt.file})); diff != "" {
				t.Errorf("broken imports (-want +got):\n%s", diff)
			}
			failed[tt.rule] = failed[tt.rule] || len(tt.want) > 0
		})
	}
	for _, r := range importRules() {
		if !failed[r.name] {
			t.Errorf("no row shows that the rule %q can fail", r.name)
		}
	}
}

func imports(dir string, paths ...string) houseFile {
	return houseFile{path: dir + "/file.go", pkg: "plumbline/" + dir, imports: paths}
}

func testImports(dir string, paths ...string) houseFile {
	return houseFile{path: dir + "/file_test.go", pkg: "plumbline/" + dir, test: true, imports: paths}
}

// check returns a sentence for each import that breaks the rule.
func (r importRule) check(files []houseFile) []string {
	var broken []string
	for _, f := range files {
		if f.test && !r.tests || !matches(r.from, f.pkg) || matches(r.except, f.pkg) {
			continue
		}
		for _, imp := range f.imports {
			if matches(r.deny, imp) && !matches(r.allow, imp) {
				broken = append(broken, r.complain(f, imp))
			}
		}
	}
	return broken
}

func (r importRule) complain(f houseFile, imp string) string {
	return fmt.Sprintf("%s imports %s: %s", f.path, imp, r.why)
}

// matches reports whether one of the patterns names the import path.
func matches(patterns []string, path string) bool {
	return slices.ContainsFunc(patterns, func(p string) bool {
		if p == foreign {
			first, _, _ := strings.Cut(path, "/")
			return strings.Contains(first, ".") // as the go command tells a module from the standard library
		}
		if tree, ok := strings.CutSuffix(p, "/..."); ok {
			return path == tree || strings.HasPrefix(path, tree+"/")
		}
		return path == p
	})
}
