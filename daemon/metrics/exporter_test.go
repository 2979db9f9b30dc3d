package metrics

import (
	"math"
	"net/http"
	"net/http/httptest"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/prometheus/client_golang/prometheus"
	dto "github.com/prometheus/client_model/go"

	"plumbline/checks"
	"plumbline/daemon"
)

// gather returns the families of an exporter by name.
func gather(tb testing.TB, e *Exporter) map[string]*dto.MetricFamily {
	tb.Helper()
	r := prometheus.NewPedanticRegistry()
	r.MustRegister(e)
	families, err := r.Gather()
	if err != nil {
		tb.Fatal(err)
	}
	out := map[string]*dto.MetricFamily{}
	for _, f := range families {
		out[f.GetName()] = f
	}
	return out
}

// values returns the values of a family by its label values in the order of its names.
func values(f *dto.MetricFamily) map[string]float64 {
	out := map[string]float64{}
	for _, m := range f.GetMetric() {
		var words []string
		for _, l := range m.GetLabel() {
			words = append(words, l.GetName()+"="+l.GetValue())
		}
		out[strings.Join(words, " ")] = m.GetGauge().GetValue() + m.GetCounter().GetValue()
	}
	return out
}

// scrape returns what the handler serves.
func scrape(tb testing.TB, h http.Handler, accept string) (body, kind string) {
	tb.Helper()
	r := httptest.NewRequestWithContext(tb.Context(), http.MethodGet, "/metrics", http.NoBody)
	r.Header.Set("Accept", accept)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if w.Code != http.StatusOK {
		tb.Fatalf("status %d: %s", w.Code, w.Body)
	}
	return w.Body.String(), w.Header().Get("Content-Type")
}

var number = regexp.MustCompile(` ([-+0-9.e]+)\n`)

// TestExposition compares the whole exposition of one wheel whose zero is off. Numbers are rounded
// to six digits: the last ones differ between processors.
func TestExposition(t *testing.T) {
	body, _ := scrape(t, handler(of(recording(tested(t, 1)))), "text/plain")
	body = number.ReplaceAllStringFunc(body, func(text string) string {
		v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if err != nil {
			t.Fatal(err)
		}
		if v > 1e9 {
			return " " + strconv.FormatFloat(v, 'f', 3, 64) + "\n"
		}
		return " " + strconv.FormatFloat(v, 'g', 6, 64) + "\n"
	})
	body = strings.ReplaceAll(body, runtime.Version(), "GO")
	golden(t, "testdata/one-wheel.txt", body)
}

// TestGatherIsCollect: what is gathered directly is what a registry that checks each sample makes of it.
func TestGatherIsCollect(t *testing.T) {
	e := of(full(t, 2))
	r := prometheus.NewPedanticRegistry()
	r.MustRegister(e)
	want, err := r.Gather()
	if err != nil {
		t.Fatal(err)
	}
	got, err := e.Gather()
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != len(want) {
		t.Fatalf("got %d families, want %d", len(got), len(want))
	}
	for i := range got {
		if got[i].GetName() != want[i].GetName() || got[i].GetType() != want[i].GetType() || got[i].GetHelp() != want[i].GetHelp() || len(got[i].GetMetric()) != len(want[i].GetMetric()) {
			t.Errorf("got %s, want %s", got[i].GetName(), want[i].GetName())
		}
		if diff := cmp.Diff(values(got[i]), values(want[i])); diff != "" {
			t.Errorf("%s: got before want:\n%s", got[i].GetName(), diff)
		}
	}
}

// TestTwice: labels that come twice would spoil the whole scrape; the first of them counts. What
// changes between two scrapes is not mixed up.
func TestTwice(t *testing.T) {
	s := untouched(t, 1)
	e := of(s)
	for _, c := range []struct {
		name string
		ids  []string
		want map[string]float64
	}{
		{"two alike", []string{"a", "b", "a"}, map[string]float64{"id=a": 1, "id=b": 1}},
		{"the first is gone", []string{"b", "a"}, map[string]float64{"id=a": 1, "id=b": 1}},
		{"not a text", []string{"\xff", "c"}, map[string]float64{"id=\ufffd": 1, "id=c": 1}},
		{"none", nil, map[string]float64{}},
		{"again", []string{"c"}, map[string]float64{"id=c": 1}},
	} {
		s.Result.Causes = nil
		for _, id := range c.ids {
			s.Result.Causes = append(s.Result.Causes, daemon.Cause{ID: id})
		}
		if diff := cmp.Diff(values(gather(t, e)["plumbline_cause_active"]), c.want); diff != "" {
			t.Errorf("%s: got before want:\n%s", c.name, diff)
		}
	}
}

