package dashboards

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"plumbline/bus/simulated"
)

// told is what a receiver of Alertmanager was told.
type told struct {
	mu     sync.Mutex
	alarms map[string]time.Time // "receiver vehicle alarm subject", when it came first
	links  map[string]string    // by alarm: its runbook
}

func (r *told) ServeHTTP(_ http.ResponseWriter, request *http.Request) {
	var message struct {
		Alerts []struct {
			Status      string            `json:"status"`
			Labels      map[string]string `json:"labels"`
			Annotations map[string]string `json:"annotations"`
		} `json:"alerts"`
	}
	if json.NewDecoder(request.Body).Decode(&message) != nil {
		return
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, a := range message.Alerts {
		key := strings.Join([]string{strings.Trim(request.URL.Path, "/"), a.Labels["vehicle"], a.Labels["alertname"], a.Labels["subject"]}, " ")
		if _, ok := r.alarms[key]; !ok && a.Status == "firing" {
			r.alarms[key] = time.Now()
			r.links[a.Labels["alertname"]] = a.Annotations["runbook_url"]
		}
	}
}

// has tells when something was told first.
func (r *told) has(key string) (time.Time, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	at, ok := r.alarms[key]
	return at, ok
}

func (r *told) all() []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return sorted(r.alarms)
}

// TestAlarmArrives has a real Prometheus and a real Alertmanager, both with the configurations as they are written, watch three vehicles that
// stand still, in real time. From some second on one wheel of the first is silent, and every wheel of the second: whoever sits in the vehicle is
// told of the wheel, and of the amplifier alone. Of the third nobody is told anything. How long it took is logged: 15 s are what is wanted.
func TestAlarmArrives(t *testing.T) {
	t.Parallel()
	program := tool(t, "prometheus-alertmanager", "prometheus-alertmanager")
	tool(t, "prometheus", "prometheus")
	receiver := &told{alarms: map[string]time.Time{}, links: map[string]string{}}
	hook := httptest.NewServer(receiver)
	t.Cleanup(hook.Close)
	dir := filepath.Join(written(t), "alertmanager")
	text := strings.ReplaceAll(alertmanagerConfig, "http://127.0.0.1:9095", hook.URL)
	if err := os.WriteFile(filepath.Join(dir, "alertmanager.yml"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	address := free(t)
	begin(t, address, dir, program, "--config.file=alertmanager.yml", "--storage.path=data", "--web.listen-address="+address, "--cluster.listen-address=")

	const offAt = 5 // s after the start
	standing := func(name string) simulated.Config {
		c := simulated.Standard(2)
		c.Name, c.RateHz, c.Script = name, 100, []simulated.Phase{{Kind: simulated.Rest, Seconds: 600}}
		return c
	}
	one := prepared(t, standing("One wheel"), 1, "off:FL=5")
	all := prepared(t, standing("Amplifier"), 1, "off=5")
	none := prepared(t, standing("Nothing wrong"), 1)
	prometheusOf(t, "", address, one, all, none)
	for _, p := range []*play{one, all, none} {
		p.begin()
	}
	until(t, 2*time.Minute, "the fault does not come", func() bool { return one.event.Load() >= offAt*1e9 })
	fault := time.Now()
	wheel, amplifier := "passenger One wheel PlumblineUnplugged FL", "passenger Amplifier PlumblineAmplifierOff "
	for _, key := range []string{wheel, amplifier} {
		until(t, 2*time.Minute, key+" was not told", func() bool { _, ok := receiver.has(key); return ok })
		at, _ := receiver.has(key)
		t.Logf("%s: told %.1f s after the fault", key, at.Sub(fault).Seconds())
	}
	// What is kept back would have come with the same message.
	for _, key := range receiver.all() {
		who, rest, _ := strings.Cut(key, " ")
		if who != "passenger" && who != "office" || strings.HasPrefix(rest, none.vehicle) {
			t.Errorf("told %q: nothing is wrong there", key)
		}
		if strings.HasPrefix(rest, all.vehicle) && !strings.Contains(rest, "PlumblineAmplifierOff") {
			t.Errorf("told %q: the amplifier being off keeps that back", key)
		}
	}
	receiver.mu.Lock()
	runbook := receiver.links["PlumblineUnplugged"]
	receiver.mu.Unlock()
	if want := "http://" + one.address + "/runbooks/unplugged"; runbook != want {
		t.Errorf("the runbook is at %q, want %q", runbook, want)
	}
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, runbook, http.NoBody)
	if err != nil {
		t.Fatal(err)
	}
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	answer, err := client.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		t.Errorf("%s: status %d", runbook, answer.StatusCode)
	}
}
