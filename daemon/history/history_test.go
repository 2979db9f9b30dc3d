package history

import (
	"bytes"
	"errors"
	"io/fs"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"

	"plumbline/checks"
	"plumbline/daemon"
)

const (
	start daemon.Instant = 1_772_442_845_000_000_000 // 2026-03-02
	day   float64        = 86400e9                   // ns
)

// test is a function test on a day, with the serial number of a transducer on a corner and its zero fx.
func test(onDay float64, vehicle, corner, side string, serial uint64, fx float64) daemon.Result {
	at := start + daemon.Instant(onDay*day)
	return daemon.Result{
		Schema: 1, Program: "plumbline (test)", Setup: daemon.SetupFile{File: "minibus.yaml", Vehicle: vehicle}, Verdict: checks.Pass,
		Captures: []daemon.Capture{{File: "a.log", First: at, Last: at + 60e9, Warnings: []string{}}}, Causes: []daemon.Cause{}, Confirmations: []daemon.Confirmation{}, Open: []string{},
		Transducers: []daemon.Transducer{{
			Corner: corner, Axle: 1, Side: side, Serial: new(serial), SerialFrom: daemon.SerialSent, WheelMassKg: 34, LowestTempC: new(20.0), HighestTempC: new(24.0),
		}},
		Findings: []daemon.Finding{
			{Check: "zero", Subject: corner, Channel: "fx", Verdict: checks.Pass, Value: new(fx), Uncertainty: new(0.5), Unit: "N"},
			{Check: "weight", Subject: corner, Verdict: checks.Pass, Value: new(1.001), Uncertainty: new(0.002)},
			{Check: "zero", Subject: corner, Channel: "fy", Verdict: checks.Inconclusive, Value: new(3.0), Unit: "N"},
		},
	}
}

func encoded(tb testing.TB, results ...daemon.Result) *fstest.MapFile {
	tb.Helper()
	var out bytes.Buffer
	if err := daemon.Encode(&out, results); err != nil {
		tb.Fatal(err)
	}
	return &fstest.MapFile{Data: out.Bytes()}
}

