package dashboards

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"time"

	"plumbline/bus/simulated"
	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/metrics"
	"plumbline/daemon/record"
	"plumbline/daemon/setup"
)

// play is a simulated vehicle that is judged and scraped while it goes on.
type play struct {
	vehicle string
	address string        // host:port of its metrics
	start   chan struct{} // closed by begin
	done    chan struct{}
	newest  atomic.Pointer[daemon.Snapshot]
	event   atomic.Int64 // ns since the start, event time
	scrapes atomic.Int64
}

// prepared is a vehicle whose metrics are served and that begins with begin, at speed seconds of event time per second.
func prepared(t *testing.T, c simulated.Config, speed float64, faults ...string) *play {
	t.Helper()
	for _, text := range faults {
		f, err := simulated.ParseFault(text)
		if err != nil {
			t.Fatal(err)
		}
		c.Faults = append(c.Faults, f)
	}
	s, err := setup.Parse("demo.yaml", []byte(c.SetupYAML()), c.ReadFile)
	if err != nil {
		t.Fatal(err)
	}
	bench, err := daemon.NewBench(s, "plumbline (test)")
	if err != nil {
		t.Fatal(err)
	}
	j := bench.Judge("live")
	j.KeepWindows()
	j.KeepCost()
	p := &play{vehicle: c.Name, start: make(chan struct{}), done: make(chan struct{})}
	looked := int64(0)
	j.Grid = func(at int64) {
		p.event.Store(at - c.Start)
		if at-looked >= int64(speed*2e8) {
			looked = at
			snapshot := j.Snapshot(at)
			dress(snapshot)
			p.newest.Store(snapshot)
		}
	}
	mux := http.NewServeMux()
	exporter := metrics.New(p.newest.Load, "plumbline", "test", "").Handler()
	mux.HandleFunc("GET /metrics", func(w http.ResponseWriter, r *http.Request) {
		p.scrapes.Add(1)
		exporter.ServeHTTP(w, r)
	})
	mux.Handle("GET /runbooks/", Runbooks())
	server := httptest.NewServer(mux)
	p.address = server.Listener.Addr().String()
	ctx, cancel := context.WithCancel(context.WithoutCancel(t.Context()))
	go func() {
		defer close(p.done)
		select {
		case <-p.start:
		case <-ctx.Done():
			return
		}
		c.Start, c.BitRate = time.Now().UnixNano(), 1_000_000
		v, err := simulated.New(c)
		if err != nil {
			t.Error(err)
			return
		}
		if err := j.Run(ctx, daemon.Paced(v, speed)); err != nil && !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
	}()
	t.Cleanup(func() {
		cancel()
		<-p.done
		server.Close()
	})
	return p
}

func (p *play) begin() { close(p.start) }

// dress adds to a snapshot what a simulation has not: a recorder that works, and a serial source.
func dress(s *daemon.Snapshot) {
	changed := *s.Setup
	changed.Sources = append([]setup.Source(nil), changed.Sources...)
	changed.Sources = append(changed.Sources, setup.Source{Name: "port", Kind: setup.Serial, Interface: "/dev/ttyUSB0", Match: "port"})
	changed.Checks.Sources = append(append([]string(nil), changed.Checks.Sources...), "port")
	s.Setup = &changed
	s.Now.Sources = append(s.Now.Sources, checks.SourceState{Link: checks.LinkActive})
	n := uint64(0)
	for _, received := range s.Flow.Received {
		n += received
	}
	s.Flow.Received = append(s.Flow.Received, n/10)
	s.Recording = &record.Stats{State: record.Recording, Parts: 1, Bytes: int64(n) * 16, Free: 40<<30 - n*16, FreeOK: true, Reserve: 1 << 30}
	for i := range changed.Sources {
		source := &changed.Sources[i]
		name := source.Interface
		if source.Kind == setup.Serial {
			name = source.Match
		}
		s.Recording.Sources = append(s.Recording.Sources, record.Balance{Source: name, Received: n, Written: n - min(n, 100), Pending: min(n, 100), Bytes: n * 16})
	}
}
