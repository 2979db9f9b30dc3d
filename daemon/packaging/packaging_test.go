package packaging

import (
	"encoding/json"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus/simulated"
	"plumbline/daemon/setup"
)

var update = flag.Bool("update", false, "write the files that are made of something else")

// mostExposure is the exposure that the unit must stay below, of 10. Listening
// needs the system's network (0.5), address families (0.7), devices (0.3) and a group (0.1).
const mostExposure = 2.0

func read(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// settings returns the lines of a unit that set something.
func settings(unit string) []string {
	var lines []string
	for line := range strings.Lines(unit) {
		line = strings.TrimSpace(line)
		if line != "" && line[0] != '#' && line[0] != '[' {
			lines = append(lines, line)
		}
	}
	return lines
}

// analyze runs systemd-analyze and returns what it printed.
func analyze(t *testing.T, args ...string) (string, error) {
	t.Helper()
	file, err := exec.LookPath("systemd-analyze")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("systemd-analyze is missing: apt-get install systemd")
		}
		t.Skip("systemd-analyze is missing: apt-get install systemd")
	}
	c := exec.CommandContext(t.Context(), file, args...)
	c.Env = append(os.Environ(), "LC_ALL=C.UTF-8", "SYSTEMD_COLORS=0")
	out, err := c.CombinedOutput()
	return string(out), err
}

