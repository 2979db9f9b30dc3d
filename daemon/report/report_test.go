package report

import (
	"bytes"
	"encoding/xml"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"

	"plumbline/checks"
	"plumbline/daemon"
)

var update = flag.Bool("update", false, "write the golden files")

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// golden compares got with testdata/name, whole.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v (go test -update writes it)", err)
	}
	if diff := cmp.Diff(string(got), string(want)); diff != "" {
		t.Errorf("%s: got before want:\n%s", file, diff)
	}
}

// base is a result with nothing in it but its heading.
func base(file string, v checks.Verdict) daemon.Result {
	return daemon.Result{
		Schema: daemon.Schema, Program: "plumbline (test)", Verdict: v,
		Setup:    daemon.SetupFile{File: "minibus.yaml", SHA256: strings.Repeat("ab", 32), Vehicle: "Minibus 7"},
		Captures: []daemon.Capture{{File: file, Frames: 123456, First: 1767322845_000000000, Last: 1767322967_500000000, Warnings: []string{}}},
	}
}

// faulty is a result with something of everything.
func faulty() daemon.Result {
	r := base("drive.log", checks.Fail)
	r.Captures[0].Warnings = []string{"drive.log:12: cut off in the middle of a line, left out"}
	r.Next = "Exchange the plugs of RL and RR"
	const deg float64 = 0.017453292519943295
	for _, s := range []string{"FL", "FR", "RL", "RR"} {
		r.Findings = append(r.Findings,
			daemon.Finding{Check: "alive", Subject: s, Verdict: checks.Pass, Required: true, Sentence: "all messages arrive"},
			daemon.Finding{Check: "zero", Subject: s, Channel: "fx", Verdict: checks.Pass, Required: true, Value: new(12.345), Uncertainty: new(0.456), Limit: new(60.0), Unit: "N"},
			daemon.Finding{Check: "zero", Subject: s, Channel: "my", Required: true, Limit: new(12.0), Unit: "N·m", Sentence: "My needs both directions, only forward was seen", Next: "turn the wheel back by one turn"},
			daemon.Finding{Check: "weight", Subject: s, Verdict: checks.Pass, Required: true, Value: new(0.9987), Uncertainty: new(0.0031), Limit: new(0.05)},
			daemon.Finding{Check: "angle-offset", Subject: s, Verdict: checks.Pass, Required: true, Value: new(-0.004 * deg), Uncertainty: new(0.05 * deg), Limit: new(deg), Unit: "rad"},
			daemon.Finding{Check: "angle-slip", Subject: s, Sentence: "no drive yet"},
			daemon.Finding{Check: "load", Subject: s, Verdict: checks.Pass, Required: true, Value: new(7912.3), Limit: new(790.0), Unit: "N"},
		)
	}
	r.Findings[1].Verdict, r.Findings[1].Value = checks.Fail, new(93.21)
	r.Findings[1].Sentence, r.Findings[1].Next = "Fx reads 93.2 N without load", "tare Fx of FL by -93.2 N and turn the wheel again"
	for i := range r.Findings {
		if f := &r.Findings[i]; f.Check == "alive" && (f.Subject == "RL" || f.Subject == "RR") {
			f.Check, f.Verdict, f.Cause, f.Sentence = "placement", checks.Fail, "exchanged", "forces answer elsewhere"
		}
	}
	r.Findings = append(r.Findings,
		daemon.Finding{Check: "load", Subject: "vehicle", Verdict: checks.Fail, Required: true, Value: new(30900.0), Uncertainty: new(12.0), Limit: new(1544.0), Unit: "N", Sentence: "the corner loads add up to 30.9 kN"},
		daemon.Finding{Check: "tomorrow", Subject: "a newer one", Verdict: checks.Pass, Value: new(1.0)},
		daemon.Finding{Check: "identity", Subject: "road", Verdict: checks.Absent},
		daemon.Finding{Check: "alive", Subject: "wheels", Verdict: checks.Pass, Required: true},
	)
	r.Causes = []daemon.Cause{{ID: "exchanged", Subjects: []string{"RL", "RR"}, Sentence: "RL harness and RR harness are exchanged", Next: "exchange the plugs of RL and RR at the amplifier, then turn RL once", Explains: []string{"placement/RL", "placement/RR"}}}
	for i := range r.Findings {
		if f := &r.Findings[i]; f.Required && f.Verdict == checks.Inconclusive {
			r.Open = append(r.Open, f.Name())
		}
	}
	r.Confirmations = []daemon.Confirmation{
		{ID: "wheel-bolts", Text: "Wheel bolts tightened in sequence with a torque wrench", Unit: "N·m", Min: new(150.0), Max: new(170.0), State: daemon.StateOpen},
		{ID: "cable", Text: "Cable arm fixed at the hub and at both body anchors", State: daemon.StateOpen},
	}
	r.Deviations = []daemon.Deviation{
		{Step: "roll", Text: "Rolled half a turn of each wheel", Reason: "no room in front of the bay", Initials: "AB"},
		{Step: "turn/RL", Reason: "left open"},
	}
	return r
}

