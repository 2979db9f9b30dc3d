package metrics

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"testing"
)

const openMetrics = "application/openmetrics-text;version=1.0.0,text/plain;q=0.5"

// BenchmarkScrape: a scrape of a vehicle with eight corners is to take less than 2 ms.
func BenchmarkScrape(b *testing.B) {
	h := of(full(b, 8)).Handler()
	request := httptest.NewRequestWithContext(b.Context(), http.MethodGet, "/metrics", http.NoBody)
	request.Header.Set("Accept", openMetrics)
	w := &discard{header: http.Header{}}
	b.ReportAllocs()
	for b.Loop() {
		w.lines, w.bytes = 0, 0
		h.ServeHTTP(w, request)
	}
	b.ReportMetric(float64(w.lines), "lines")
	b.ReportMetric(float64(w.bytes), "bytes")
}

// discard is a response that nobody keeps.
type discard struct {
	header       http.Header
	lines, bytes int
}

func (d *discard) Header() http.Header { return d.header }
func (d *discard) WriteHeader(int)     {}
func (d *discard) Write(p []byte) (int, error) {
	d.lines += bytes.Count(p, []byte("\n"))
	d.bytes += len(p)
	return len(p), nil
}
