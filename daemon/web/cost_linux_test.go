package web

import (
	"context"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"plumbline/bus/simulated"
	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// BenchmarkPage: what it costs to look at a vehicle with eight corners on the road: the snapshot, which the
// goroutine that judges makes five times a second, and what is sent of it to somebody who opens a page. Each is to
// take less than 1 ms.
//
//	go test ./daemon/web -run '^$' -bench Page
func BenchmarkPage(b *testing.B) {
	cfg := simulated.Standard(8)
	cfg.RateHz = 100
	cfg.Script = append(cfg.Function(), simulated.Road(2)...)
	b.Run("snapshot", func(b *testing.B) {
		midway(b, cfg, func(j *daemon.Judge, at int64) {
			b.ReportAllocs()
			worked := costs(b)
			for b.Loop() {
				j.Snapshot(at)
			}
			worked()
		})
	})
	st, s := newStage(b, Config{})
	midway(b, cfg, func(j *daemon.Judge, at int64) { st.now.Store(j.Snapshot(at)) })
	request := httptest.NewRequestWithContext(b.Context(), http.MethodGet, "/api/stream", http.NoBody)
	for _, path := range []string{"/", "/corner/A1L", "/drive"} {
		p, ok := s.find(path)
		if !ok {
			b.Fatalf("there is no page %s", path)
		}
		b.Run(path, func(b *testing.B) {
			w := &sink{ResponseWriter: httptest.NewRecorder()}
			b.ReportAllocs()
			worked := costs(b)
			for b.Loop() {
				w.bytes = 0
				st.again()
				v := viewer{server: s, w: w, control: http.NewResponseController(w), lang: s.language(request), page: &p}
				if !v.send(s.refresh()) {
					b.Fatal("nothing was sent")
				}
			}
			worked()
			b.ReportMetric(float64(w.bytes), "bytes")
		})
	}
}

// midway judges a vehicle until a minute before the end of its script, and has look see the judge there.
func midway(b *testing.B, cfg simulated.Config, look func(j *daemon.Judge, at int64)) {
	b.Helper()
	v, err := simulated.New(cfg)
	if err != nil {
		b.Fatal(err)
	}
	s, err := setup.Parse("demo.yaml", []byte(cfg.SetupYAML()), cfg.ReadFile)
	if err != nil {
		b.Fatal(err)
	}
	bench, err := daemon.NewBench(s, "plumbline test")
	if err != nil {
		b.Fatal(err)
	}
	ctx, cancel := context.WithCancel(b.Context())
	defer cancel()
	j := bench.Judge("demo")
	j.KeepWindows()
	j.KeepCost()
	var begun, last int64
	seen := false
	j.Grid = func(at int64) {
		if begun == 0 {
			begun = at
		}
		switch {
		case seen:
		case time.Duration(at-begun) >= v.Duration()-time.Minute:
			look(j, at)
			seen = true
			cancel()
		case at-last >= int64(200*time.Millisecond): // as the daemon does
			last = at
			j.Snapshot(at)
		}
	}
	if err := j.Run(ctx, v); err != nil && !errors.Is(err, context.Canceled) {
		b.Fatal(err)
	}
	if !seen {
		b.Fatal("the script was too short")
	}
}

// costs has what it returns report the time of the processor from here on, which a busy machine disturbs less.
func costs(b *testing.B) func() {
	b.Helper()
	used := func() int64 {
		var u unix.Rusage
		if err := unix.Getrusage(unix.RUSAGE_SELF, &u); err != nil {
			b.Fatal(err)
		}
		return u.Utime.Nano() + u.Stime.Nano()
	}
	from := used()
	return func() { b.ReportMetric(float64(used()-from)/float64(b.N), "cpu-ns/op") }
}

// sink is a response that nobody keeps.
type sink struct {
	http.ResponseWriter
	bytes int
}

func (s *sink) Write(p []byte) (int, error)       { s.bytes += len(p); return len(p), nil }
func (s *sink) FlushError() error                 { return nil }
func (s *sink) SetWriteDeadline(time.Time) error  { return nil }
func (s *sink) WriteString(t string) (int, error) { return io.WriteString(io.Discard, t) }