func good() daemon.Result {
	r := base("good.log", checks.Pass)
	r.Findings = []daemon.Finding{{Check: "alive", Subject: "FL", Verdict: checks.Pass, Required: true, Sentence: "all messages arrive"}}
	return r
}

func unusable() daemon.Result {
	r := base("gone.log", checks.Inconclusive)
	r.Captures[0] = daemon.Capture{File: "gone.log", Warnings: []string{"gone.log: no such file"}, Unusable: "gone.log: no such file"}
	return r
}

// wide is a result of eight corners, whose values do not fit side by side.
func wide() daemon.Result {
	r := base("eight.log", checks.Pass)
	for _, s := range []string{"A1L", "A1R", "A2L", "A2R", "A3L", "A3R", "A4L", "A4R"} {
		r.Findings = append(r.Findings, daemon.Finding{
			Check: "zero", Subject: s, Channel: "fx", Verdict: checks.Pass, Required: true,
			Value: new(-1234.5), Uncertainty: new(0.25), Limit: new(2000.0), Unit: "N",
		})
	}
	return r
}

func TestText(t *testing.T) {
	tests := []struct {
		name    string
		results []daemon.Result
		style   Style
	}{
		{"faulty", []daemon.Result{faulty()}, Style{}},
		{"colour", []daemon.Result{faulty()}, Style{Colour: true}},
		{"ascii", []daemon.Result{faulty()}, Style{ASCII: true}},
		{"narrow", []daemon.Result{faulty()}, Style{Width: 60}},
		{"wide", []daemon.Result{wide()}, Style{}},
		{"several", []daemon.Result{good(), unusable()}, Style{}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var out bytes.Buffer
			if err := Text(&out, test.results, test.style); err != nil {
				t.Fatal(err)
			}
			golden(t, test.name+".txt", out.Bytes())
			if test.style.Colour {
				return
			}
			for line := range strings.Lines(out.String()) {
				line = strings.TrimSuffix(line, "\n")
				if test.name != "narrow" && utf8.RuneCountInString(line) > test.style.width() {
					t.Errorf("line of %d columns, at most %d: %q", utf8.RuneCountInString(line), test.style.width(), line)
				}
				if strings.TrimRight(line, " ") != line {
					t.Errorf("blanks at the end of %q", line)
				}
				if test.style.ASCII && strings.ContainsFunc(line, func(r rune) bool { return r > 127 }) {
					t.Errorf("not ASCII: %q", line)
				}
			}
		})
	}
}

// TestTextSaysNothingOfSafety holds the renderer to the one thing it never says.
func TestTextSaysNothingOfSafety(t *testing.T) {
	var out bytes.Buffer
	if err := Text(&out, []daemon.Result{good()}, Style{}); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(strings.ToLower(out.String()), "safe to") {
		t.Errorf("the text speaks of safety:\n%s", &out)
	}
	if !strings.Contains(out.String(), "plumbline is an aid") {
		t.Errorf("the caution is missing:\n%s", &out)
	}
}

