package report

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"math"
	"reflect"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// plain is a setup with the corners of a result.
func plain(names ...string) *setup.Setup {
	s := &setup.Setup{
		File: "minibus.yaml", SHA256: strings.Repeat("ab", 32), Vehicle: "Minibus 7",
		DBC:    []setup.DBCFile{{Path: "wheels.dbc", SHA256: strings.Repeat("cd", 32)}},
		Checks: checks.Setup{MassKg: 3150},
	}
	for i, name := range names {
		c := checks.Corner{
			Name: name, Axle: i/2 + 1, Side: checks.Side(i % 2), AngleCounts: 2048, Bolts: 5, WheelMassKg: 34, OverhangM: 0.012,
			LoadN: 7900, Serial: 40117 + uint64(i), HasSerial: true, Channels: checks.NoChannels(),
		}
		c.Channels[checks.Serial] = int32(i)
		s.Checks.Corners = append(s.Checks.Corners, c)
	}
	return s
}

// turned is what corners show after a turn: a weight of 333 N about a zero of (12, −5) N.
func turned(corners int) *checks.Now {
	n := &checks.Now{At: 1}
	for i := range corners {
		c := checks.CornerState{Turns: 6, Zero: complex(12, -5), Weight: complex(0, -333)}
		for j := range 128 {
			sin, cos := math.Sincos(float64(j) * math.Pi / 64)
			c.Points = append(c.Points, checks.TurnPoint{Theta: float64(j) * math.Pi / 64, Fx: 12 + 333*sin, Fz: -5 - 333*cos})
		}
		n.Corners = append(n.Corners, c)
		n.Channels = append(n.Channels, checks.ChannelState{Known: true, Value: 40117 + float64(i)})
	}
	return n
}

// full is a document with something of everything.
func full() Document {
	r := faulty()
	r.Findings = append(r.Findings, daemon.Finding{Check: "zero", Subject: "FL", Channel: "fz", Verdict: checks.Pass, Required: true, Value: new(-5.0), Uncertainty: new(0.3), Limit: new(60.0), Unit: "N"})
	return Document{
		Laboratory: "Bench 2, Example Street 1", Performed: "A. B.", Issued: 1767326400_000000000, Amends: "PL-0",
		Setup: plain("FL", "FR", "RL", "RR"),
		Tests: []Test{{
			Result: r, Now: turned(4), Recordings: []File{{"drive.log", strings.Repeat("ef", 32)}},
			Given:      []Given{{ID: "wheel-bolts", Value: new(175.5), Initials: "A. B.", At: 1767325000_000000000}},
			Deviations: []Deviation{{Step: "roll a metre", Reason: "no room in front of the bay", Initials: "A. B.", At: 1767325100_000000000}},
		}},
	}
}

func render(t testing.TB, doc Document) string {
	t.Helper()
	var out bytes.Buffer
	if err := HTML(&out, doc); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// text is what a person reads, without markup, style and data.
func textOf(document string) string {
	_, document, _ = strings.Cut(document, "<body>")
	document, _, _ = strings.Cut(document, "<script")
	return strings.Join(strings.Fields(html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(document, " "))), " ")
}

// outline lists headings and heads of tables, and counts what is below them.
func outline(document string) []byte {
	var out bytes.Buffer
	rows, pictures := 0, 0
	flush := func() {
		if rows > 0 || pictures > 0 {
			fmt.Fprintf(&out, "      %d rows, %d pictures\n", rows, pictures)
		}
		rows, pictures = 0, 0
	}
	for _, m := range regexp.MustCompile(`(?s)<(h1|h2|h3|thead)\b[^>]*>(.*?)</(?:h1|h2|h3|thead)>|<tr\b|<svg viewBox`).FindAllStringSubmatch(document, -1) {
		switch {
		case m[1] == "" && strings.HasPrefix(m[0], "<tr"):
			rows++
		case m[1] == "":
			pictures++
		default:
			flush()
			fmt.Fprintf(&out, "%-5s %s\n", m[1], textOf("<body>"+m[2]))
		}
	}
	flush()
	return out.Bytes()
}

func TestHTMLStructure(t *testing.T) {
	for _, l := range []Language{English, German} {
		t.Run(string(l), func(t *testing.T) {
			doc := full()
			doc.Language = l
			golden(t, "outline."+string(l)+".txt", outline(render(t, doc)))
		})
	}
}

