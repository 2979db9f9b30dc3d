package metrics

import (
	"slices"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus/testutil"
	dto "github.com/prometheus/client_model/go"
)

// TestMarkdown: METRICS.md is what the table says.
func TestMarkdown(t *testing.T) { golden(t, "METRICS.md", Markdown()) }

// TestNames: the unit stands in the name, and it is a base unit or what is counted.
// After prometheus.io/docs/practices/naming, for the units that its linter does not know.
func TestNames(t *testing.T) {
	base := []string{"newtons", "newton_meters", "radians", "radians_per_second", "celsius", "volts", "meters", "meters_per_second", "seconds", "bytes", "ratio", "per_second"}
	counted := []string{"frames", "turns", "parts", "stops", "findings", "periods", "failures"}
	yesNo := []string{"_up", "_turning", "_active", "_ended"}
	labels := []string{
		"program", "version", "revision", "goversion", "vehicle", "file", "sha256", // of infos
		"check", "subject", "channel", "verdict", "id", "source", "place", "message", "corner", "direction", "state", "window", "limit", "bound", "kind",
	}
	seen := map[string]bool{}
	for _, m := range Table() {
		if seen[m.Name] {
			t.Errorf("%s stands twice in the table", m.Name)
		}
		seen[m.Name] = true
		bare := m.Name
		switch m.Type {
		case Counter:
			if bare = strings.TrimSuffix(m.Name, "_total"); bare == m.Name {
				t.Errorf("%s: a counter ends in _total", m.Name)
			}
		case Info:
			if !strings.HasSuffix(m.Name, "_info") || m.Unit != "" {
				t.Errorf("%s: an info ends in _info and has no unit", m.Name)
			}
		case StateSet:
			last := m.Labels[len(m.Labels)-1]
			if !strings.HasSuffix(m.Name, "_"+last) || last != "state" && last != "verdict" || m.Unit != "" {
				t.Errorf("%s: a state set ends in its last label, state or verdict", m.Name)
			}
		case Histogram:
			if m.Unit == "" || len(m.bounds) == 0 || !slices.IsSorted(m.bounds) {
				t.Errorf("%s: a histogram has a unit and bounds that rise", m.Name)
			}
		case Gauge:
			if m.Unit == "" && !slices.ContainsFunc(yesNo, func(end string) bool { return strings.HasSuffix(m.Name, end) }) {
				t.Errorf("%s: neither a unit nor a question", m.Name)
			}
		}
		if m.Unit != "" {
			if !strings.HasSuffix(bare, "_"+m.Unit) || !slices.Contains(base, m.Unit) && !slices.Contains(counted, m.Unit) {
				t.Errorf("%s: unit %q is no base unit at its end", m.Name, m.Unit)
			}
			// the longest unit that the name ends in is the one that is meant
			for _, u := range base {
				if strings.HasSuffix(bare, "_"+u) && len(u) > len(m.Unit) {
					t.Errorf("%s: ends in %s, but its unit is %s", m.Name, u, m.Unit)
				}
			}
		}
		if strings.Contains(m.Name, "timestamp") && !strings.HasSuffix(m.Name, "_timestamp_seconds") {
			t.Errorf("%s: a time ends in _timestamp_seconds", m.Name)
		}
		if !strings.HasPrefix(m.Name, "plumbline_") || !strings.HasSuffix(m.Help, ".") || strings.ContainsAny(m.Help+m.When, "|\n") {
			t.Errorf("%s: prefix, full stop or a sign that a table cannot hold: %q", m.Name, m.Help)
		}
		for _, l := range m.Labels {
			if !slices.Contains(labels, l) {
				t.Errorf("%s: label %s is none of the known ones: a new one multiplies the series", m.Name, l)
			}
		}
	}
}

// TestSeries: eight corners stay below 4,500 series, so that a fleet of a hundred
// vehicles fits one small store. Common practice.
func TestSeries(t *testing.T) {
	if raceDetector {
		t.Skip("eight corners take long under the race detector, and nothing runs at the same time")
	}
	n := 0
	for name, f := range gather(t, of(full(t, 8))) {
		if n += seriesOf(f); name != "plumbline_check_verdict" && len(f.GetMetric()) > 200 {
			t.Errorf("%s has %d series", name, len(f.GetMetric()))
		}
	}
	t.Logf("%d series", n)
	if n > 4500 {
		t.Errorf("got %d series, want at most 4500", n)
	}
}

// seriesOf is how many series a family becomes in a store.
func seriesOf(f *dto.MetricFamily) int {
	n := len(f.GetMetric())
	for _, m := range f.GetMetric() {
		if h := m.GetHistogram(); h != nil {
			n += len(h.GetBucket()) + 2 // +Inf, sum and count; less the one that is counted already
		}
	}
	return n
}

func TestLint(t *testing.T) {
	problems, err := testutil.GatherAndLint(of(full(t, 2)))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		t.Errorf("%s: %s", p.Metric, p.Text)
	}
}

// TestEveryMetricIsThere: what the table promises comes, and nothing else.
func TestEveryMetricIsThere(t *testing.T) {
	got := gather(t, of(full(t, 2)))
	for _, m := range Table() {
		f := got[m.Name]
		if f == nil {
			t.Errorf("%s is not exported", m.Name)
			continue
		}
		want := dto.MetricType_GAUGE
		switch m.Type {
		case Counter:
			want = dto.MetricType_COUNTER
		case Histogram:
			want = dto.MetricType_HISTOGRAM
		case Gauge, StateSet, Info:
		}
		if f.GetType() != want || f.GetHelp() != m.Help {
			t.Errorf("%s: %s %q", m.Name, f.GetType(), f.GetHelp())
		}
		delete(got, m.Name)
	}
	for name := range got {
		t.Errorf("%s is not in the table", name)
	}
}

// TestStateSets: of each state set one state is so.
func TestStateSets(t *testing.T) {
	got := gather(t, of(full(t, 2)))
	for _, m := range Table() {
		if m.Type != StateSet {
			continue
		}
		sums := map[string]float64{}
		for labels, v := range values(got[m.Name]) {
			at := strings.LastIndex(labels, m.Labels[len(m.Labels)-1]+"=") // state and verdict are last in the alphabet too
			sums[labels[:at]] += v
		}
		for labels, sum := range sums {
			if sum != 1 {
				t.Errorf("%s{%s}: %v states are so, want 1", m.Name, labels, sum)
			}
		}
	}
}
