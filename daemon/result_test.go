package daemon

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/checks"
)

// said is what the checks could say, with everything that JSON cannot carry.
func said() checks.Result {
	known := func(v float64) checks.Number { return checks.Number{Value: v, Known: true} }
	return checks.Result{
		Verdict: checks.Fail, Next: "turn on",
		Findings: []checks.Finding{
			{
				Check: "zero", Subject: "FL", Channel: "fx", Verdict: checks.Fail, Required: true,
				Value: known(93.25), Uncertainty: known(0.5), Limit: known(60), Unit: "N",
				Parts:    checks.Parts{Scatter: 0.125, DOF: 5, Resolution: 0.25},
				Evidence: checks.Evidence{Samples: 1234, Revolutions: 3.5, From: start, To: start + 1},
				Sentence: "Fx reads <93> & more", Next: "tare", Cause: "exchanged",
			},
			{Check: "zero", Subject: "FL", Channel: "my", Required: true, Value: known(math.NaN()), Limit: known(math.Inf(1)), Uncertainty: checks.Number{Value: 3}, Evidence: checks.Evidence{Revolutions: math.NaN()}},
			{Check: "drift", Subject: "FL", Value: known(math.Copysign(0, -1))},
			{Check: "camber", Subject: "camber FL", Verdict: checks.Absent},
		},
		Corners: []checks.Seen{{Serial: 40117, HasSerial: true, TemperatureC: [2]float64{21.5, 23}, HasTemperature: true}},
		Causes:  []checks.Cause{{ID: "exchanged", Subjects: []string{"FL", "RR"}, Sentence: "exchanged", Next: "exchange them", Explains: []string{"zero/FL/fx"}}, {ID: "bare"}},
	}
}

func TestEncode(t *testing.T) {
	b := bench(t)
	b.setup.SHA256 = "ab" // not what is tested here
	r := b.result(Capture{File: "drive.log", Frames: 12, First: Instant(start), Last: Instant(start + 5), Warnings: []string{"cut"}})
	r.fill(said())
	empty := b.result(Capture{File: "gone.log", Warnings: []string{}, Unusable: "gone"})
	empty.fill(checks.Result{Verdict: checks.Pass})
	for _, test := range []struct {
		name    string
		results []Result
	}{{"one.json", []Result{r}}, {"several.json", []Result{r, empty}}, {"none.json", []Result{}}} {
		t.Run(test.name, func(t *testing.T) {
			var out bytes.Buffer
			if err := Encode(&out, test.results); err != nil {
				t.Fatal(err)
			}
			golden(t, test.name, out.Bytes())
		})
	}
}

// TestResultSurvivesJSON: what is read back writes the same bytes again.
func TestResultSurvivesJSON(t *testing.T) {
	r := bench(t).result(Capture{File: "drive.log", Frames: 12, First: Instant(start), Last: Instant(start + 5), Warnings: []string{}})
	r.fill(said())
	var first, second bytes.Buffer
	if err := Encode(&first, []Result{r}); err != nil {
		t.Fatal(err)
	}
	var back Result
	d := json.NewDecoder(bytes.NewReader(first.Bytes()))
	d.DisallowUnknownFields()
	if err := d.Decode(&back); err != nil {
		t.Fatal(err)
	}
	if err := Encode(&second, []Result{back}); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(second.String(), first.String()); diff != "" {
		t.Errorf("got before want:\n%s", diff)
	}
}

func TestInstant(t *testing.T) {
	if got, want := Instant(start+5).String(), "2023-11-14T22:13:20.000000005Z"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	var back Instant
	if err := back.UnmarshalText([]byte("2023-11-14T23:13:20.000000005+01:00")); err != nil || back != Instant(start+5) {
		t.Errorf("got %d, %v, want %d", back, err, start+5)
	}
	if err := back.UnmarshalText([]byte("yesterday")); err == nil {
		t.Error("yesterday was taken as a time")
	}
}

func TestResultOfUnknownWords(t *testing.T) {
	for _, text := range []string{`{"verdict": "fine"}`, `{"captures": [{"first": "yesterday"}]}`} {
		var r Result
		if err := json.Unmarshal([]byte(text), &r); err == nil {
			t.Errorf("%s was read as %+v", text, r)
		}
	}
}