func TestHTMLShowsEveryFinding(t *testing.T) {
	doc := full()
	document := render(t, doc)
	for i := range doc.Tests[0].Result.Findings {
		name := doc.Tests[0].Result.Findings[i].Name()
		if n := strings.Count(document, `data-finding="`+html.EscapeString(name)+`"`); n != 1 {
			t.Errorf("%s is there %d times, want once", name, n)
		}
	}
}

func TestHTMLSays(t *testing.T) {
	doc := full()
	tests := []struct {
		name string
		lang Language
		want []string
	}{
		{"english", English, []string{
			"FAIL", "failed: 4", "required and not judged: 4", "confirmations open: 2", "RL, RR RL harness and RR harness are exchanged",
			"Explains : RL placement; RR placement", "Failures that the causes above explain, and that stand in the tables: 2.",
			"FL zero fx Fx reads 93.2 N without load tare Fx of FL by -93.2 N and turn the wheel again",
			"zero fx 93.21 ± 0.46 N ± 60", "weight 0.9987 ± 0.0031 1 ± 0.05", "load 7912 N 7900 ± 790", "load 30900 ± 12 N 30891 ± 1544",
			"150 – 170 N·m out of range 175.5 N·m A. B. 2026-01-02 03:36:40 UTC", "roll a metre no room in front of the bay A. B.",
			"JCGM 106:2012", "below 2.5 %", "relate only to the items tested", "It claims no accreditation", "Replaces report PL-0",
			"FL, FR, RL, RR angle-slip not judged no drive yet", "road identity nothing to judge by", "It hangs with 333.0 N.",
			strings.Repeat("ab", 32), strings.Repeat("cd", 32), strings.Repeat("ef", 32), "End of report PL-20260102-030045-", "40120",
			"drive.log:12: cut off in the middle of a line, left out", "Not possible because",
		}},
		{"german", German, []string{
			"FEHLER", "nicht bestanden: 4", "zero fx 93,21 ± 0,46 N ± 60", "weight 0,9987 ± 0,0031 1 ± 0,05", "175,5 N·m",
			"kleiner als 2,5 %", "Ende des Berichts PL-20260102-030045-", "Es hängt mit 333,0 N.",
		}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			doc.Language = test.lang
			document := render(t, doc)
			got := textOf(document)
			for _, want := range test.want {
				if !strings.Contains(got, want) {
					t.Errorf("missing: %q", want)
				}
			}
			if t.Failed() {
				t.Log(got)
			}
			for _, never := range []string{"safe to", "fahrsicher", "ZgotmplZ", "<no value>"} {
				if strings.Contains(strings.ToLower(document), strings.ToLower(never)) {
					t.Errorf("says %q", never)
				}
			}
			if n := strings.Count(document, `class="tick-box"`); n != 1 {
				t.Errorf("got %d empty boxes, want 1", n)
			}
		})
	}
}

// TestCatalogue: no sentence is missing in a language, and formats agree.
func TestCatalogue(t *testing.T) {
	verbs := regexp.MustCompile(`%[a-z]`)
	en, de := reflect.ValueOf(english()), reflect.ValueOf(german())
	for i := range en.NumField() {
		name := en.Type().Field(i).Name
		for _, v := range []reflect.Value{en.Field(i), de.Field(i)} {
			if v.IsZero() || v.Kind() != reflect.String && v.Len() != en.Field(i).Len() {
				t.Errorf("%s is missing, or has not as many entries as in English", name)
			}
		}
		if en.Field(i).Kind() == reflect.String {
			if got, want := verbs.FindAllString(de.Field(i).String(), -1), verbs.FindAllString(en.Field(i).String(), -1); !cmp.Equal(got, want) {
				t.Errorf("%s: got formats %q, want %q", name, got, want)
			}
		}
	}
	for _, c := range checks.All() {
		if en, de := english().Groups[c.Group], german().Groups[c.Group]; en == "" || de == "" {
			t.Errorf("group %q has no name", c.Group)
		}
	}
}

func TestHTMLSameBytes(t *testing.T) {
	if diff := cmp.Diff(render(t, full()), render(t, full())); diff != "" {
		t.Error(diff)
	}
}

