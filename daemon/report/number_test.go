package report

import (
	"math"
	"testing"
)

func TestQuantity(t *testing.T) {
	newton := unit{"N", 1}
	tests := []struct {
		name        string
		value       float64
		uncertainty *float64
		unit        unit
		want        string
	}{
		{"two digits of uncertainty, JCGM 100 7.2.6", 100.02147, new(0.00079), newton, "100.02147 ± 0.00079"},
		{"to the same place", 12.345, new(0.456), newton, "12.35 ± 0.46"},
		{"large uncertainty", 12345.6, new(789.0), newton, "12346 ± 789"},
		{"no uncertainty", 12345.6, nil, newton, "12346"},
		{"no uncertainty, small", 0.0012344, nil, newton, "0.001234"},
		{"none at all", 3, new(0.0), newton, "3.000 ± 0"},
		{"zero", 0, nil, newton, "0"},
		{"negative zero", -0.0001, new(0.5), newton, "0.00 ± 0.50"},
		{"in degrees", math.Pi / 180, new(math.Pi / 1800), readable("rad"), "1.00 ± 0.10"},
		{"in millimetres", 0.2012, new(0.0004), readable("m"), "201.20 ± 0.40"},
		{"in kilometres per hour", 10, new(1.0), readable("m/s"), "36.0 ± 3.6"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if got := quantity(test.value, test.uncertainty, test.unit); got != test.want {
				t.Errorf("got %q, want %q", got, test.want)
			}
		})
	}
}

func TestBound(t *testing.T) {
	if got := bound(math.Pi/180, readable("rad")); got != "1" {
		t.Errorf("one degree and back: got %q, want 1", got)
	}
	if got := bound(0.3*math.Pi/180, readable("rad")); got != "0.3" {
		t.Errorf("got %q, want 0.3", got)
	}
}