// TestNothingYet: without a snapshot there is only what is known of the program.
func TestNothingYet(t *testing.T) {
	got := gather(t, of(nil))
	if len(got) != 1 || got["plumbline_build_info"] == nil {
		t.Errorf("got %v", got)
	}
	if got := gather(t, of(&daemon.Snapshot{})); got["plumbline_verdict"] == nil || got["plumbline_snapshot_timestamp_seconds"] != nil {
		t.Errorf("an empty snapshot: %v", got)
	}
}

// TestEveryCheckFromTheStart: before the first frame each check says that it is inconclusive, or
// absent, and a whole function test with its faults brings no series that was not there before.
func TestEveryCheckFromTheStart(t *testing.T) {
	for _, corners := range []int{1, 2, 8} {
		before := untouched(t, corners)
		first := values(gather(t, of(before))["plumbline_check_verdict"])
		named := map[string]bool{}
		for _, f := range checks.New(before.Setup.Checks).Result().Findings {
			named[f.Check] = true
			labels := "channel=" + f.Channel + " check=" + f.Check + " subject=" + f.Subject + " verdict="
			sum := 0.0
			for _, v := range allVerdicts() {
				is, ok := first[labels+v.String()]
				if !ok {
					t.Fatalf("%d corners: no %s%s", corners, labels, v)
				}
				sum += is
			}
			if sum != 1 || first[labels+"inconclusive"]+first[labels+"absent"] != 1 {
				t.Errorf("%d corners: %s: not exactly one of inconclusive and absent", corners, labels)
			}
		}
		for _, c := range checks.All() {
			if !named[c.Name] {
				t.Logf("%d corners: %s judges nothing that is fitted", corners, c.Name)
			}
			if corners == 8 && !named[c.Name] {
				t.Errorf("%s is not there", c.Name)
			}
		}

		unusable := *before
		unusable.Result.Findings = nil
		got := values(gather(t, of(&unusable))["plumbline_check_verdict"])
		if diff := cmp.Diff(keys(got), keys(first)); diff != "" {
			t.Errorf("%d corners: of a result without findings, got before want:\n%s", corners, diff)
		}
		if corners == 8 {
			continue // seconds for nothing more
		}
		later := values(gather(t, of(tested(t, corners)))["plumbline_check_verdict"])
		if diff := cmp.Diff(keys(later), keys(first)); diff != "" {
			t.Errorf("%d corners: after a test, got before want:\n%s", corners, diff)
		}
		if later["channel=fx check=zero subject=FL verdict=fail"]+later["channel=fz check=zero subject=FL verdict=fail"] == 0 {
			t.Errorf("%d corners: a zero that is off does not show", corners)
		}
	}
}

func keys(m map[string]float64) map[string]bool {
	out := map[string]bool{}
	for k := range m {
		out[k] = true
	}
	return out
}