// TestIdentify: another value is another report, another language is not.
func TestIdentify(t *testing.T) {
	a, b := full(), full()
	b.Tests[0].Result.Findings[0].Sentence += "."
	first, err := Identify(a.Tests)
	if err != nil {
		t.Fatal(err)
	}
	second, err := Identify(b.Tests)
	if err != nil {
		t.Fatal(err)
	}
	if first == second {
		t.Errorf("got %s for both", first)
	}
	if !strings.HasPrefix(first, "PL-20260102-030045-") {
		t.Errorf("got %s, want the time of the first frame in it", first)
	}
}

// TestHTMLAsksNoAddress: nothing is loaded, the browser is told so, and no script runs.
func TestHTMLAsksNoAddress(t *testing.T) {
	document := strings.ReplaceAll(render(t, full()), `xmlns="http://www.w3.org/2000/svg"`, "")
	for _, never := range []string{"http:", "https:", "//", "url(", "@import", "src=", "<link", "<img", "<iframe", "onload", "onclick"} {
		style, rest, _ := strings.Cut(document, `<script type="application/json"`)
		if strings.Contains(style, never) || never != "//" && strings.Contains(rest, never) {
			t.Errorf("%q is in the document", never)
		}
	}
	if !strings.Contains(document, `content="default-src 'none'; style-src 'unsafe-inline'"`) {
		t.Error("no content security policy")
	}
}

func resultOf(t testing.TB, document string) []byte {
	t.Helper()
	_, rest, ok := strings.Cut(document, `<script type="application/json" id="result">`)
	text, _, end := strings.Cut(rest, "</script>")
	if !ok || !end {
		t.Fatal("no result in the document")
	}
	return []byte(text)
}

// TestHTMLCarriesTheResult: what is embedded is what Encode writes.
func TestHTMLCarriesTheResult(t *testing.T) {
	for _, results := range [][]daemon.Result{{faulty()}, {good(), unusable()}} {
		var doc Document
		for _, r := range results {
			doc.Tests = append(doc.Tests, Test{Result: r})
		}
		var want bytes.Buffer
		if err := daemon.Encode(&want, results); err != nil {
			t.Fatal(err)
		}
		var got, wanted any
		if err := errors.Join(json.Unmarshal(resultOf(t, render(t, doc)), &got), json.Unmarshal(want.Bytes(), &wanted)); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(got, wanted); diff != "" {
			t.Errorf("got before want:\n%s", diff)
		}
	}
}

// TestHTMLWithLittle: nothing of a document but its test is needed, and not even findings.
func TestHTMLWithLittle(t *testing.T) {
	document := textOf(render(t, Document{Tests: []Test{{Result: unusable()}, {Result: good()}}}))
	for _, want := range []string{"The recording could not be judged.", "gone.log: no such file", "1 of 2: gone.log", "2 of 2: good.log", "not known"} {
		if !strings.Contains(document, want) {
			t.Errorf("missing: %q in\n%s", want, document)
		}
	}
	if err := HTML(&bytes.Buffer{}, Document{}); err == nil {
		t.Error("a document without a test is none")
	}
}

// hostile puts a text wherever a name can stand.
func hostile(s string) Document {
	doc := full()
	t := &doc.Tests[0]
	r := &t.Result
	doc.ID, doc.Program, doc.Laboratory, doc.Item, doc.Amends = s, s, s, s, s
	r.Setup.Vehicle, r.Setup.File, r.Captures[0].File, r.Captures[0].Warnings = s, s, s, []string{s}
	doc.Setup.DBC[0].Path, doc.Setup.Checks.Corners[0].Tyre, doc.Setup.Checks.Corners[0].Name = s, s, s
	t.Recordings[0] = File{s, s}
	t.Given[0].Initials, t.Deviations[0] = s, Deviation{Step: s, Reason: s, Initials: s}
	for i := range r.Findings {
		f := &r.Findings[i]
		f.Sentence, f.Next, f.Unit = s, s, s
		if f.Subject == "FL" {
			f.Subject = s
		}
	}
	r.Findings[0].Check, r.Findings[1].Channel = s, s
	r.Causes[0].Sentence, r.Causes[0].Next, r.Causes[0].Explains = s, s, []string{s}
	r.Confirmations[0].Text, r.Confirmations[0].Unit, r.Confirmations[1].State = s, s, s
	return doc
}

var harmless = sync.OnceValue(func() string {
	var out strings.Builder
	if err := HTML(&out, hostile("harmless")); err != nil {
		panic(err)
	}
	return out.String()
})

