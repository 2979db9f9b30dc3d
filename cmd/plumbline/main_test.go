package main

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"

	"plumbline/bus/simulated"
)

var update = flag.Bool("update", false, "write the golden files")

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// called is what a call of the program left behind.
type called struct {
	code        int
	out, errors string
}

// call runs the program in this process.
func call(t testing.TB, args ...string) called {
	t.Helper()
	var out, errs bytes.Buffer
	code := run(args, strings.NewReader(""), &out, &errs)
	return called{code, out.String(), errs.String()}
}

// golden compares got with testdata/name, whole.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v (go test -update writes it)", err)
	}
	if diff := cmp.Diff(got, string(want)); diff != "" {
		t.Errorf("%s: got before want:\n%s", file, diff)
	}
}

// yard is a folder with a setup, its DBC file and what else a test puts there.
// The test runs in it, so that names in messages are short.
func yard(t testing.TB, files map[string]string) {
	t.Helper()
	t.Chdir(t.TempDir())
	cfg := simulated.Standard(1)
	put(t, "one.yaml", cfg.SetupYAML())
	for _, f := range cfg.DBCs() {
		put(t, f.Name, f.Text)
	}
	for name, text := range files {
		put(t, name, text)
	}
}

func put(t testing.TB, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// recorded records a demo and fails unless it ended with code.
func recorded(t testing.TB, code int, name string, args ...string) called {
	t.Helper()
	c := call(t, append([]string{"demo", "--corners", "1", "--record", name}, args...)...)
	if c.code != code {
		t.Fatalf("demo %v: exit code %d, want %d:\n%s%s", args, c.code, code, c.out, c.errors)
	}
	return c
}

// TestBadInput: what is said, whole, and the exit code.
func TestBadInput(t *testing.T) {
	yard(t, map[string]string{
		"bad.yaml":   "vehicle: X\nsauces: []\n",
		"broken.dbc": "BO_ 1 A: 8 B\n SG_ S : nonsense\n",
		"empty.log":  "",
		"other.json": "{}",
		"noise.bin":  "\x01\x02\x03\x04\x05\x06\x07\x08",
		"there.yaml": "kept",
	})
	tests := []struct {
		name string
		args []string
		code int
		want string // on standard error
	}{
		{"nothing", nil, 2, "plumbline: no command given: expected one of checks, compare, dashboards, demo, history, listen, matrix, merge, replay, run, setup, version; plumbline --help says more\n"},
		{"unknown command", []string{"repaly"}, 2, "plumbline: unknown command \"repaly\": did you mean replay\n"},
		{"unknown command, none near", []string{"xyzzyxyzzy"}, 2, "plumbline: unknown command \"xyzzyxyzzy\": plumbline --help lists what there is\n"},
		{"unknown flag", []string{"demo", "--folt", "x"}, 2, "plumbline: unknown flag: --folt: plumbline demo --help lists what there is\n"},
		{"colour", []string{"demo", "--color", "red"}, 2, "plumbline: invalid argument \"red\" for \"--color\" flag: expected auto, always or never: plumbline demo --help lists what there is\n"},
		{"setup alone", []string{"setup"}, 2, "plumbline: no command given: expected one of check, new; plumbline setup --help says more\n"},
		{"setup, unknown", []string{"setup", "chekc"}, 2, "plumbline: unknown command \"chekc\": did you mean check\n"},
		{"setup check, nothing", []string{"setup", "check"}, 2, "plumbline: check takes one setup file, got 0: plumbline setup check SETUP\n"},
		{"setup check, gone", []string{"setup", "check", "gone.yaml"}, 2, "plumbline: setup: open gone.yaml: no such file or directory: did you mean one.yaml\n"},
		{"setup new, nothing", []string{"setup", "new"}, 2, "plumbline: setup new needs at least one DBC file: plumbline setup new --dbc FILE\n"},
		{"setup new, gone", []string{"setup", "new", "--dbc", "gone.dbc"}, 2, "plumbline: first setup: open gone.dbc: no such file or directory: the folder has broken.dbc, vehicle.dbc\n"},
		{"setup new, over a file", []string{"setup", "new", "--dbc", "vehicle.dbc", "-o", "there.yaml"}, 2, "plumbline: there.yaml is there already: name another file, or remove it first\n"},
		{"replay, nothing", []string{"replay"}, 2, "plumbline: replay needs a setup and at least one capture: plumbline replay SETUP CAPTURE...\n"},
		{"replay, the wrong way round", []string{"replay", "empty.log", "one.yaml"}, 2, "plumbline: empty.log is a recording by its name: the setup goes first, as in plumbline replay SETUP CAPTURE\n"},
		{"replay, PDF", []string{"replay", "one.yaml", "empty.log", "-o", "report.pdf"}, 2, "plumbline: report.pdf: PDF is not written here: write NAME.html and print that\n"},
		{"replay, a folder as setup", []string{"replay", ".", "empty.log"}, 2, "plumbline: setup: . is a folder: name the setup file in it, as in setup.yaml\n"},
		{"run, nothing", []string{"run"}, 2, "plumbline: run takes one setup file, got 0: plumbline run SETUP\n"},
		{"listen, guess at nothing", []string{"listen", "./tty", "--guess"}, 2, "plumbline: there is no ./tty: plug the adapter in, or name its device, as in /dev/ttyUSB0\n"},
		{"replay, format", []string{"replay", "one.yaml", "empty.log", "-f", "xml"}, 2, "plumbline: unknown format \"xml\": expected one of text, json, junit, html, summary, markdown, lines\n"},
		{"replay, standard input twice", []string{"replay", "one.yaml", "-", "-"}, 2, "plumbline: standard input can be read once: give - once\n"},
		{"replay, setup gone", []string{"replay", "gone.yaml", "empty.log"}, 2, "plumbline: setup: open gone.yaml: no such file or directory: did you mean one.yaml\n"},
		{"replay, no folder", []string{"replay", "one.yaml", "empty.log", "-o", "gone/out.txt"}, 2, "plumbline: output gone/out.txt: no such file or directory: there is no folder gone\n"},
		{"replay, into a folder", []string{"replay", "one.yaml", "empty.log", "-o", "."}, 2, "plumbline: . is a folder: name a file in it\n"},
		{"run, open to others", []string{"run", "one.yaml", "--listen", "0.0.0.0:0"}, 2, "plumbline: --listen 0.0.0.0:0 can be reached by others, who could read the page and confirm steps of the test: give a web configuration with basic_auth_users by --web-config FILE, or add --insecure\n"},
		{"run, web configuration gone", []string{"run", "one.yaml", "--web-config", "gone.yaml"}, 2, "plumbline: --web-config: web configuration: open gone.yaml: no such file or directory: did you mean one.yaml\n"},
		{"run, host with a port", []string{"run", "one.yaml", "--host", "bench-3:8474"}, 2, "plumbline: --host is \"bench-3:8474\": write a name alone, without scheme and port, as in bench-3.example\n"},
		{"demo, web configuration gone", []string{"demo", "--listen", "127.0.0.1:0", "--web-config", "gone.yaml"}, 2, "plumbline: --web-config: web configuration: open gone.yaml: no such file or directory: did you mean one.yaml\n"},
		{"run, no port", []string{"run", "one.yaml", "--listen", "8474"}, 2, "plumbline: --listen is \"8474\": write HOST:PORT, as in 127.0.0.1:8474\n"},
		{"compare, one", []string{"compare", "a.json"}, 2, "plumbline: compare takes two tests, BEFORE and AFTER, got 1: plumbline compare BEFORE AFTER\n"},
		{"compare, format", []string{"compare", "a.json", "b.json", "-f", "junit"}, 2, "plumbline: unknown format \"junit\": expected one of text, json, html\n"},
		{"compare, fail on", []string{"compare", "a.json", "b.json", "--fail-on", "all"}, 2, "plumbline: --fail-on \"all\": expected moved or limit\n"},
		{"compare, gone", []string{"compare", "gone.json", "gone.json"}, 3, "plumbline: open gone.json: no such file or directory: the folder has other.json\n"},
		{"compare, no result", []string{"compare", "other.json", "other.json"}, 3, "plumbline: other.json: daemon: not a result of plumbline\n"},
		{"compare, recording without a setup", []string{"compare", "empty.log", "noise.bin"}, 2, "plumbline: empty.log, noise.bin: no result: add --setup SETUP to have a recording judged\n"},
		{"compare, empty recordings", []string{"compare", "--setup", "one.yaml", "empty.log", "empty.log"}, 3, "plumbline: empty.log holds no frame: expected a recording of the running amplifier\n"},
		{"compare, neither there", []string{"compare", "emty.log", "noise.bin"}, 2, "plumbline: stat emty.log: no such file or directory: did you mean empty.log\n"},
		{"history, gone", []string{"history", "gone"}, 3, "plumbline: stat gone: no such file or directory: name the folder of the results\n"},
		{"checks, nearly", []string{"checks", "zeros"}, 2, "plumbline: no check \"zeros\": did you mean zero: expected one of " + strings.Join(checkNames(), ", ") + "\n"},
		{"history, a file", []string{"history", "one.yaml"}, 2, "plumbline: one.yaml is a file: name the folder of the results\n"},
		{"history, serial", []string{"history", ".", "--serial", "x"}, 2, "plumbline: --serial \"x\": expected a serial number, as in 40117\n"},
		{"listen, nothing", []string{"listen"}, 2, "plumbline: listen takes one source, got 0: plumbline listen SOURCE [--dbc FILE]...\n"},
		{"listen, gone", []string{"listen", "gone.log"}, 3, "plumbline: open gone.log: no such file or directory: the folder has empty.log\n"},
		{"listen, empty", []string{"listen", "empty.log"}, 3, "plumbline: empty.log holds no frame\n"},
		{"listen, no recording", []string{"listen", "noise.bin"}, 3, "plumbline: noise.bin: not a recording of a bus: expected candump -L text, pcapng or pcap, each also packed with gzip or zstd; it begins with 01 02 03 04 05 06 07 08\n"},
		{"listen, DBC gone", []string{"listen", "empty.log", "--dbc", "gone.dbc"}, 2, "plumbline: DBC: open gone.dbc: no such file or directory: the folder has broken.dbc, vehicle.dbc\n"},
		{"demo, argument", []string{"demo", "FL"}, 2, "plumbline: demo takes no argument, got 1: plumbline demo [--fault KIND:CORNER[=VALUE]]...\n"},
		{"demo, corners", []string{"demo", "--corners", "3"}, 2, "plumbline: --corners 3: expected 1, 2, 4, 6 or 8\n"},
		{"demo, speed", []string{"demo", "--speed", "-1"}, 2, "plumbline: --speed -1: expected 0 or more\n"},
		{"demo, fault", []string{"demo", "--fault", "zreo:FL"}, 2, "plumbline: simulated: fault \"zreo\": no such kind, the nearest is \"zero\"; plumbline demo --list-faults lists them\n"},
		{"demo, corner", []string{"demo", "--fault", "zero:XX"}, 2, "plumbline: simulated: fault zero: subject \"XX\": want corners out of FL, FR, RL, RR\n"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := call(t, test.args...)
			if got.code != test.code {
				t.Errorf("exit code: got %d, want %d", got.code, test.code)
			}
			want := strings.ReplaceAll(test.want, "PID", pid())
			if diff := cmp.Diff(got.errors, want); diff != "" {
				t.Errorf("standard error, got before want:\n%s", diff)
			}
			if got.out != "" && got.code == 2 {
				t.Errorf("standard output: got %q, want nothing", got.out)
			}
		})
	}
	if text, err := os.ReadFile("there.yaml"); err != nil || string(text) != "kept" {
		t.Errorf("there.yaml: got %q, %v, want it untouched", text, err)
	}
	noneUnfinished(t)
}

