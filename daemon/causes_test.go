package daemon

import (
	"strings"
	"testing"

	"plumbline/bus/simulated"
	"plumbline/checks"
	"plumbline/daemon/setup"
)

// simulatedResult judges a simulated vehicle with faults.
func simulatedResult(t *testing.T, corners int, faults ...string) Result {
	t.Helper()
	return describedResult(t, corners, func(text string) string { return text }, func(text string) string { return text }, faults...)
}

// describedResult does so with another setup and DBC than the vehicle's own.
func describedResult(t *testing.T, corners int, describe, dbc func(string) string, faults ...string) Result {
	t.Helper()
	cfg := simulated.Standard(corners)
	cfg.Script = cfg.FunctionShort()
	cfg.RateHz = 200
	for _, text := range faults {
		f, err := simulated.ParseFault(text)
		if err != nil {
			t.Fatal(err)
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	s, err := setup.Parse("setup.yaml", []byte(describe(cfg.SetupYAML())), func(string) ([]byte, error) { return []byte(dbc(cfg.DBC())), nil })
	if err != nil {
		t.Fatal(err)
	}
	b, err := NewBench(s, "test")
	if err != nil {
		t.Fatal(err)
	}
	v, err := simulated.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	j := b.Judge("simulated")
	if err := j.Run(t.Context(), v); err != nil {
		t.Fatal(err)
	}
	return j.Result()
}

// TestCauses: each fault is told as its cause, whose findings are all of the subject that is at
// fault, and nothing that failed is left without it.
func TestCauses(t *testing.T) {
	for _, c := range []struct {
		faults string
		causes string // ids, in their order
	}{
		{"silent:FR", "unplugged:FR"},
		{"off", "amplifier-off"},
		{"bit-rate:can0", "bit-rate:wheels"},
		{"supply:FR", "supply:FR"},
		{"clipped:FL", "range-too-small:FL"},
		{"hum:FR", "mains:FR"},
		{"drag:FR", "drag:FR"},
		{"angle-jumps:FR", "angle-disturbed:FR"},
		{"rub:FL", "ring-rubs:FL"},
		{"coupling:FL", "ring-not-aligned:FL"},
		{"chafe:FR", "cable-chafes:FR"},
		{"frozen-fx:FL", "stands-still:FL"},
		{"frozen-fy:FR", "stands-still:FR"},
		{"angle-sense:FR", "mirrored:FR"},
		{"mirror:FL", "mirrored:FL"},
		{"angle-slip:FL", "counts-lost:FL"},
		{"skew:FR", "time-bases:FR"},
		{"bolts:FR=1", "bolt-holes:FR"},
		{"weight:FR=0.001", "unit:FR"},
		{"copy:FL,FR", "mapped-twice:FL,FR"},
		{"harness:FL,FR", "harness-exchanged:FL,FR"},
		{"angle-cable:FL,FR", "angle-cable-exchanged:FL,FR"},
		{"force-cable:FL,FR", "force-cable-exchanged:FL,FR"},
		{"drag:FL hum:FR", "drag:FL mains:FR"}, // two at once are told as two
		{"silent:FL bolts:FR=2", "unplugged:FL bolt-holes:FR"},
	} {
		t.Run(c.faults, func(t *testing.T) {
			r := simulatedResult(t, 2, strings.Fields(c.faults)...)
			var got []string
			known := map[string]bool{}
			for _, cause := range r.Causes {
				got = append(got, cause.ID)
				known[cause.ID] = true
				if len(cause.Explains) == 0 {
					t.Errorf("%s explains nothing", cause.ID)
				}
			}
			if strings.Join(got, " ") != c.causes {
				t.Errorf("causes %q, want %q", got, c.causes)
			}
			for i := range r.Findings {
				if f := &r.Findings[i]; f.Verdict == checks.Fail && !known[f.Cause] {
					t.Errorf("%s stands alone: %s", f.Name(), f.Sentence)
				}
			}
		})
	}
}

// TestCausesOfDescription: nothing is wrong with the vehicle, and setup or DBC describe another one.
func TestCausesOfDescription(t *testing.T) {
	signal := func(q string) string { return `"{corner}_Forces.` + q + `"` }
	for _, c := range []struct {
		name       string
		setup, dbc []string // old, new
		causes     string
	}{
		{"fz the wrong way", []string{signal("Fz"), "{signal: " + signal("Fz") + ", sign: -1}"}, nil, "sign:FL sign:FR"},
		{"fx and fz exchanged", []string{signal("Fx"), signal("Fz"), signal("Fz"), signal("Fx")}, nil, "axes-exchanged:FL axes-exchanged:FR"},
		{"the other byte order", nil, []string{"Fz : 39|16@0-", "Fz : 32|16@1-"}, "byte-order:FL byte-order:FR"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := describedResult(t, 2, changed(t, c.setup), changed(t, c.dbc))
			var got []string
			for _, cause := range r.Causes {
				got = append(got, cause.ID)
			}
			if strings.Join(got, " ") != c.causes {
				t.Errorf("causes %q, want %q", got, c.causes)
			}
		})
	}
}

// changed exchanges words, each of which must be there.
func changed(t *testing.T, words []string) func(string) string {
	t.Helper()
	return func(text string) string {
		t.Helper()
		for i := 0; i < len(words); i += 2 {
			if !strings.Contains(text, words[i]) {
				t.Fatalf("there is no %q in\n%s", words[i], text)
			}
		}
		return strings.NewReplacer(words...).Replace(text)
	}
}
