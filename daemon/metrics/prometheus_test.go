package metrics

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	dto "github.com/prometheus/client_model/go"

	"plumbline/daemon"
)

// tool returns the path of a program of the Debian package prometheus.
func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		const advice = "install it: apt-get install prometheus"
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is missing; %s", name, advice)
		}
		t.Skipf("%s is missing; %s", name, advice)
	}
	return path
}

// TestPromtool lets promtool 2.42 or newer judge the whole exposition, those of process and Go included.
func TestPromtool(t *testing.T) {
	body, _ := scrape(t, of(full(t, 4)).Handler(), "text/plain")
	c := exec.CommandContext(t.Context(), tool(t, "promtool"), "check", "metrics")
	c.Stdin = strings.NewReader(body)
	out, err := c.CombinedOutput()
	if err != nil || len(bytes.TrimSpace(out)) > 0 {
		t.Errorf("%v\n%s", err, out)
	}
}

// TestPrometheus has a real Prometheus scrape an exporter once a second: at first nothing has been heard, then
// there is something of everything. Each metric of the table must have data there.
func TestPrometheus(t *testing.T) {
	program := tool(t, "prometheus")
	var newest atomic.Pointer[daemon.Snapshot]
	newest.Store(untouched(t, 4))
	last := full(t, 4)
	scrapes := make(chan struct{}, 1000)
	metrics := New(newest.Load, "plumbline", "1.2.3", "0123abc").Handler()
	target := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		metrics.ServeHTTP(w, r)
		select {
		case scrapes <- struct{}{}:
		default:
		}
	}))
	t.Cleanup(target.Close)
	api := start(t, program, target.Listener.Addr().String())
	waitFor(t, scrapes, 2) // the first is stored when the second comes
	early := api.count(t, `count by (__name__) ({job="plumbline"})`)
	if early["plumbline_check_verdict"] == 0 || early["plumbline_corner_zero_offset_newtons"] != 0 {
		t.Errorf("before the first frame: %v", early)
	}
	newest.Store(last)
	for len(scrapes) > 0 {
		<-scrapes
	}
	waitFor(t, scrapes, 2)

	// What was scraped is stored a moment later.
	var got map[string]float64
	var missing []string
	for deadline := time.Now().Add(10 * time.Second); time.Now().Before(deadline); time.Sleep(200 * time.Millisecond) {
		got, missing = api.count(t, `count by (__name__) ({job="plumbline"})`), nil
		for _, m := range Table() {
			if got[stored(m.Name, m.Type == Histogram)] == 0 {
				missing = append(missing, m.Name)
			}
		}
		if missing == nil {
			break
		}
	}
	if missing != nil {
		t.Errorf("Prometheus has no data of %v", missing)
	}
	for name, f := range gather(t, of(last)) {
		if want := float64(len(f.GetMetric())); got[stored(name, f.GetType() == dto.MetricType_HISTOGRAM)] != want {
			t.Errorf("%s: Prometheus has %v series, %v were exported", name, got, want)
		}
	}
	nativeArrives(t, start(t, program, target.Listener.Addr().String(), "--enable-feature=native-histograms"), last)
	for _, c := range []struct {
		name, query string
		want        float64
	}{
		{"the scrape is well", `sum by (__name__) (up)`, 1},
		{"the vehicle fails", `sum by (__name__) (plumbline_verdict{verdict="fail"})`, 1},
		{"each check has one verdict", `max by (__name__) (sum by (__name__, check, subject, channel) (plumbline_check_verdict))`, 1},
		{"the event time", `max by (__name__) (plumbline_snapshot_timestamp_seconds)`, float64(last.At) / 1e9},
	} {
		answer := api.count(t, c.query)
		for _, v := range answer {
			if v != c.want {
				t.Errorf("%s: %s is %v, want %v", c.name, c.query, v, c.want)
			}
		}
		if len(answer) != 1 {
			t.Errorf("%s: %s gives %v", c.name, c.query, answer)
		}
	}
}

// stored is the name under which a family can be counted in a store.
func stored(name string, histogram bool) string {
	if histogram {
		return name + "_count"
	}
	return name
}