// TestSetupFaults: every fault with its place, then a sentence.
func TestSetupFaults(t *testing.T) {
	yard(t, map[string]string{"bad.yaml": "vehicle: X\nsauces: []\ncorners: []\n"})
	for _, args := range [][]string{{"setup", "check", "bad.yaml"}, {"replay", "bad.yaml", "empty.log"}} {
		got := call(t, args...)
		lines := strings.Split(strings.TrimSpace(got.errors), "\n")
		if got.code != 2 || len(lines) < 2 || !strings.HasPrefix(lines[0], "bad.yaml:") || !strings.HasPrefix(lines[len(lines)-1], "plumbline: ") {
			t.Errorf("%v: got exit code %d and\n%s", args, got.code, got.errors)
		}
	}
}

// TestSetupNamesNoFile: a DBC file that is not there is told with the one that may be meant.
func TestSetupNamesNoFile(t *testing.T) {
	yard(t, nil)
	text, err := os.ReadFile("one.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"vehicel.dbc": "there is no file vehicel.dbc: did you mean vehicle.dbc\n",
		"any.layout":  "there is no file any.layout: write its path from the folder of the setup file, or the whole path\n",
	} {
		if err := os.WriteFile("two.yaml", bytes.ReplaceAll(text, []byte("vehicle.dbc"), []byte(name)), 0o600); err != nil {
			t.Fatal(err)
		}
		if got := call(t, "setup", "check", "two.yaml"); got.code != 2 || !strings.Contains(got.errors, want) {
			t.Errorf("got %d and %q, want %q", got.code, got.errors, want)
		}
	}
}

