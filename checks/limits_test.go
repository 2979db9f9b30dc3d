package checks

import (
	"math"
	"reflect"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The table of limits in the measurement model, in the units of a setup file.
func TestDefaultLimits(t *testing.T) {
	want := map[string][]float64{
		"zero_force_n": {60}, "zero_moment_nm": {12}, "weight_ratio": {0.05}, "axes_ratio": {0.02}, "drag_nm": {12},
		"angle_offset_deg": {1}, "angle_slip_deg": {0.3}, "angle_jump_deg": {3}, "skew_s": {0.002},
		"noise_force_n": {25}, "noise_moment_nm": {5}, "hum_force_n": {15}, "hum_moment_nm": {3}, "spikes_per_minute": {5},
		"frames_lost_ratio": {0.01}, "gap_periods": {20}, "supply_v": {9, 32}, "temperature_c": {-40, 85},
		"load_ratio": {0.10}, "load_sum_ratio": {0.05}, "camber_deg": {0.5}, "dropout_ratio": {0.02}, "rest_speed_mps": {0.1}, "slip_deg": {1},
		"radius_ratio": {0.05}, "agreement_ratio": {0.01}, "drift_force_n": {60}, "drift_moment_nm": {12},
		"drift_noise_ratio": {3}, "drift_rate_ratio": {0.02}, "drift_temperature_c": {50},
	}
	l := DefaultLimits()
	got := map[string][]float64{}
	for _, k := range LimitKeys() {
		for _, v := range k.Get(&l) {
			got[k.Key] = append(got[k.Key], math.Round(v*1e9)/1e9)
		}
		if k.Why == "" {
			t.Errorf("%s has no reason", k.Key)
		}
		if n := len(k.Get(&l)); k.Range != (n == 2) {
			t.Errorf("%s has %d values, range %v", k.Key, n, k.Range)
		}
	}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("limits (−got +want):\n%s", diff)
	}
	if math.Abs(l.AngleOffsetRad-0.0174532925) > 1e-9 {
		t.Errorf("1° is %v rad, want 0.01745", l.AngleOffsetRad)
	}
}

// Each key sets a field of its own, and all fields have a key.
func TestLimitKeysSet(t *testing.T) {
	var l Limits
	for i, k := range LimitKeys() {
		given := []float64{float64(100 + i), float64(200 + i)}
		if !k.Range {
			given = given[:1]
		}
		k.Set(&l, given...)
	}
	for i, k := range LimitKeys() {
		if got := k.Get(&l)[0]; math.Abs(got-float64(100+i)) > 1e-9 {
			t.Errorf("%s is %v, want %d: another key sets it too", k.Key, got, 100+i)
		}
	}
	v := reflect.ValueOf(l)
	for i := range v.NumField() {
		if v.Field(i).IsZero() {
			t.Errorf("%s has no key", v.Type().Field(i).Name)
		}
	}
}
