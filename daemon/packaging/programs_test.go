package packaging

import (
	"debug/elf"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// packages is the folder that build has written, as .ci/run does before it runs these tests.
func packages(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("PLUMBLINE_PACKAGES")
	if dir == "" {
		t.Skip("PLUMBLINE_PACKAGES names no folder that daemon/packaging/build has written; bash .ci/run package does")
	}
	return dir
}

func one(t *testing.T, dir, pattern string) string {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(dir, pattern))
	if err != nil || len(found) != 1 {
		t.Fatalf("%s in %s: %v, %v, want one file", pattern, dir, found, err)
	}
	return found[0]
}

// TestPrograms looks at each program that build has written: it is static, knows its commit, and its bill of
// materials lists what `go version -m`, another reader of the same, lists.
func TestPrograms(t *testing.T) {
	dir := packages(t)
	bills, err := filepath.Glob(filepath.Join(dir, "*.spdx.json"))
	if err != nil || len(bills) == 0 {
		t.Fatalf("no bill of materials in %s, %v", dir, err)
	}
	for _, bill := range bills {
		program := strings.TrimSuffix(bill, ".spdx.json")
		if strings.Contains(program, "windows") {
			program += ".exe"
		}
		t.Run(filepath.Base(program), func(t *testing.T) {
			out, err := exec.CommandContext(t.Context(), "go", "version", "-m", program).Output()
			if err != nil {
				t.Fatal(err)
			}
			var want []string
			for line := range strings.Lines(string(out)) {
				if f := strings.Fields(line); len(f) >= 3 && f[0] == "dep" {
					want = append(want, f[1]+" "+f[2])
				}
			}
			for _, setting := range []string{"vcs.revision=", "vcs.modified=false", "CGO_ENABLED=0", "-trimpath=true"} {
				if !strings.Contains(string(out), setting) {
					t.Errorf("it was not built with %s:\n%s", setting, out)
				}
			}
			var doc struct {
				Packages []struct{ Name, VersionInfo string }
			}
			text, err := os.ReadFile(bill)
			if err != nil || json.Unmarshal(text, &doc) != nil || len(doc.Packages) < 3 {
				t.Fatalf("%s: %v", bill, err)
			}
			var got []string
			for _, p := range doc.Packages[2:] { // after the program and the standard library
				got = append(got, p.Name+" "+p.VersionInfo)
			}
			slices.Sort(want)
			slices.Sort(got)
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("the bill of materials (-go version -m +bill):\n%s", diff)
			}
			static(t, program)
		})
	}
}

// static: a program for Linux asks for no loader and no library.
func static(t *testing.T, program string) {
	t.Helper()
	if !strings.Contains(program, "linux") {
		return
	}
	f, err := elf.Open(program)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, p := range f.Progs {
		if p.Type == elf.PT_INTERP || p.Type == elf.PT_DYNAMIC {
			t.Errorf("it is not static: it has a segment %v", p.Type)
		}
	}
}

// TestPackages: the Debian and the RPM package hold the same, but for where each system keeps what zsh reads.
func TestPackages(t *testing.T) {
	dir := packages(t)
	for _, tool := range []string{"dpkg-deb", "rpm"} {
		if _, err := exec.LookPath(tool); err != nil {
			if os.Getenv("CI") == "true" {
				t.Fatalf("%s is missing: apt-get install dpkg rpm", tool)
			}
			t.Skipf("%s is missing: apt-get install dpkg rpm", tool)
		}
	}
	list := func(name string, args ...string) []string {
		out, err := exec.CommandContext(t.Context(), name, args...).Output()
		if err != nil {
			t.Fatalf("%s %v: %v", name, args, err)
		}
		return strings.Split(strings.TrimSpace(string(out)), "\n")
	}
	var deb []string
	for _, line := range list("dpkg-deb", "-c", one(t, dir, "plumbline_*_amd64.deb")) {
		// -rw-r--r-- root/root SIZE DATE TIME ./NAME
		if f := strings.Fields(line); f[0][0] == '-' {
			deb = append(deb, strings.TrimPrefix(f[5], ".")+" "+f[0])
		}
	}
	var rpm []string
	for _, line := range list("rpm", "-qp", "--nosignature", "--queryformat", `[%{FILENAMES} %{FILEMODES:perms} %{FILEUSERNAME}/%{FILEGROUPNAME}\n]`, one(t, dir, "plumbline-*.x86_64.rpm")) {
		f := strings.Fields(line)
		if f[2] != "root/root" {
			t.Errorf("%s belongs to %s", f[0], f[2])
		}
		if f[1][0] == '-' {
			rpm = append(rpm, strings.Replace(f[0], "zsh/site-functions", "zsh/vendor-completions", 1)+" "+f[1])
		}
	}
	slices.Sort(deb)
	slices.Sort(rpm)
	if diff := cmp.Diff(deb, rpm); diff != "" || len(deb) < 30 {
		t.Errorf("%d files (-deb +rpm):\n%s", len(deb), diff)
	}
	for _, file := range deb {
		if name, mode, _ := strings.Cut(file, " "); mode != "-rw-r--r--" && name != "/usr/bin/plumbline" {
			t.Errorf("%s has the mode %s", name, mode)
		}
	}
}
