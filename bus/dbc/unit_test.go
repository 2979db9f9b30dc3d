package dbc

import (
	"math"
	"slices"
	"testing"
)

// Sources: SP = NIST Special Publication 811 (2008), appendix B.8, exact values in
// bold there; yd = international yard 0.9144 m (1959); SI = SI Brochure, 9th edition.
func TestUnit(t *testing.T) {
	tests := []struct {
		text      string
		given     float64
		want      float64
		si        string
		dimension string
	}{
		{"N", 5, 5, "N", "force"},
		{"kN", 5, 5000, "N", "force"},
		{"daN", 5, 50, "N", "force"},
		{"lbf", 1, 4.4482216152605, "N", "force"}, // SP: 0.45359237 kg · 9.80665 m/s², exact
		{"Nm", 5, 5, "N·m", "moment"},
		{"N.m", 5, 5, "N·m", "moment"},
		{"N·m", 5, 5, "N·m", "moment"},
		{"N⋅m", 5, 5, "N·m", "moment"},
		{"N*m", 5, 5, "N·m", "moment"},
		{"N m", 5, 5, "N·m", "moment"},
		{"N\xB7m", 5, 5, "N·m", "moment"},
		{"NÂ·m", 5, 5, "N·m", "moment"},
		{"kNm", 5, 5000, "N·m", "moment"},
		{"lbf.ft", 1, 1.3558179483314004, "N·m", "moment"}, // SP: 1.355 818; lbf · 0.3048 m, exact
		{"ft-lbf", 1, 1.3558179483314004, "N·m", "moment"},
		{"rad", 5, 5, "rad", "angle"},
		{"deg", 180, math.Pi, "rad", "angle"}, // SI, table 8
		{"Degrees", 180, math.Pi, "rad", "angle"},
		{"°", 360, 2 * math.Pi, "rad", "angle"},
		{"\xB0", 360, 2 * math.Pi, "rad", "angle"},
		{"º", 360, 2 * math.Pi, "rad", "angle"},
		{"Â°", 360, 2 * math.Pi, "rad", "angle"},
		{"rad/s", 5, 5, "rad/s", "rotation"},
		{"deg/s", 180, math.Pi, "rad/s", "rotation"},
		{"°/s", 180, math.Pi, "rad/s", "rotation"},
		{"rpm", 60, 2 * math.Pi, "rad/s", "rotation"},
		{"RPM", 60, 2 * math.Pi, "rad/s", "rotation"},
		{"1/min", 60, 2 * math.Pi, "rad/s", "rotation"},
		{"1 / min", 60, 2 * math.Pi, "rad/s", "rotation"},
		{"Hz", 1, 2 * math.Pi, "rad/s", "rotation"},
		{"°C", 20, 20, "°C", "temperature"},
		{"\xB0C", 20, 20, "°C", "temperature"},
		{"degC", 20, 20, "°C", "temperature"},
		{"deg C", 20, 20, "°C", "temperature"},
		{"C", 20, 20, "°C", "temperature"},
		{"K", 273.15, 0, "°C", "temperature"}, // SI 2.3.1
		{"V", 12, 12, "V", "voltage"},
		{"mV", 12000, 12, "V", "voltage"},
		{"m", 5, 5, "m", "length"},
		{"cm", 5, 0.05, "m", "length"},
		{"mm", 5, 0.005, "m", "length"},
		{"um", 5, 5e-6, "m", "length"},
		{"µm", 5, 5e-6, "m", "length"},
		{"μm", 5, 5e-6, "m", "length"}, // Greek mu
		{"\xB5m", 5, 5e-6, "m", "length"},
		{"m/s", 5, 5, "m/s", "speed"},
		{"km/h", 36, 10, "m/s", "speed"},
		{"kph", 36, 10, "m/s", "speed"},
		{"KM/H", 36, 10, "m/s", "speed"},
		{"mph", 1, 0.44704, "m/s", "speed"}, // yd: 1760 · 0.9144 m in 3600 s, exact
		{"%", 50, 0.5, "1", "number"},
		{"", 5, 5, "1", "number"},
		{" ", 5, 5, "1", "number"},
		{"-", 5, 5, "1", "number"},
		{" kN ", 5, 5000, "N", "force"},
	}
	for _, tt := range tests {
		t.Run(tt.text, func(t *testing.T) {
			c, ok := Unit(tt.text)
			if !ok || c.SI != tt.si || c.Dimension != tt.dimension {
				t.Fatalf("got %+v, %v, want %s, %s", c, ok, tt.si, tt.dimension)
			}
			// Two roundings: of the product, and of the factor where it is no exact number.
			got := c.Factor*tt.given + c.Offset
			if math.Abs(got-tt.want) > 2e-16*math.Max(math.Abs(tt.want), math.Abs(c.Offset)) {
				t.Errorf("got %v, want %v", got, tt.want)
			}
		})
	}
}

// TestUnitUnknown: what might mean something else is not guessed.
func TestUnitUnknown(t *testing.T) {
	for _, text := range []string{
		"MV", "mv", "Mv", // megavolt
		"nm", "NM", "nM", // nanometre, nautical mile
		"KN", "kn", "Kn", // knot
		"n", "k", "c", "M", "Mm", "MM", "mN", "MN", "mNm", "MNm",
		"grad", "gon", "g", "lb", "lbs", "lb.ft", "1/s", "/s", "F", "degF", "counts", "bar", "N/m", "m/s2", "m/s²", "kN·", "??", "\xFF\xFE",
	} {
		if c, ok := Unit(text); ok {
			t.Errorf("%q: got %+v, want unknown", text, c)
		}
	}
}

func TestUnits(t *testing.T) {
	tests := []struct {
		dimension string
		want      []string
	}{
		{"force", []string{"N", "kN", "daN", "lbf"}},
		{"moment", []string{"N·m", "kN·m", "lbf·ft"}},
		{"angle", []string{"rad", "deg"}},
		{"rotation", []string{"rad/s", "deg/s", "rpm", "Hz"}},
		{"temperature", []string{"°C", "K"}},
		{"voltage", []string{"V", "mV"}},
		{"length", []string{"m", "cm", "mm", "µm"}},
		{"speed", []string{"m/s", "km/h", "mph"}},
		{"number", []string{"%", "none"}},
		{"colour", nil},
	}
	for _, tt := range tests {
		got := Units(tt.dimension)
		if !slices.Equal(got, tt.want) {
			t.Errorf("%s: got %v, want %v", tt.dimension, got, tt.want)
		}
		for _, name := range got {
			if c, ok := Unit(name); !ok || c.Dimension != tt.dimension {
				t.Errorf("%s: Unit does not know %q as such", tt.dimension, name)
			}
		}
	}
}

// TestUnitSpellings: no spelling stands for two units, in its own case or in any.
func TestUnitSpellings(t *testing.T) {
	for _, u := range units() {
		for _, spelling := range slices.Concat(u.exact, u.any, []string{u.name}) {
			if got, ok := Unit(spelling); !ok || got != u.Conversion {
				t.Errorf("%q: got %+v, %v, want %+v", spelling, got, ok, u.Conversion)
			}
		}
	}
}