func read(t *testing.T, folder fs.FS, only *uint64) History {
	t.Helper()
	h, err := Read(folder, "tests", "plumbline (test)", only)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// TestRead: signed folders, arrays, a copy, another kind of JSON and a cut file; a transducer is followed over vehicles and corners.
func TestRead(t *testing.T) {
	first := test(0, "Minibus 7", "FL", "left", 40117, 2)
	unnumbered := test(5, "Minibus 8", "FL", "left", 0, 2)
	unnumbered.Transducers[0].Serial = nil
	twice := test(6, "Minibus 8", "FL", "left", 40118, 2)
	twice.Transducers = append(twice.Transducers, twice.Transducers[0])
	timeless := test(7, "Minibus 8", "FL", "left", 40118, 2)
	timeless.Captures = nil
	folder := fstest.MapFS{
		"20260302T091405Z-Minibus-7-0001ABCD/result.json": encoded(t, first),
		"20260302T091405Z-Minibus-7-0001ABCD/capture.log": {Data: []byte("not looked at")},
		"copies/first.json":    encoded(t, first),
		"archive/several.JSON": encoded(t, test(60, "Minibus 8", "RR", "right", 40117, 4), test(30, "Minibus 7", "RL", "left", 40117, 3), unnumbered, twice),
		"manifest.json":        {Data: []byte(`{"files": 3}`)},
		"cut.json":             {Data: []byte(`{"schema": 1, "findings": [{"check": "zero"`)},
		"later.json":           {Data: []byte(`{"schema": 9, "findings": []}`)},
		"timeless.json":        encoded(t, timeless),
		".hidden/result.json":  encoded(t, test(90, "Minibus 8", "RR", "right", 40117, 4)),
	}
	h := read(t, folder, nil)
	if h.Tests != 5 || h.Again != 1 || h.Other != 1 || h.Unnumbered != 3 {
		t.Errorf("got %d tests, %d again, %d other files, %d without a number, want 5, 1, 1, 3", h.Tests, h.Again, h.Other, h.Unnumbered)
	}
	want := []Problem{
		{"cut.json", "unexpected end of JSON input"},
		{"later.json", "the result has schema 9, this program reads 1: use the version that wrote it"},
		{"timeless.json", "the result does not say when the test was"},
	}
	if diff := cmp.Diff(h.Problems, want); diff != "" {
		t.Errorf("problems, got before want:\n%s", diff)
	}
	if len(h.Transducers) != 1 || h.ExitCode() != 3 {
		t.Fatalf("got %d transducers, exit code %d, want 1, 3", len(h.Transducers), h.ExitCode())
	}
	var places []string
	for _, p := range h.Transducers[0].Points {
		places = append(places, p.Vehicle+" "+p.Corner)
	}
	if diff := cmp.Diff(places, []string{"Minibus 7 FL", "Minibus 7 RL", "Minibus 8 RR"}); diff != "" {
		t.Errorf("places by time, got before want:\n%s", diff)
	}
	if p := h.Transducers[0].Points[0]; len(p.Values) != 2 || *p.TemperatureC != 22 {
		t.Errorf("got %+v, want fx and weight, at 22 °C; a value without an uncertainty is none", p)
	}
	remarks := strings.Join(h.Transducers[0].Remarks, "\n")
	for _, want := range []string{"It sat on Minibus 7 FL, Minibus 7 RL, Minibus 8 RR.", "both sides", "more than one wheel"} {
		if !strings.Contains(remarks, want) {
			t.Errorf("remarks %q, want %q", remarks, want)
		}
	}
	var a, b bytes.Buffer
	again := read(t, folder, nil)
	if err := errors.Join(h.Encode(&a), again.Encode(&b)); err != nil || a.String() != b.String() {
		t.Errorf("the same folder gives different bytes, %v", err)
	}
	if one := read(t, folder, new(uint64(1))); len(one.Transducers) != 0 || one.ExitCode() != 3 {
		t.Errorf("of another number: got %d transducers, exit code %d", len(one.Transducers), one.ExitCode())
	}
	if _, err := Read(fstest.MapFS{"x": {}}, "tests", "", nil); err != nil {
		t.Errorf("a folder without results: %v", err)
	}
}

// history is that of one transducer whose zero fx goes as f says, every 30.4375 days.
func monthly(t *testing.T, n int, f func(month int) float64) *Trend {
	t.Helper()
	var results []daemon.Result
	for k := range n {
		results = append(results, test(float64(k)*365.25/12, "Minibus 7", "FL", "left", 40117, f(k)))
	}
	h := read(t, fstest.MapFS{"all.json": encoded(t, results...)}, nil)
	return &h.Transducers[0].Trends[0]
}

// TestTrend: what drifts by so much a month is said to, and a jump is none.
func TestTrend(t *testing.T) {
	wobble := []float64{0.1, -0.2, 0.15, -0.05, 0.2, -0.1, 0, 0.1, -0.15, 0.05, -0.1, 0.1}
	tests := []struct {
		name   string
		n      int
		f      func(k int) float64
		slope  float64 // N per month; NaN: none
		drifts bool
		jumps  []float64
	}{
		{"one test", 1, func(int) float64 { return 3 }, math.NaN(), false, nil},
		{"two tests make no line", 2, func(k int) float64 { return float64(k) }, math.NaN(), false, nil},
		{"still", 12, func(k int) float64 { return 3 + wobble[k] }, 0, false, nil},
		{"drift", 12, func(k int) float64 { return 3 + 2*float64(k) + wobble[k] }, 2, true, nil},
		{"drift, tared after the fifth", 12, func(k int) float64 {
			if k >= 5 {
				return 2*float64(k) - 11 + wobble[k]
			}
			return 2*float64(k) + wobble[k]
		}, 2, true, []float64{-11}},
		{"still, jumped twice", 12, func(k int) float64 { return []float64{0, 40, -20}[k/4] + wobble[k] }, 0, false, []float64{40, -60}},
		{"a short history cannot tell a jump from a drift", 4, func(k int) float64 { return []float64{0, 0, 40, 40}[k] }, 16, false, nil},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			r := monthly(t, test.n, test.f)
			switch {
			case math.IsNaN(test.slope) && r.PerMonth != nil:
				t.Errorf("got %v a month, want none", *r.PerMonth)
			case !math.IsNaN(test.slope) && (r.PerMonth == nil || math.Abs(*r.PerMonth-test.slope) > 0.06):
				t.Errorf("got %v a month, want %v", r.PerMonth, test.slope)
			}
			if r.Drifts != test.drifts {
				t.Errorf("drifts: got %v, want %v (%+v)", r.Drifts, test.drifts, r)
			}
			if len(r.Jumps) != len(test.jumps) {
				t.Fatalf("got jumps %+v, want %v", r.Jumps, test.jumps)
			}
			for i, want := range test.jumps {
				if math.Abs(r.Jumps[i].Change-want) > 0.5 {
					t.Errorf("jump %d: got %v, want %v", i, r.Jumps[i].Change, want)
				}
			}
		})
	}
}

