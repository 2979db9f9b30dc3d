package metrics

import (
	"net/http"
	"sync"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"plumbline/daemon"
)

// Exporter is a prometheus.Collector and a prometheus.Gatherer of the newest snapshot. It may be
// asked by any number of goroutines.
type Exporter struct {
	snapshot func() *daemon.Snapshot
	program  program

	mu       sync.Mutex // guards what follows; held by scrapes only
	families []*family
	known    known
	size     int // samples of the last scrape
}

// program is what is known of the program itself.
type program struct{ name, version, revision string }

// New returns an exporter of what snapshot returns, which must not wait; nil: nothing is known yet.
// Program, version and revision are those of plumbline_build_info.
func New(snapshot func() *daemon.Snapshot, name, version, revision string) *Exporter {
	e := &Exporter{snapshot: snapshot, program: program{name, version, revision}}
	for _, m := range Table() {
		e.families = append(e.families, newFamily(m))
	}
	return e
}

// Describe tells of every metric of the table.
func (e *Exporter) Describe(out chan<- *prometheus.Desc) {
	for _, f := range e.families {
		out <- f.desc
	}
}

// Collect sends what the newest snapshot tells.
func (e *Exporter) Collect(out chan<- prometheus.Metric) {
	samples := e.samples()
	for i := range samples {
		out <- &samples[i]
	}
}

// samples makes all samples of one snapshot.
func (e *Exporter) samples() []sample {
	s := e.snapshot()
	e.mu.Lock()
	defer e.mu.Unlock()
	k := sink{view: view{program: &e.program}, out: make([]sample, 0, e.size)}
	if s != nil {
		if s.Setup != nil {
			e.known.learn(s.Setup)
		}
		k.view = newView(&e.program, s, &e.known)
	}
	for _, f := range e.families {
		k.begin(f)
		f.read(&k)
		k.end()
	}
	e.size = len(k.out)
	return k.out
}

// Handler serves the exporter with the metrics of process and Go, in the format that is asked for,
// OpenMetrics where that can be had. It has a registry of its own. Four scrapes are in work at one time; who comes meanwhile waits, and
// is sent away with status 503 after 8 s.
func (e *Exporter) Handler() http.Handler {
	r := prometheus.NewRegistry()
	r.MustRegister(
		collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}),
	)
	return inQueue(e.texts(r, handler(e.beside(r))))
}

func handler(g prometheus.Gatherer) http.Handler {
	return promhttp.HandlerFor(g, promhttp.HandlerOpts{
		EnableOpenMetrics: true,
		ErrorHandling:     promhttp.ContinueOnError, // one bad sample must not hide all others
		// It is served to the same machine or from there on by an agent that compresses
		// on its own: the processor belongs to who listens.
		DisableCompression: true,
	})
}
