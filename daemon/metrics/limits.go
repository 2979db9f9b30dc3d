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
	suffix string   // of the words in the setup file, left out of the label
	factor float64  // from the SI value of checks
}

func limitUnits() []limitUnit {
	return []limitUnit{
		{"newtons", []string{"N"}, "_n", 1},
		{"newton_meters", []string{"N·m"}, "_nm", 1},
		{"radians", []string{"°", "° per turn"}, "_deg", 1},
		{"seconds", []string{"s"}, "_s", 1},
		{"ratio", []string{""}, "_ratio", 1},
		{"volts", []string{"V"}, "_v", 1},
		{"celsius", []string{"°C"}, "_c", 1},
		{"meters_per_second", []string{"m/s"}, "_mps", 1},
		{"per_second", []string{"1/min"}, "_per_minute", 1.0 / 60},
		{"periods", nil, "_periods", 1},
	}
}

// has tells whether a limit comes in the unit. A number of periods has no unit in the setup.
func (u *limitUnit) has(key *checks.LimitKey) bool {
	return strings.HasSuffix(key.Key, u.suffix) && (u.units == nil || slices.Contains(u.units, key.Unit))
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
	for _, key := range checks.LimitKeys() {
		if u.has(&key) {
			keys = append(keys, key)
		}
	}
	return func(k *sink) {
		if k.snapshot == nil || k.snapshot.Setup == nil {
			return
		}
		l := &k.setup.Limits
		for i := range keys {
			name := strings.TrimSuffix(keys[i].Key, u.suffix)
			si := math.Abs(keys[i].Factor) * u.factor
			given := keys[i].Get(l)
			if keys[i].Range {
				k.put(given[0]*si, name, "lower")
			}
			k.put(given[len(given)-1]*si, name, "upper")
		}
	}
}