func TestSetupCheck(t *testing.T) {
	yard(t, nil)
	got := call(t, "setup", "check", "one.yaml")
	want := called{0, "one.yaml is right: Minibus 7, 1 corner, 2 optical sensors, 19 channels on 1 source\n", ""}
	if diff := cmp.Diff(got, want, cmp.AllowUnexported(called{})); diff != "" {
		t.Errorf("got before want:\n%s", diff)
	}
}

// TestSetupNew: the paths in the file are relative to it, wherever it is written.
func TestSetupNew(t *testing.T) {
	yard(t, nil)
	if err := os.Mkdir("setups", 0o755); err != nil {
		t.Fatal(err)
	}
	got := call(t, "setup", "new", "--dbc", "vehicle.dbc", "-o", "setups/first.yaml")
	if got.code != 0 || got.out != "" || got.errors != "plumbline: wrote setups/first.yaml: complete it, then run plumbline setup check setups/first.yaml\n" {
		t.Errorf("got %+v", got)
	}
	text, err := os.ReadFile("setups/first.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(text), "../vehicle.dbc") || !strings.Contains(string(text), "FL") {
		t.Errorf("got\n%s", text)
	}
	check := call(t, "setup", "check", "setups/first.yaml")
	if strings.Contains(check.errors, "vehicle.dbc: no such") {
		t.Errorf("the DBC file is not found from there:\n%s", check.errors)
	}
	onto := call(t, "setup", "new", "--dbc", "vehicle.dbc")
	if onto.code != 0 || !strings.Contains(onto.out, "vehicle.dbc") || strings.Contains(onto.out, "../vehicle.dbc") {
		t.Errorf("on standard output: got %+v", onto)
	}
}

