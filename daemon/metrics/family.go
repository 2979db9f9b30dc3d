package metrics

import (
	"math"
	"slices"
	"strings"

	"github.com/prometheus/client_golang/prometheus"
	dto "github.com/prometheus/client_model/go"

	"plumbline/checks"
)

// Type is the type of a metric.
type Type uint8

// The types. States and infos are gauges to Prometheus.
const (
	Gauge Type = iota
	Counter
	StateSet // one series for each state, 1 where it is so; its last label names the state
	Info     // always 1; its labels are what it tells
	Histogram
)

// String returns the word that METRICS.md uses.
func (t Type) String() string {
	return [...]string{"gauge", "counter", "state set", "info", "histogram"}[t]
}

// Metric describes one metric.
type Metric struct {
	Name   string
	Type   Type
	Unit   string // the last words of the name, before _total; empty: a state, an info, or yes (1) and no (0)
	Labels []string
	Help   string
	When   string // what it needs to be there; empty: always, once there is a snapshot

	read   func(*sink) // puts what the snapshot tells
	bounds []int       // of a histogram: the native buckets at whose ends those for who takes none end, rising; index i ends at 2^(i/4)
}

// family is a metric with the label sets that it had in the last scrape: they seldom change, and
// making them anew costs more than all the rest.
type family struct {
	Metric
	desc   *prometheus.Desc
	series []*series // in the order in which they are put
}

// series is one label set. Nobody changes it once it is made.
type series struct {
	values []string
	pairs  []*dto.LabelPair // sorted by name
	text   string           // name and labels as both text formats have them, up to the value
	twice  bool             // the same labels came before
}

func newFamily(m Metric) *family {
	return &family{Metric: m, desc: prometheus.NewDesc(m.Name, m.Help, m.Labels, nil)}
}

func (f *family) newSeries(values []string) *series {
	s := &series{values: slices.Clone(values)}
	for i, name := range f.Labels {
		value := strings.ToValidUTF8(values[i], "\ufffd")
		s.pairs = append(s.pairs, &dto.LabelPair{Name: &name, Value: &value})
	}
	slices.SortFunc(s.pairs, func(a, b *dto.LabelPair) int { return strings.Compare(a.GetName(), b.GetName()) })
	s.text = lineOf(f.Name, s.pairs)
	return s
}

// sample is one value of one series. It is a prometheus.Metric whose labels are made already.
type sample struct {
	family *family
	series *series
	value  float64
	counts *dto.Histogram // instead of value
}

func (s *sample) Desc() *prometheus.Desc { return s.family.desc }

func (s *sample) Write(out *dto.Metric) error {
	out.Label = s.series.pairs
	switch s.family.Type {
	case Histogram:
		out.Histogram = s.counts
	case Counter:
		out.Counter = &dto.Counter{Value: &s.value}
	case Gauge, StateSet, Info:
		out.Gauge = &dto.Gauge{Value: &s.value}
	}
	return nil
}

// sink takes what one family after the other puts.
type sink struct {
	view
	family *family
	next   int
	out    []sample
}

// begin turns to the next family.
func (k *sink) begin(f *family) { k.family, k.next = f, 0 }

// end forgets label sets that are no more.
func (k *sink) end() { k.family.series = k.family.series[:k.next] }

// put takes one value. What is not finite is left out, and so is a second one of the same labels.
func (k *sink) put(value float64, labels ...string) {
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return
	}
	k.sample(value+0, nil, labels) // a negative zero becomes zero
}

// count puts one histogram.
func (k *sink) count(h *checks.Histogram, labels ...string) {
	if !math.IsNaN(h.Sum) && !math.IsInf(h.Sum, 0) {
		k.sample(0, counts(h, k.family.bounds), labels)
	}
}

func (k *sink) sample(value float64, counts *dto.Histogram, labels []string) {
	f := k.family
	if k.next == len(f.series) || !slices.Equal(f.series[k.next].values, labels) {
		s := f.newSeries(labels)
		f.series = f.series[:k.next] // what follows may double what is new
		for _, before := range f.series {
			s.twice = s.twice || slices.Equal(before.values, s.values)
		}
		f.series = append(f.series, s)
	}
	s := f.series[k.next]
	k.next++
	if !s.twice {
		k.out = append(k.out, sample{f, s, value, counts})
	}
}

// flag puts 1 for true and 0 for false.
func (k *sink) flag(is bool, labels ...string) {
	value := 0.0
	if is {
		value = 1
	}
	k.put(value, labels...)
}
