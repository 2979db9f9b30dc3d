package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"testing/fstest"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/history"
)

// months is a history of two transducers: 40117 drifts by 2 N a month in fx, was tared and went to another corner; 40118 was tested once.
func months(t *testing.T, name string) history.History {
	t.Helper()
	folder := fstest.MapFS{"cut.json": {Data: []byte(`{"schema": 1,`)}}
	wobble := []float64{0.1, -0.2, 0.15, -0.05, 0.2, -0.1, 0, 0.1}
	for k := range wobble {
		r := base("a.log", checks.Pass)
		r.Setup.Vehicle += name
		month := daemon.Instant(k) * 2629800e9
		r.Captures[0].First, r.Captures[0].Last = r.Captures[0].First+month, r.Captures[0].Last+month
		corner, fx := "FL", 2*float64(k)+wobble[k]
		if k > 4 {
			corner, fx = "RL", fx-9
		}
		add := func(corner string, serial uint64, fx float64) {
			r.Transducers = append(r.Transducers, daemon.Transducer{
				Corner: corner + name, Side: "left", Serial: new(serial), SerialFrom: daemon.SerialSent, WheelMassKg: 34, LowestTempC: new(20.0), HighestTempC: new(22.0 + wobble[k]),
			})
			for _, channel := range []string{"fx", "fy", "fz", "mx", "my", "mz"} {
				unit, value := "N", wobble[k]
				if channel == "fx" {
					value = fx
				}
				if channel[0] == 'm' {
					unit = "N·m"
				}
				r.Findings = append(r.Findings, daemon.Finding{Check: "zero", Subject: corner + name, Channel: channel, Verdict: checks.Pass, Value: new(value), Uncertainty: new(0.25), Unit: unit})
			}
			r.Findings = append(r.Findings, daemon.Finding{Check: "weight", Subject: corner + name, Verdict: checks.Pass, Value: new(1 + wobble[k]/100), Uncertainty: new(0.002)})
		}
		add(corner, 40117, fx)
		if k == 3 {
			add("FR", 40118, 1)
		}
		var out bytes.Buffer
		if err := daemon.Encode(&out, []daemon.Result{r}); err != nil {
			t.Fatal(err)
		}
		folder[fmt.Sprintf("%d/result.json", k)] = &fstest.MapFile{Data: out.Bytes()}
	}
	h, err := history.Read(folder, "tests"+name, "plumbline (test)"+name, nil)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func TestHistoryText(t *testing.T) {
	h := months(t, "")
	for name, style := range map[string]Style{"history.txt": {}, "history-ascii.txt": {ASCII: true}} {
		var out bytes.Buffer
		if err := HistoryText(&out, &h, style); err != nil {
			t.Fatal(err)
		}
		golden(t, name, out.Bytes())
	}
	var out bytes.Buffer
	if err := HistoryText(&out, &history.History{Folder: "empty"}, Style{}); err != nil || !strings.Contains(out.String(), "No transducer with a serial number was found.") {
		t.Errorf("of nothing: got %v, %q", err, out.String())
	}
}

func TestHistoryHTML(t *testing.T) {
	h := months(t, "")
	var first, second bytes.Buffer
	for _, w := range []*bytes.Buffer{&first, &second} {
		if err := HistoryHTML(w, &h); err != nil {
			t.Fatal(err)
		}
	}
	document := first.String()
	if document != second.String() {
		t.Error("the same history gives different bytes")
	}
	text := textOf(document)
	for _, want := range []string{"Transducer 40117 · 8 tests", "Transducer 40118 · 1 test", "cut.json could not be used", "+2.0", "per month", "It sat on Minibus 7 FL, Minibus 7 RL.", "End of PH-2026"} {
		if !strings.Contains(text, want) {
			t.Errorf("it does not say %q", want)
		}
	}
	if n := strings.Count(document, `<figure class="chart">`); n != 2 {
		t.Errorf("%d charts, want one for each transducer", n)
	}
	if strings.Contains(document, "NaN") || strings.Contains(document, "Inf") {
		t.Error("a number in it is none")
	}
	var back history.History
	if err := json.Unmarshal(resultOf(t, document), &back); err != nil || len(back.Transducers) != 2 {
		t.Errorf("the history in it: %v, %d transducers", err, len(back.Transducers))
	}
}

func TestHistoryOfHostileNames(t *testing.T) {
	for _, name := range hostileNames() {
		h := months(t, name)
		var out bytes.Buffer
		if err := HistoryHTML(&out, &h); err != nil {
			t.Fatal(err)
		}
		if document := out.String(); strings.Count(document, "<script") != 1 || strings.Contains(document, "<img") {
			t.Errorf("%q gets out of its place", name)
		}
		var text strings.Builder
		if err := HistoryText(&text, &h, Style{}); err != nil || strings.ContainsAny(text.String(), "\x1b\r") {
			t.Errorf("%q steers the terminal, %v", name, err)
		}
	}
}

// TestRoundStep: ticks stand at round numbers.
func TestRoundStep(t *testing.T) {
	for _, test := range []struct {
		v, step float64
		places  int
	}{{0.7, 1, 0}, {1.1, 2, 0}, {0.03, 0.05, 2}, {0.012, 0.02, 2}, {240, 500, 0}, {6, 10, 0}, {0.001, 0.001, 3}} {
		step, places := roundStep(test.v)
		if diff := step - test.step; diff > 1e-12 || diff < -1e-12 || places != test.places {
			t.Errorf("%v: got %v with %d decimals, want %v with %d", test.v, step, places, test.step, test.places)
		}
	}
}