// TestNoJumpByChance: tests that scatter, and whose own uncertainties forbid no jump, seldom show one: of six tests five
// changes tell the scatter, and in one history of twenty they tell too little.
func TestNoJumpByChance(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const tries = 300
	for _, n := range []int{6, 10, 30} {
		jumps := 0
		for range tries {
			s := series{}
			for k := range n {
				s.x, s.y, s.u, s.point = append(s.x, float64(k)), append(s.y, rng.NormFloat64()), append(s.u, 0), append(s.point, k)
			}
			trend := Trend{}
			tr := Transducer{Points: make([]Point, n)}
			if s.settle(&tr, &trend); len(trend.Jumps) > 0 {
				jumps++
			}
		}
		t.Logf("of %d tests %d of %d histories show a jump", n, jumps, tries)
		if jumps > tries*6/100 {
			t.Errorf("of %d tests %d of %d histories show a jump", n, jumps, tries)
		}
	}
}

// TestUnmeasured: a number that nobody can have measured is told and left out. Its square is none any more, and one NaN would keep the
// whole history from being written.
func TestUnmeasured(t *testing.T) {
	huge, unsure, hot := test(30, "Minibus 7", "FL", "left", 40117, -1.7e308), test(60, "Minibus 7", "FL", "left", 40117, 2), test(90, "Minibus 7", "FL", "left", 40117, 2)
	unsure.Findings[1].Uncertainty = new(1e200)
	hot.Transducers[0].LowestTempC, hot.Transducers[0].HighestTempC = new(1e308), new(1.7e308)
	h := read(t, fstest.MapFS{"a.json": encoded(t, test(0, "Minibus 7", "FL", "left", 40117, 1.6e308), huge, unsure, hot)}, nil)
	want := []Problem{
		{"a.json", "zero fx of FL is 1.6e+308 ± 0.5, which nobody has measured: it is left out"},
		{"a.json", "zero fx of FL is -1.7e+308 ± 0.5, which nobody has measured: it is left out"},
		{"a.json", "weight of FL is 1.001 ± 1e+200, which nobody has measured: it is left out"},
	}
	if diff := cmp.Diff(h.Problems, want); diff != "" {
		t.Errorf("problems, got before want:\n%s", diff)
	}
	var out bytes.Buffer
	if err := h.Encode(&out); err != nil {
		t.Error(err)
	}
	if p := h.Transducers[0].Points; len(p) != 4 || p[3].TemperatureC != nil || len(p[3].Values) != 2 {
		t.Errorf("points %+v", p)
	}
}