// TestTextOfHostileNames: what comes from a file cannot steer the terminal.
func TestTextOfHostileNames(t *testing.T) {
	r := good()
	r.Captures[0].File = "a\x1b[2J\nb.log"
	r.Findings[0].Subject = "F\x07L"
	var out bytes.Buffer
	if err := Text(&out, []daemon.Result{r}, Style{}); err != nil {
		t.Fatal(err)
	}
	if strings.ContainsAny(out.String(), "\x1b\x07") {
		t.Errorf("control characters in %q", out.String())
	}
}

func TestJUnit(t *testing.T) {
	tests := []struct {
		name    string
		results []daemon.Result
	}{
		{"faulty", []daemon.Result{faulty()}},
		{"several", []daemon.Result{good(), unusable(), good()}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var out bytes.Buffer
			if err := JUnit(&out, test.results); err != nil {
				t.Fatal(err)
			}
			golden(t, test.name+".xml", out.Bytes())
			names := map[string]bool{}
			for _, c := range cases(t, out.Bytes()) {
				if names[c.Name] {
					t.Errorf("name %q twice", c.Name)
				}
				names[c.Name] = true
			}
		})
	}
}

// suites is a document as a CI machine reads it.
type suites struct {
	XMLName  xml.Name `xml:"testsuites"`
	Name     string   `xml:"name,attr"`
	Tests    int      `xml:"tests,attr"`
	Failures int      `xml:"failures,attr"`
	Errors   int      `xml:"errors,attr"`
	Skipped  int      `xml:"skipped,attr"`
	Suites   []suite  `xml:"testsuite"`
}

// TestJUnitCounts holds the counts against the cases they count.
func TestJUnitCounts(t *testing.T) {
	var out bytes.Buffer
	if err := JUnit(&out, []daemon.Result{faulty(), unusable()}); err != nil {
		t.Fatal(err)
	}
	var got suites
	if err := xml.Unmarshal(out.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	want := got
	want.Tests, want.Failures, want.Errors, want.Skipped = 0, 0, 0, 0
	for _, s := range got.Suites {
		want.Tests += len(s.Cases)
		for _, c := range s.Cases {
			want.Failures += count(c.Failure)
			want.Errors += count(c.Error)
			want.Skipped += count(c.Skipped)
		}
	}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("got before want:\n%s", diff)
	}
	// by hand from faulty: zero fx FL, placement RL, placement RR, load vehicle; four zero my; four angle-slip, one absent
	if got.Failures != 4 || got.Errors != 4+1 || got.Skipped != 5 {
		t.Errorf("got %d failures, %d errors, %d skipped, want 4, 5, 5", got.Failures, got.Errors, got.Skipped)
	}
}

func count(o *outcome) int {
	if o == nil {
		return 0
	}
	return 1
}

// FuzzJUnit: whatever a name holds, the document is XML that reads back.
func FuzzJUnit(f *testing.F) {
	for _, s := range []string{"", "FL", "a\x00\x1b\x7f\u0085b", "]]>", "<&\"'>", "\xff\xfe", "\ufffe\uffff", "\U0001f600", "a\r\nb\tc"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		r := faulty()
		r.Captures[0].File, r.Captures[0].Warnings = s, []string{s}
		r.Findings[1].Subject, r.Findings[1].Channel, r.Findings[1].Sentence, r.Findings[1].Next = s, s, s, s
		r.Causes[0].Sentence = s
		var out bytes.Buffer
		if err := JUnit(&out, []daemon.Result{r}); err != nil {
			t.Fatal(err)
		}
		if got, want := len(cases(t, out.Bytes())), len(r.Findings)+1; got != want {
			t.Errorf("got %d cases, want %d", got, want)
		}
	})
}

func cases(t *testing.T, document []byte) []testcase {
	t.Helper()
	var s suites
	if err := xml.Unmarshal(document, &s); err != nil {
		t.Fatalf("%v in\n%s", err, document)
	}
	var all []testcase
	for _, suite := range s.Suites {
		all = append(all, suite.Cases...)
	}
	return all
}
