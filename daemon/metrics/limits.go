package metrics

import (
	"math"
	"slices"
	"strings"

	"plumbline/checks"
)

// limitUnit is a unit that limits come in.
type limitUnit struct {
	word   string   // base unit, as in the name of the metric
	units  []string // checks.LimitKey.Unit
	suffix []string // of the words in the setup file, left out of the label
	factor float64  // from the SI value of checks
}

func limitUnits() []limitUnit {
	return []limitUnit{
		{"newtons", []string{"N"}, []string{"_n"}, 1},
		{"newton_meters", []string{"N·m"}, []string{"_nm"}, 1},
		{"radians", []string{"°", "° per turn"}, []string{"_deg"}, 1},
		{"seconds", []string{"s"}, []string{"_s"}, 1},
		{"ratio", []string{""}, []string{"_ratio"}, 1},
		{"volts", []string{"V"}, []string{"_v"}, 1},
		{"celsius", []string{"°C", "K"}, []string{"_c", "_k"}, 1},
		{"meters_per_second", []string{"m/s"}, []string{"_mps"}, 1},
		{"per_second", []string{"1/min"}, []string{"_per_minute"}, 1.0 / 60},
		{"periods", nil, []string{"_periods"}, 1},
	}
}

// has tells whether a limit comes in the unit, and what its label is. A number of periods has no unit in the setup.
func (u *limitUnit) has(key *checks.LimitKey) (label string, ok bool) {
	for _, suffix := range u.suffix {
		if name, ends := strings.CutSuffix(key.Key, suffix); ends && (u.units == nil || slices.Contains(u.units, key.Unit)) {
			return name, true
		}
	}
	return "", false
}

func limitTable() []Metric {
	var out []Metric
	for _, u := range limitUnits() {
		out = append(out, Metric{
			Name: "plumbline_limit_" + u.word, Unit: u.word, Labels: []string{"limit", "bound"}, read: limits(&u),
			Help: "A bound that findings are judged by, as the setup or its default gives it.",
		})
	}
	return out
}

// limits puts the limits of a unit.
func limits(u *limitUnit) func(*sink) {
	var keys []checks.LimitKey
	var labels []string
	for _, key := range checks.LimitKeys() {
		if label, ok := u.has(&key); ok {
			keys, labels = append(keys, key), append(labels, label)
		}
	}
	return func(k *sink) {
		if k.snapshot == nil || k.snapshot.Setup == nil {
			return
		}
		l := &k.setup.Limits
		for i := range keys {
			name := labels[i]
			si := math.Abs(keys[i].Factor) * u.factor
			given := keys[i].Get(l)
			if keys[i].Range {
				k.put(given[0]*si, name, "lower")
			}
			k.put(given[len(given)-1]*si, name, "upper")
		}
	}
}