// installed is the unit as it is on a machine where the program is installed.
func installed(t *testing.T, change ...string) string {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	text := strings.NewReplacer(append([]string{"ExecStart=plumbline ", "ExecStart=" + self + " "}, change...)...).Replace(read(t, "plumbline.service"))
	file := filepath.Join(t.TempDir(), "plumbline.service")
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// TestVerify: systemd reads the unit without a complaint, and complains of a wrong one.
func TestVerify(t *testing.T) {
	if out, err := analyze(t, "verify", "--man=no", installed(t)); err != nil || out != "" {
		t.Errorf("%v\n%s", err, out)
	}
	if out, err := analyze(t, "verify", "--man=no", installed(t, "WatchdogSec=10", "WatchdogSecs=10")); err == nil && out == "" {
		t.Error("a misspelt setting is not noticed: the check cannot fail")
	}
}

// TestExposure holds the unit below mostExposure, as systemd itself reckons it.
func TestExposure(t *testing.T) {
	got := exposure(t, installed(t))
	t.Logf("exposure %.1f of 10, want below %.1f", got, mostExposure)
	if got >= mostExposure {
		t.Errorf("exposure %.1f, want below %.1f: systemd-analyze security --offline=true %s says why", got, mostExposure, "daemon/packaging/plumbline.service")
	}
	if open := exposure(t, installed(t, "CapabilityBoundingSet=\n", "", "SystemCallFilter=@system-service\n", "", "SystemCallFilter=~@privileged @resources\n", "")); open < mostExposure {
		t.Errorf("exposure %.1f without bounds on capabilities and system calls: the check cannot fail", open)
	}
}

func exposure(t *testing.T, unit string) float64 {
	t.Helper()
	out, err := analyze(t, "security", "--offline=true", "--no-pager", unit)
	m := regexp.MustCompile(`Overall exposure level for plumbline\.service: ([0-9.]+)`).FindStringSubmatch(out)
	if m == nil {
		t.Fatalf("%v: no exposure in\n%s", err, out)
	}
	var level float64
	if err := json.Unmarshal([]byte(m[1]), &level); err != nil {
		t.Fatal(err)
	}
	return level
}

// TestWhatIsLeft: all that systemd still counts against the unit has its reason in SERVICE.md.
func TestWhatIsLeft(t *testing.T) {
	out, _ := analyze(t, "security", "--offline=true", "--no-pager", installed(t))
	left := regexp.MustCompile(`(?m)^✗ ([A-Za-z]+)`).FindAllStringSubmatch(out, -1)
	if len(left) < 5 {
		t.Fatalf("systemd counts %d things, want several: the check cannot fail:\n%s", len(left), out)
	}
	_, table, _ := strings.Cut(read(t, "SERVICE.md"), "| what systemd counts |")
	for _, m := range left {
		if !regexp.MustCompile(`(?m)^\|[^|]*\b` + m[1] + `\b[^|]*\|`).MatchString(table) {
			t.Errorf("systemd counts %s, and SERVICE.md gives no reason", m[1])
		}
	}
}

// claims lists the settings that a text claims of the unit: `Name=value`, in
// back-quotes. Those that an override adds are said so by what stands before them.
func claims(text string) []string {
	var found []string
	for _, m := range regexp.MustCompile("`([A-Z][A-Za-z]+=[^`]*)`").FindAllStringSubmatch(text, -1) {
		found = append(found, m[1])
	}
	return found
}

// TestServiceDoc: each setting that SERVICE.md claims is in the unit, with that value.
func TestServiceDoc(t *testing.T) {
	// what the text tells the reader to put into an override
	override := []string{"ReadWritePaths=/mnt/recordings", "RequiresMountsFor=/mnt/recordings", "IPAddressAllow=192.0.2.0/24"}
	unit := settings(read(t, "plumbline.service"))
	all := claims(read(t, "SERVICE.md"))
	if len(all) < 25 {
		t.Errorf("%d settings found in SERVICE.md, want 25 and more: %q", len(all), all)
	}
	for _, claim := range all {
		if !slices.Contains(unit, claim) && !slices.Contains(override, claim) {
			t.Errorf("SERVICE.md claims %q, plumbline.service does not have it", claim)
		}
	}
	if got := claims("so `Nice=5`, not `nice=5`"); !slices.Equal(got, []string{"Nice=5"}) {
		t.Errorf("the check itself found %q", got)
	}
	for _, name := range []string{"plumbline.sysusers.conf", "80-can0.network", "90-plumbline-sysctl.conf", "70-plumbline.rules", "example.yaml", "plumbline.service"} {
		if !strings.Contains(read(t, "SERVICE.md"), name) {
			t.Errorf("SERVICE.md does not mention %s", name)
		}
		read(t, name) // it is there
	}
}

// TestReasons: what opens the service more than it could be has its reason above it.
func TestReasons(t *testing.T) {
	for _, wanted := range []string{"RestrictAddressFamilies=", "PrivateNetwork=", "DeviceAllow=", "SupplementaryGroups=", "StateDirectory=", "SuccessExitStatus=", "WatchdogSec="} {
		above := ""
		found := false
		for line := range strings.Lines(read(t, "plumbline.service")) {
			if strings.HasPrefix(line, wanted) {
				found = true
				if !strings.HasPrefix(above, "#") {
					t.Errorf("%s has no reason above it, but %q", wanted, above)
				}
				break
			}
			above = line
		}
		if !found {
			t.Errorf("the unit has no %s", wanted)
		}
	}
}

// TestNothingIsSet: neither rule nor unit sets a bit rate or a mode; the rules are examples, each a comment.
func TestNothingIsSet(t *testing.T) {
	for line := range strings.Lines(read(t, "70-plumbline.rules")) {
		if line = strings.TrimSpace(line); line != "" && line[0] != '#' {
			t.Errorf("70-plumbline.rules: %q is no comment", line)
		}
		if low := strings.ToLower(line); strings.Contains(low, "run+=") || strings.Contains(low, "bitrate ") {
			t.Errorf("70-plumbline.rules: %q runs a program or sets a bit rate", line)
		}
	}
	for _, line := range settings(read(t, "plumbline.service")) {
		if regexp.MustCompile(`bitrate|/ip |CAP_NET`).MatchString(line) {
			t.Errorf("plumbline.service: %q", line)
		}
	}
}

// TestExampleSetup: the example is right, with the DBC file that lies beside it, which is the simulated vehicle's.
func TestExampleSetup(t *testing.T) {
	want := simulated.Standard(4).DBC()
	if *update {
		if err := os.WriteFile("example.dbc", []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if got := read(t, "example.dbc"); got != want {
		t.Errorf("example.dbc is not that of the simulated vehicle (-update writes it):\n%s", cmp.Diff(want, got))
	}
	s, err := setup.Load("example.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Sources) != 1 || s.Sources[0].Interface != "can0" {
		t.Errorf("sources: got %+v, want can0", s.Sources)
	}
}
