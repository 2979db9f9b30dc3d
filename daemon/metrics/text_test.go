package metrics

import (
	"bytes"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/prometheus/client_golang/prometheus"
	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
)

// TestText: what is written by hand is what expfmt writes, byte by byte, in both formats.
func TestText(t *testing.T) {
	s := full(t, 2)
	s.Result.Setup.Vehicle = "a \"quoted\" \\ name\nin two lines"
	for _, accept := range []string{"text/plain", openMetrics} {
		e := of(s)
		want, kind := scrape(t, handler(e), accept)
		got, gotKind := scrape(t, e.texts(prometheus.NewRegistry(), http.NotFoundHandler()), accept)
		if gotKind != kind {
			t.Errorf("content type: got %q, want %q", gotKind, kind)
		}
		if diff := cmp.Diff(strings.SplitAfter(got, "\n"), strings.SplitAfter(want, "\n")); diff != "" {
			t.Errorf("%s: got before want:\n%s", accept, diff)
		}
	}
}

// TestTextOrder: the metrics of process and Go come around ours, sorted as a whole.
func TestTextOrder(t *testing.T) {
	body, _ := scrape(t, of(full(t, 1)).Handler(), "text/plain")
	last := ""
	for line := range strings.Lines(body) {
		if name, ok := strings.CutPrefix(line, "# TYPE "); ok {
			if name < last {
				t.Errorf("%q comes after %q", name, last)
			}
			last = name
		}
	}
	if !strings.Contains(body, "\ngo_goroutines ") || !strings.Contains(body, "\nplumbline_verdict{") {
		t.Error("a part is missing")
	}
}

// TestTextNumber holds the numbers against expfmt.
func TestTextNumber(t *testing.T) {
	values := []float64{0, 1, -1, 2, 10, -115, 0.5, 1e5, 999999, 1e6, 1e7, 123456789, 1e20, 1e21, 1e22, 1e-5, 1e300, math.MaxFloat64, 5e-324, 1795829419.855}
	random := rand.New(rand.NewPCG(7, 8))
	for range 2000 {
		values = append(values, random.NormFloat64()*math.Exp2(random.Float64()*80-40), float64(random.IntN(1<<30)))
	}
	name, kind := "x", dto.MetricType_GAUGE
	for _, v := range values {
		f := &dto.MetricFamily{Name: &name, Type: &kind, Metric: []*dto.Metric{{Gauge: &dto.Gauge{Value: &v}}}}
		for _, open := range []bool{false, true} {
			var want bytes.Buffer
			encode(&want, f, open)
			if got := "# TYPE x gauge\nx " + string(appendNumber(nil, v, open)) + "\n"; got != want.String() {
				t.Errorf("open %v: got %q, want %q", open, got, want.String())
			}
		}
	}
}

// TestTextOnly: who asks for another format gets it from elsewhere.
func TestTextOnly(t *testing.T) {
	r := httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/metrics", http.NoBody)
	r.Header.Set("Accept", "application/vnd.google.protobuf;proto=io.prometheus.client.MetricFamily;encoding=delimited")
	w := httptest.NewRecorder()
	of(full(t, 1)).Handler().ServeHTTP(w, r)
	if kind := expfmt.Format(w.Header().Get("Content-Type")); kind.FormatType() != expfmt.TypeProtoDelim {
		t.Errorf("content type %q", kind)
	}
}