const listenDBC = `VERSION ""
BU_:
BO_ 256 FL_Forces: 4 Amplifier
 SG_ Fx : 7|16@0- (0.5,0) [0|0] "N" Vector__XXX
 SG_ Fz : 23|16@0- (0.5,0) [0|0] "N" Vector__XXX
BO_ 2566845186 Road: 2 Amplifier
 SG_ Vx : 7|16@0- (0.01,0) [0|0] "km/h" Vector__XXX
 SG_ Far : 23|16@0- (1,0) [0|0] "" Vector__XXX
`

// listenLog is two seconds of a bus: a steady message with a gap, one of 29 bits, a
// single one, an error frame, a remote frame, a mark and a cut-off end.
func listenLog() string {
	var b strings.Builder
	b.WriteString("# rig: written by a test\n")
	for i := range 200 {
		if i == 100 {
			b.WriteString("# mark: turn FL\n")
		}
		if i >= 120 && i < 130 {
			continue
		}
		fmt.Fprintf(&b, "(1700000000.%06d) can0 100#%04X%04X\n", i*4000, 200+i, 65536-200-i)
		if i%10 == 0 {
			fmt.Fprintf(&b, "(1700000000.%06d) can1 18FF0102#%04X\n", i*4000+50, i)
		}
	}
	b.WriteString("(1700000000.900000) can0 7FF#\n(1700000000.900000) can0 20000020#0000000000000000\n(1700000000.900000) can1 123#R\n")
	b.WriteString("(1700000001.000000) can0 10")
	return b.String()
}

func TestListen(t *testing.T) {
	yard(t, map[string]string{"drive.log": listenLog(), "drive.dbc": listenDBC})
	bare := call(t, "listen", "drive.log")
	decoded := call(t, "listen", "drive.log", "--dbc", "drive.dbc")
	for _, c := range []called{bare, decoded} {
		if c.code != 0 || c.errors != "" {
			t.Errorf("got exit code %d, %q", c.code, c.errors)
		}
	}
	t.Chdir(home)
	golden(t, "listen.txt", bare.out)
	golden(t, "listen-dbc.txt", decoded.out)
}

// home is the folder of the tests, where the golden files are.
var home, _ = os.Getwd()

func TestHelp(t *testing.T) {
	for _, args := range [][]string{{"--help"}, {"help", "replay"}, {"setup", "new", "--help"}, {"completion", "bash"}, {"version"}, {"demo", "--list-faults"}} {
		got := call(t, args...)
		if got.code != 0 || got.errors != "" || len(got.out) < 10 {
			t.Errorf("%v: got exit code %d, %q, %d bytes", args, got.code, got.errors, len(got.out))
		}
	}
}

// noneUnfinished fails where a file that is written beside another was left.
func noneUnfinished(t *testing.T) {
	t.Helper()
	left, err := filepath.Glob(".*.tmp")
	if err != nil || len(left) > 0 {
		t.Errorf("unfinished files: %v, %v", left, err)
	}
}
