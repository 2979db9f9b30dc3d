package metrics

import (
	"math"
	"reflect"
	"testing"
	"time"

	"plumbline/checks"
)

// TestNotFiniteIsMissing puts what is no number into every number of a snapshot, one kind after the other.
func TestNotFiniteIsMissing(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		s := full(t, 1)
		poison(reflect.ValueOf(&s.Now).Elem(), bad)
		for i := range s.Result.Findings {
			s.Result.Findings[i].Value, s.Result.Findings[i].Uncertainty = &bad, &bad
		}
		got := gather(t, of(s))
		for name, f := range got {
			for labels, v := range values(f) {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Errorf("%v: %s{%s} is %v", bad, name, labels, v)
				}
			}
		}
		for _, name := range []string{"plumbline_corner_zero_offset_newtons", "plumbline_channel_mean_newtons", "plumbline_corner_angular_velocity_radians_per_second"} {
			if got[name] != nil {
				t.Errorf("%v: %s is there", bad, name)
			}
		}
		if got["plumbline_check_verdict"] == nil || got["plumbline_message_frames_total"] == nil {
			t.Errorf("%v: what is a number is missing too", bad)
		}
	}
}

func poison(v reflect.Value, bad float64) {
	switch v.Kind() {
	case reflect.Float64:
		v.SetFloat(bad)
	case reflect.Complex128:
		v.SetComplex(complex(bad, bad))
	case reflect.Struct:
		for _, field := range v.Fields() {
			poison(field, bad)
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			poison(v.Index(i), bad)
		}
	default:
	}
}

// TestStaleIsMissing: a value that has not come for a while is not shown as if it stood.
func TestStaleIsMissing(t *testing.T) {
	names := []string{"plumbline_corner_temperature_celsius", "plumbline_corner_supply_volts", "plumbline_corner_angular_velocity_radians_per_second"}
	s := tested(t, 1)
	got := gather(t, of(s))
	for _, name := range names {
		if got[name] == nil {
			t.Errorf("%s is missing", name)
		}
	}
	if up := values(got["plumbline_source_up"]); up["source=wheels"] != 1 {
		t.Errorf("up: %v", up)
	}
	if up := values(got["plumbline_sensor_up"]); up["kind=corner subject=FL"] != 1 {
		t.Errorf("up: %v", up)
	}
	s.Now.At += int64(20 * time.Second)
	got = gather(t, of(s))
	for _, name := range names {
		if got[name] != nil {
			t.Errorf("%s is still there", name)
		}
	}
	if up := values(got["plumbline_source_up"]); up["source=wheels"] != 0 {
		t.Errorf("up after silence: %v", up)
	}
	if up := values(got["plumbline_sensor_up"]); up["kind=corner subject=FL"] != 0 || len(up) == 0 {
		t.Errorf("up after silence: %v", up)
	}
	s.Now.Sources[0].Link = checks.LinkSilent
	if up := values(gather(t, of(s))["plumbline_source_up"]); up["source=wheels"] != 1 {
		t.Errorf("up of a link that says so: %v", up)
	}
}
