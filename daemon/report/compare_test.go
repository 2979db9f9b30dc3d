package report

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/compare"
)

// twoTests are before and after a drive: FL fx and mx moved, FR was not turned again, RR got another transducer.
func twoTests() (before, after daemon.Result) {
	make1 := func(file string) daemon.Result {
		r := base(file, checks.Pass)
		for i, corner := range []string{"FL", "FR", "RR"} {
			r.Transducers = append(r.Transducers, daemon.Transducer{
				Corner: corner, Axle: 1 + i/2, Side: []string{"left", "right", "right"}[i], Serial: new(uint64(40117 + i)), SerialFrom: daemon.SerialSent,
				Forces: "rotating", WheelMassKg: 34, AngleCounts: 2048, LowestTempC: new(20.0), HighestTempC: new(22.0),
			})
			add := func(check, channel, unit string, value, u, limit float64, p daemon.Parts) {
				r.Findings = append(r.Findings, daemon.Finding{
					Check: check, Subject: corner, Channel: channel, Verdict: checks.Pass, Value: new(value), Uncertainty: new(u), Parts: &p, Limit: new(limit), Unit: unit,
				})
			}
			add("zero", "fx", "N", 2.5, 1, 60, daemon.Parts{Scatter: 0.4, DOF: 5, Resolution: 0.15})
			add("zero", "mx", "N·m", 0.5, 0.2, 12, daemon.Parts{Scatter: 0.08, DOF: 5, Resolution: 0.02})
			add("weight", "", "", 1.002, 0.002, 0.05, daemon.Parts{Scatter: 0.0008, DOF: 5, Resolution: 0.0002})
			add("drag", "", "N·m", 2.5, 0.3, 12, daemon.Parts{Scatter: 0.1, DOF: 4, Resolution: 0.02})
			add("angle-offset", "", "rad", 0.002, 0.004, 0.017453292519943295, daemon.Parts{Scatter: 0.0001, DOF: 4, Count: 0.0018})
		}
		return r
	}
	before, after = make1("before.log"), make1("after.log")
	after.Captures[0].First += 3600e9
	after.Captures[0].Last += 3600e9
	for i := range after.Findings {
		f := &after.Findings[i]
		switch {
		case f.Subject == "FL" && f.Channel == "fx":
			f.Value = new(43.75)
		case f.Subject == "FL" && f.Channel == "mx":
			f.Value = new(15.0)
		case f.Subject == "FR":
			f.Value, f.Uncertainty, f.Parts, f.Verdict = nil, nil, nil, checks.Inconclusive
			f.Sentence = "FR has turned 0.0 turns forward and 0.0 back while lifted; 1 is the least, 3 give an uncertainty"
			f.Next = "Lift FR and turn it."
		case f.Subject == "RR" && f.Check == "drag":
			f.Value = new(9.0)
		}
	}
	after.Transducers[2].Serial = new(uint64(50233))
	after.Transducers[0].HighestTempC = new(50.0)
	return before, after
}

func comparison() compare.Comparison {
	before, after := twoTests()
	return compare.Compare("plumbline (test)", compare.Of{File: "before.json", Result: &before}, compare.Of{File: "after.json", Result: &after})
}

func TestCompareText(t *testing.T) {
	c := comparison()
	for name, style := range map[string]Style{"compare.txt": {}, "compare-ascii-narrow.txt": {ASCII: true, Width: 60}} {
		var out bytes.Buffer
		if err := CompareText(&out, &c, style); err != nil {
			t.Fatal(err)
		}
		golden(t, name, out.Bytes())
	}
}

// TestCompareJSON: the schema of a comparison is an interface.
func TestCompareJSON(t *testing.T) {
	c := comparison()
	var out bytes.Buffer
	if err := c.Encode(&out); err != nil {
		t.Fatal(err)
	}
	golden(t, "compare.json", out.Bytes())
}

func TestCompareHTML(t *testing.T) {
	c := comparison()
	var first, second bytes.Buffer
	for _, w := range []*bytes.Buffer{&first, &second} {
		if err := CompareHTML(w, &c); err != nil {
			t.Fatal(err)
		}
	}
	document := first.String()
	if document != second.String() {
		t.Error("the same comparison gives different bytes")
	}
	text := textOf(document)
	for _, want := range []string{
		"MOVED", "FL zero fx", "+41.2 N ± 1.3 N", "as a wave once per turn", "FR zero fx, zero mx, weight, drag, angle-offset", "another transducer sits at RR now: 50233",
		"FL 14 °C warmer", "40117", "Correct a zero that moved linearly", "End of PC-20260102-0",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("it does not say %q:\n%s", want, text)
		}
	}
	var back compare.Comparison
	if err := json.Unmarshal(resultOf(t, document), &back); err != nil || back.Verdict != compare.Moved {
		t.Errorf("the comparison in it: %v, %q", err, back.Verdict)
	}
}

// TestCompareOfHostileNames: a name is text, whatever is in it.
func TestCompareOfHostileNames(t *testing.T) {
	for _, name := range hostileNames() {
		before, after := twoTests()
		for _, r := range []*daemon.Result{&before, &after} {
			r.Setup.Vehicle, r.Setup.File, r.Program = name, name, name
			for i := range r.Findings {
				r.Findings[i].Subject, r.Findings[i].Sentence = name, name
			}
			for i := range r.Transducers {
				r.Transducers[i].Corner = name
			}
		}
		c := compare.Compare(name, compare.Of{File: name, Result: &before}, compare.Of{File: name, Result: &after})
		var out bytes.Buffer
		if err := CompareHTML(&out, &c); err != nil {
			t.Fatal(err)
		}
		if document := out.String(); strings.Count(document, "<script") != 1 || strings.Contains(document, "<img") {
			t.Errorf("%q gets out of its place", name)
		}
		var text strings.Builder
		if err := CompareText(&text, &c, Style{}); err != nil {
			t.Fatal(err)
		}
		if strings.ContainsAny(text.String(), "\x1b\r") {
			t.Errorf("%q steers the terminal", name)
		}
	}
}

// What takes the largest share of its limit is read first, behind what lies beyond its own.
func TestMovesGravestFirst(t *testing.T) {
	m := func(subject string, size compare.Size, change, limit float64) compare.Movement {
		return compare.Movement{Check: "zero", Subject: subject, State: compare.Moved, Size: size, Change: &change, Limit: &limit}
	}
	c := compare.Comparison{Movements: []compare.Movement{
		m("a tenth", compare.Within, 6, 60), m("half", compare.Within, -6, 12), m("beyond", compare.Beyond, 61, 60), m("twice", compare.Beyond, -24, 12),
		{Check: "zero", Subject: "no limit", State: compare.Moved, Size: compare.Within},
		{Check: "zero", Subject: "unmoved", State: compare.Unmoved},
	}}
	var got []string
	for _, m := range moves(&c) {
		got = append(got, m.Subject)
	}
	if diff := cmp.Diff(got, []string{"twice", "beyond", "half", "a tenth", "no limit"}); diff != "" {
		t.Errorf("got before want:\n%s", diff)
	}
}