// checkHostile holds a document to the markup of one whose names are harmless.
func checkHostile(t *testing.T, s string) {
	t.Helper()
	got, want := render(t, hostile(s)), harmless()
	for _, tag := range []string{"<script", "</script", "<style", "</style", "<img", "<!--", "<b>", "</title", "<body"} {
		if g, w := strings.Count(got, tag), strings.Count(want, tag); g != w {
			t.Errorf("%q: got %s %d times, want %d", s, tag, g, w)
		}
	}
	style := func(document string) string {
		_, rest, _ := strings.Cut(document, "<style>")
		rest, _, _ = strings.Cut(rest, "</style>")
		return regexp.MustCompile(`"[^"\n]*"`).ReplaceAllString(rest, `""`) // a string of it ends where it began
	}
	if diff := cmp.Diff(style(got), style(want)); diff != "" {
		t.Errorf("%q changes the style: got before want:\n%s", s, diff)
	}
	var back daemon.Result
	if err := json.Unmarshal(resultOf(t, got), &back); err != nil {
		t.Fatalf("%q: %v", s, err)
	}
	if g, w := back.Setup.Vehicle, string([]rune(s)); g != w {
		t.Errorf("got %q back, want %q", g, w)
	}
}

func hostileNames() []string {
	return []string{
		`</script><script>alert(1)</script>`, `</style><img src=x onerror=alert(1)>`, `"; } @import url(//example); { "`, `\"\`, `a\`, "a\nb\x00\x1bc",
		`{{.ID}}`, `javascript:alert(1)`, "<!-- ", "]]>", "\u2028", "Tür & Tor: 100 % <b>", "ok\xff", `' onmouseover='alert(1)`, "", strings.Repeat("W", 400),
	}
}

func TestHTMLOfHostileNames(t *testing.T) {
	for _, s := range hostileNames() {
		checkHostile(t, s)
	}
}

func FuzzHTML(f *testing.F) {
	for _, s := range hostileNames() {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) { checkHostile(t, s) })
}

func TestLimitOf(t *testing.T) {
	s := plain("FL")
	s.Checks.Optics = []checks.Optic{{Name: "bar", ClearanceM: 0.2}}
	s.Checks.Limits.RadiusRatio = 0.05
	tests := []struct {
		name string
		f    daemon.Finding
		want string
	}{
		{"none", daemon.Finding{Check: "zero"}, ""},
		{"about nothing", daemon.Finding{Check: "zero", Limit: new(60.0), Unit: "N"}, "± 60"},
		{"about one", daemon.Finding{Check: "angle-spin", Limit: new(0.02)}, "1 ± 0.02"},
		{"size", daemon.Finding{Check: "noise", Limit: new(25.0), Unit: "N"}, "≤ 25"},
		{"corner", daemon.Finding{Check: "load", Subject: "FL", Limit: new(790.0), Unit: "N"}, "7900 ± 790"},
		{"vehicle", daemon.Finding{Check: "load", Subject: "vehicle", Limit: new(1544.547), Unit: "N"}, "30891 ± 1545"},
		{"clearance", daemon.Finding{Check: "clearance", Subject: "bar", Limit: new(0.03), Unit: "m"}, "200 ± 30"},
		{"radius", daemon.Finding{Check: "radius", Subject: "FL", Limit: new(0.0180456), Unit: "m"}, "360.9 ± 18.05"},
		{"below zero", daemon.Finding{Check: "temperature", Verdict: checks.Pass, Value: new(20.0), Limit: new(-40.0), Unit: "°C"}, "≥ −40"},
		{"unknown optic", daemon.Finding{Check: "clearance", Subject: "other", Limit: new(0.03), Unit: "m"}, "± 30"},
		{"above", daemon.Finding{Check: "supply", Verdict: checks.Pass, Value: new(13.5), Limit: new(9.0), Unit: "V"}, "≥ 9"},
		{"not above", daemon.Finding{Check: "supply", Verdict: checks.Fail, Value: new(8.5), Limit: new(9.0), Unit: "V"}, "≥ 9"},
		{"below", daemon.Finding{Check: "temperature", Verdict: checks.Pass, Value: new(31.0), Limit: new(85.0), Unit: "°C"}, "≤ 85"},
		{"not below", daemon.Finding{Check: "temperature", Verdict: checks.Fail, Value: new(90.0), Limit: new(85.0), Unit: "°C"}, "≤ 85"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if got := limitOf(s, &test.f, readable(test.f.Unit)); got != test.want {
				t.Errorf("got %q, want %q", got, test.want)
			}
		})
	}
}
