package metrics

import (
	"math"
	"testing"

	"plumbline/checks"
)

// TestLimits: each limit comes in one unit, SI.
func TestLimits(t *testing.T) {
	for _, key := range checks.LimitKeys() {
		n := 0
		for _, u := range limitUnits() {
			if _, ok := u.has(&key); ok {
				n++
			}
		}
		if n != 1 {
			t.Errorf("limit %s in %q comes in %d units, want 1", key.Key, key.Unit, n)
		}
	}
	got := gather(t, of(untouched(t, 1)))
	for _, c := range []struct {
		name, labels string
		want         float64
	}{
		{"plumbline_limit_newtons", "bound=upper limit=zero_force", 60},
		{"plumbline_limit_radians", "bound=upper limit=angle_offset", math.Pi / 180},
		{"plumbline_limit_celsius", "bound=lower limit=temperature", -40},
		{"plumbline_limit_celsius", "bound=upper limit=temperature", 85},
		{"plumbline_limit_celsius", "bound=upper limit=drift_temperature", 50},
		{"plumbline_limit_per_second", "bound=upper limit=spikes", 5.0 / 60},
		{"plumbline_limit_periods", "bound=upper limit=gap", 20},
		{"plumbline_limit_ratio", "bound=upper limit=frames_lost", 0.01},
	} {
		if v, ok := values(got[c.name])[c.labels]; !ok || math.Abs(v-c.want) > 1e-12 {
			t.Errorf("%s{%s}: got %v, want %v", c.name, c.labels, values(got[c.name]), c.want)
		}
	}
}
