package simulated

import (
	"strings"
	"testing"
	"time"

	yaml "go.yaml.in/yaml/v3"

	"plumbline/bus/dbc"
)

// What the DBC text says is what the frames are made by; here it is read once
// more for what it says to others.
func TestDBC(t *testing.T) {
	for _, corners := range []int{1, 4, 8} {
		cfg := Standard(corners)
		file, err := dbc.Parse("vehicle.dbc", []byte(cfg.DBC()))
		if err != nil {
			t.Fatal(err)
		}
		if len(file.Warnings) != 0 {
			t.Errorf("warnings: %v", file.Warnings)
		}
		if got, want := len(file.Messages), 4*corners+len(cfg.Optics); got != want {
			t.Errorf("got %d messages, want %d", got, want)
		}
		for _, m := range file.Messages {
			want := 10 * time.Millisecond
			switch {
			case strings.HasSuffix(m.Name, "_State"):
				want = 100 * time.Millisecond
			case strings.HasSuffix(m.Name, "_Forces"), strings.HasSuffix(m.Name, "_Moments"), strings.HasSuffix(m.Name, "_Angle"):
				want = 5 * time.Millisecond
			}
			if m.CycleTime != want {
				t.Errorf("%s: got cycle time %v, want %v", m.Name, m.CycleTime, want)
			}
			if m.Extended != (m.Name == "Road") {
				t.Errorf("%s: extended is %v", m.Name, m.Extended)
			}
			for _, s := range m.Signals {
				if _, known := dbc.Unit(s.Unit); !known {
					t.Errorf("%s.%s: unit %q is not known", m.Name, s.Name, s.Unit)
				}
			}
		}
	}
	if text := (Config{}).DBC(); text != "" {
		t.Errorf("of nothing: %q", text)
	}
}

// A rate that no whole number of milliseconds describes.
func TestDBCFractionOfAMillisecond(t *testing.T) {
	cfg := Standard(1)
	cfg.RateHz = 400
	file, err := dbc.Parse("vehicle.dbc", []byte(cfg.DBC()))
	if err != nil {
		t.Fatal(err)
	}
	if got, want := file.Messages[0].CycleTime, 2500*time.Microsecond; got != want {
		t.Errorf("got %v, want %v", got, want)
	}
}

// Every signal that the setup file names is in the DBC text.
func TestSetupYAML(t *testing.T) {
	for _, corners := range []int{1, 2, 4, 6, 8} {
		cfg := Standard(corners)
		cfg.Corners[0].Fixed = true
		var setup struct {
			Vehicle  string
			Sources  []map[string]any
			Defaults struct{ Channels map[string]string }
			Corners  []struct {
				Name, Side, Tyre, Forces string
				Axle, Bolts              int
				Serial                   uint32
				LoadN                    float64 `yaml:"load_n"`
				WheelMassKg              float64 `yaml:"wheel_mass_kg"`
				OverhangM                float64 `yaml:"overhang_m"`
			}
			Optics    []struct{ Channels map[string]string }
			TurnOrder []string `yaml:"turn_order"`
			Confirm   []map[string]any
		}
		if err := yaml.Unmarshal([]byte(cfg.SetupYAML()), &setup); err != nil {
			t.Fatalf("%v\n%s", err, cfg.SetupYAML())
		}
		if setup.Vehicle != cfg.Name || len(setup.Sources) != 1 || len(setup.Confirm) < 2 || len(setup.TurnOrder) != corners {
			t.Errorf("%d corners: got %+v", corners, setup)
		}
		if len(setup.Corners) != corners || len(setup.Optics) != len(cfg.Optics) {
			t.Fatalf("got %d corners and %d optics", len(setup.Corners), len(setup.Optics))
		}
		file, err := dbc.Parse("vehicle.dbc", []byte(cfg.DBC()))
		if err != nil {
			t.Fatal(err)
		}
		known := map[string]bool{}
		for _, m := range file.Messages {
			for _, s := range m.Signals {
				known[m.Name+"."+s.Name] = true
			}
		}
		for i, k := range setup.Corners {
			want := cfg.Corners[i]
			if k.Name != want.Name || k.LoadN != want.LoadN || k.Serial != want.Serial || k.WheelMassKg != want.WheelMassKg ||
				k.OverhangM != want.OverhangM || k.Tyre != want.Tyre || k.Bolts != want.Bolts || k.Axle != want.Axle ||
				(k.Side == "right") != want.Right || (k.Forces == "fixed") != want.Fixed {
				t.Errorf("got %+v, want %+v", k, want)
			}
			for quantity, name := range setup.Defaults.Channels {
				if name = strings.ReplaceAll(name, "{corner}", k.Name); !known[name] {
					t.Errorf("%s: the DBC text has no %s", quantity, name)
				}
			}
		}
		for _, o := range setup.Optics {
			for quantity, name := range o.Channels {
				if !known[name] {
					t.Errorf("%s: the DBC text has no %s", quantity, name)
				}
			}
		}
	}
}