// nativeArrives waits until a Prometheus that takes native histograms has those of a snapshot, and compares.
func nativeArrives(t *testing.T, api *server, s *daemon.Snapshot) {
	t.Helper()
	want := &s.Now.Corners[0].VerticalForce
	name := s.Setup.Checks.Corners[0].Name
	const family = "plumbline_corner_vertical_force_newtons"
	query := func(f string) string {
		return `label_replace(` + f + `(` + family + `{corner="` + name + `"}), "__name__", "` + f + `", "", "")`
	}
	var got map[string]float64
	for deadline := time.Now().Add(30 * time.Second); time.Now().Before(deadline); time.Sleep(200 * time.Millisecond) {
		if got = api.count(t, query("histogram_count")); len(got) > 0 {
			break
		}
	}
	if got["histogram_count"] != float64(want.Count) {
		t.Errorf("native: %v values of %s arrived, want %d", got, family, want.Count)
	}
	// half of the values lie below the median: its bucket is 19 % wide
	mean := want.Sum / float64(want.Count)
	if got := api.count(t, `label_replace(histogram_quantile(0.5, `+family+`{corner="`+name+`"}), "__name__", "median", "", "")`)["median"]; got < 0.8*mean || got > 1.2*mean {
		t.Errorf("native: median %v, want about %v", got, mean)
	}
}

// waitFor waits for so many scrapes.
func waitFor(t *testing.T, scrapes <-chan struct{}, n int) {
	t.Helper()
	for range n {
		select {
		case <-scrapes:
		case <-time.After(60 * time.Second):
			t.Fatal("Prometheus does not scrape")
		}
	}
}

// server is the address of a Prometheus that runs.
type server struct {
	base   string
	client *http.Client
}

// start runs a Prometheus that scrapes target, until the test ends.
func start(t *testing.T, program, target string, flags ...string) *server {
	t.Helper()
	dir := t.TempDir()
	config := filepath.Join(dir, "prometheus.yml")
	text := "global: {scrape_interval: 1s, scrape_timeout: 1s}\nscrape_configs:\n  - job_name: plumbline\n    static_configs: [{targets: ['" + target + "']}]\n"
	if err := os.WriteFile(config, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	free, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := free.Addr().String()
	free.Close()
	var out bytes.Buffer
	ctx, cancel := context.WithTimeout(context.WithoutCancel(t.Context()), 2*time.Minute)
	c := exec.CommandContext(ctx, program, append(flags, "--config.file="+config, "--storage.tsdb.path="+filepath.Join(dir, "data"), "--web.listen-address="+address)...)
	c.Stdout, c.Stderr = &out, &out
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	s := &server{"http://" + address, &http.Client{Timeout: 10 * time.Second, Transport: &http.Transport{}}}
	t.Cleanup(func() {
		s.client.CloseIdleConnections()
		cancel() // kills it: what it stored is not wanted
		_ = c.Wait()
		if t.Failed() {
			t.Logf("Prometheus says:\n%s", out.String())
		}
	})
	for deadline := time.Now().Add(60 * time.Second); ; time.Sleep(100 * time.Millisecond) {
		if _, err := s.get(t, "/-/ready"); err == nil {
			return s
		} else if time.Now().After(deadline) {
			t.Fatalf("Prometheus is not ready: %v", err)
		}
	}
}

func (s *server) get(t *testing.T, path string) ([]byte, error) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, s.base+path, http.NoBody)
	if err != nil {
		return nil, err
	}
	answer, err := s.client.Do(r)
	if err != nil {
		return nil, err
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err == nil && answer.StatusCode != http.StatusOK {
		err = fmt.Errorf("status %d: %s", answer.StatusCode, body)
	}
	return body, err
}

// count asks for a value by the name of a metric.
func (s *server) count(t *testing.T, query string) map[string]float64 {
	t.Helper()
	body, err := s.get(t, "/api/v1/query?query="+url.QueryEscape(query))
	if err != nil {
		t.Fatal(err)
	}
	var answer struct {
		Data struct {
			Result []struct {
				Metric map[string]string
				Value  [2]any
			}
		}
	}
	if err := json.Unmarshal(body, &answer); err != nil {
		t.Fatalf("%v: %s", err, body)
	}
	out := map[string]float64{}
	for _, r := range answer.Data.Result {
		text, _ := r.Value[1].(string)
		var v float64
		if _, err := fmt.Sscan(text, &v); err != nil {
			t.Fatalf("%s: %v", body, err)
		}
		out[r.Metric["__name__"]] = v
	}
	return out
}