// TestValues holds some numbers to what the snapshot says.
func TestValues(t *testing.T) {
	s := recording(tested(t, 1))
	s.Setup.Sources[0].Match = "in captures" // live it is called by its interface
	s.Now.Sources[0].Link = checks.LinkBusOff
	s.Now.Sources[0].Lost[checks.LostQueue] = 17
	s.Flow.Received = []uint64{1000}
	got := gather(t, of(s))
	for _, c := range []struct {
		name, labels string
		want, within float64
	}{
		{"plumbline_source_link_state", "source=wheels state=bus_off", 1, 0},
		{"plumbline_source_link_state", "source=wheels state=active", 0, 0},
		{"plumbline_source_up", "source=wheels", 0, 0},
		{"plumbline_source_lost_frames_total", "place=queue source=wheels", 17, 0},
		{"plumbline_source_lost_frames_total", "place=recorder source=wheels", 10, 0},
		{"plumbline_source_received_frames_total", "source=wheels", 1000, 0},
		{"plumbline_source_written_frames_total", "source=wheels", 900, 0},
		{"plumbline_corner_hang_state", "corner=FL state=loaded", 1, 0},
		{"plumbline_recording_state", "state=recording", 1, 0},
		{"plumbline_recording_state", "state=disabled", 0, 0},
		{"plumbline_recording_stops_total", "", 1, 0},
		{"plumbline_snapshot_timestamp_seconds", "", float64(s.At) / 1e9, 0},
		{"plumbline_message_period_seconds", "message=FL_Forces source=wheels", 1.0 / 150, 1e-3},
		{"plumbline_verdict", "verdict=fail", 1, 0},
	} {
		v, ok := values(got[c.name])[c.labels]
		if !ok || math.Abs(v-c.want) > c.within {
			t.Errorf("%s{%s}: got %v, want %v; there are %v", c.name, c.labels, v, c.want, values(got[c.name]))
		}
	}
	worst := 0.0
	for _, v := range values(got["plumbline_corner_zero_offset_newtons"]) {
		worst = math.Max(worst, math.Abs(v))
	}
	if math.Abs(worst-115) > 30 { // on top of the offset of a healthy wheel
		t.Errorf("zero that is 115 N off: got %v", worst)
	}
}

// TestOneSnapshotPerScrape scrapes while snapshots are published as fast as can be: all that one scrape
// shows is of one snapshot, and all that is called for it is a load of a pointer.
func TestOneSnapshotPerScrape(t *testing.T) {
	var newest atomic.Pointer[daemon.Snapshot]
	first := recording(untouched(t, 1))
	newest.Store(first)
	h := New(newest.Load, "plumbline", "", "").Handler()
	stop := make(chan struct{})
	var joined sync.WaitGroup
	joined.Go(func() {
		for i := int64(1); ; i++ {
			select {
			case <-stop:
				return
			default:
			}
			next, stats := *first, *first.Recording
			next.At, stats.Parts = i*1e9, int(i)
			next.Recording = &stats
			if i%2 == 0 {
				next.Result.Causes = []daemon.Cause{{ID: "a:" + strconv.FormatInt(i%7, 10)}}
			}
			newest.Store(&next)
		}
	})
	at := regexp.MustCompile(`(?m)^plumbline_snapshot_timestamp_seconds (\S+)$`)
	parts := regexp.MustCompile(`(?m)^plumbline_recording_parts (\S+)$`)
	var scrapes sync.WaitGroup
	for range 4 {
		scrapes.Go(func() {
			for range 25 {
				body, _ := scrape(t, h, "text/plain")
				a, p := at.FindStringSubmatch(body), parts.FindStringSubmatch(body)
				if p == nil || a == nil && p[1] != "3" {
					t.Errorf("incomplete: %v, %v", a, p)
					continue
				}
				if a == nil {
					continue // the first one
				}
				seconds, _ := strconv.ParseFloat(a[1], 64)
				if n, _ := strconv.ParseFloat(p[1], 64); n != seconds {
					t.Errorf("of two snapshots: %v and %v", n, seconds)
				}
			}
		})
	}
	scrapes.Wait()
	close(stop)
	joined.Wait()
}

func TestHandler(t *testing.T) {
	h := of(full(t, 1)).Handler()
	body, kind := scrape(t, h, "application/openmetrics-text;version=1.0.0")
	if !strings.HasPrefix(kind, "application/openmetrics-text") || !strings.HasSuffix(body, "# EOF\n") {
		t.Errorf("OpenMetrics was asked for, got %s", kind)
	}
	for _, want := range []string{"\ngo_goroutines ", "plumbline_build_info{goversion=\"" + runtime.Version() + "\",program=\"plumbline\",revision=\"0123abc\",version=\"1.2.3\"} 1.0\n"} {
		if !strings.Contains(body, want) {
			t.Errorf("no %q", want)
		}
	}
	if runtime.GOOS == "linux" && !strings.Contains(body, "\nprocess_cpu_seconds_total ") {
		t.Error("no process_cpu_seconds_total")
	}
}
