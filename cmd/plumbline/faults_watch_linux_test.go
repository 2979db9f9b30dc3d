package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"plumbline/checks"
	"plumbline/daemon"
)

// look is what page and metrics show at one moment.
type look struct {
	metrics map[string]float64 // by name and labels, as they are exported
	result  daemon.Result
}

// watcher looks at page and metrics of a program all the time, as a person and Prometheus would, and holds what
// they show against what the wires do.
type watcher struct {
	url    string
	log    string // file
	wires  []*wire
	cfg    []string // corners of each wire
	client *http.Client

	mu      sync.Mutex
	looks   int
	unheard int       // looks that nobody answered
	last    *look     // nil: it did not answer
	said    []string  // sentences, in the order in which they came
	fresh   int       // of said: those before it came before the fault
	logFrom int64     // bytes of the log before the fault
	false   []string  // what was shown as good that is not
	news    chan bool // closed with each look
}

const lookFor = 150 * time.Millisecond

func newWatcher(url, log string, wires []*wire, corners []string) *watcher {
	return &watcher{
		url: url, log: log, wires: wires, cfg: corners, news: make(chan bool),
		client: &http.Client{Timeout: 3 * time.Second, Transport: &http.Transport{MaxIdleConnsPerHost: 1}},
	}
}

// run looks until ctx is done.
func (w *watcher) run(ctx context.Context) {
	defer w.client.CloseIdleConnections()
	for ctx.Err() == nil {
		before := w.silence()
		l, err := w.look(ctx)
		after := w.silence()
		w.mu.Lock()
		w.looks++
		if err != nil {
			w.unheard++
			w.last = nil // who does not answer is not well
		} else {
			w.last = l
			w.listen(&l.result)
			w.judge(l, before, after)
		}
		close(w.news)
		w.news = make(chan bool)
		w.mu.Unlock()
		select {
		case <-ctx.Done():
		case <-time.After(lookFor):
		}
	}
}

func (w *watcher) silence() []time.Time {
	var out []time.Time
	for _, wire := range w.wires {
		out = append(out, wire.silentSince())
	}
	return out
}

func (w *watcher) look(ctx context.Context) (*look, error) {
	l := &look{metrics: map[string]float64{}}
	err := w.get(ctx, "metrics", func(body io.Reader) error {
		lines := bufio.NewScanner(body)
		for lines.Scan() {
			text := lines.Text()
			i := strings.LastIndexByte(text, ' ')
			if i < 0 || strings.HasPrefix(text, "#") {
				continue
			}
			v, err := strconv.ParseFloat(text[i+1:], 64)
			if err != nil {
				return err
			}
			l.metrics[text[:i]] = v
		}
		return lines.Err()
	})
	if err != nil {
		return nil, err
	}
	return l, w.get(ctx, "api/result", func(body io.Reader) error { return json.NewDecoder(body).Decode(&l.result) })
}

func (w *watcher) get(ctx context.Context, path string, read func(io.Reader) error) error {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, w.url+path, http.NoBody)
	if err != nil {
		return err
	}
	resp, err := w.client.Do(req)
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		return fmt.Errorf("%s: %s", path, resp.Status)
	}
	err = read(resp.Body)
	_, _ = io.Copy(io.Discard, resp.Body) // else another connection is opened for the next look
	return err
}

// listen keeps what is said of what is wrong. mu is held.
func (w *watcher) listen(r *daemon.Result) {
	say := func(s string) {
		if !slices.Contains(w.said[w.fresh:], s) {
			w.said = append(w.said, s)
		}
	}
	for i := range r.Findings {
		if f := &r.Findings[i]; f.Verdict == checks.Fail {
			say(f.Sentence)
		}
	}
	for i := range r.Causes {
		say(r.Causes[i].Sentence)
	}
	for i := range r.Captures {
		for _, s := range r.Captures[i].Warnings {
			say(s)
		}
	}
}

// settled is after how much silence a wheel must not look good, s: its rarest message comes ten times a second and
// is waited for 20 times that; the page follows within 0.25 s, and ticks come 0.15 s late at the most.
const settled = 2.4

// judge finds what is shown as good that is not. mu is held.
func (w *watcher) judge(l *look, before, after []time.Time) {
	add := func(format string, args ...any) {
		if len(w.false) < 10 {
			w.false = append(w.false, fmt.Sprintf(format, args...))
		}
	}
	for i := range l.result.Findings {
		if f := &l.result.Findings[i]; f.Verdict == checks.Pass && f.Evidence.Samples == 0 && f.Evidence.Revolutions == 0 {
			add("%s is pass without a sample", f.Name())
		}
	}
	at := l.metrics["plumbline_snapshot_timestamp_seconds"]
	for i, wire := range w.wires {
		if before[i].IsZero() || !before[i].Equal(after[i]) {
			continue
		}
		quiet := at - float64(before[i].UnixNano())*1e-9
		if quiet < settled {
			continue
		}
		good := func(series string) {
			if l.metrics[series] == 1 {
				add("%s although %s is silent for %.1f s", series, wire.source, quiet)
			}
		}
		good(`plumbline_verdict{verdict="pass"}`)
		good(fmt.Sprintf(`plumbline_check_verdict{channel="",check="alive",subject=%q,verdict="pass"}`, w.cfg[i]))
		good(fmt.Sprintf(`plumbline_sensor_up{kind="corner",subject=%q}`, w.cfg[i]))
	}
}

// seen reports whether something has been said since the fault began.
func (w *watcher) seen(s saying) bool {
	if s.where == inLog {
		text, err := os.ReadFile(w.log)
		if err != nil {
			return false
		}
		w.mu.Lock()
		text = text[min(w.logFrom, int64(len(text))):]
		w.mu.Unlock()
		return strings.Contains(string(text), s.words)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if s.where == inMetrics {
		return w.last != nil && w.last.metrics[s.words] > 0
	}
	for _, have := range w.said[w.fresh:] {
		if strings.Contains(have, s.words) {
			return true
		}
	}
	return false
}

// begin forgets what was said before.
func (w *watcher) begin() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.fresh = len(w.said)
	if info, err := os.Stat(w.log); err == nil {
		w.logFrom = info.Size()
	}
}

// newest returns the newest look, nil before the first, and what is closed when there is another.
func (w *watcher) newest() (*look, <-chan bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.last, w.news
}

// ill says why a vehicle does not stand well; empty: all sources are heard, nothing fails now, and it is recorded.
func (l *look) ill() string {
	if l == nil {
		return "the page does not answer"
	}
	for i := range l.result.Findings {
		f := &l.result.Findings[i]
		// that messages stayed away or came unevenly is remembered, and on a busy machine they always do
		if f.Check == "alive" && !strings.Contains(f.Sentence, "silent") && !strings.Contains(f.Sentence, "nothing has come") {
			continue
		}
		if f.Failed != nil && f.Failed.Now {
			return fmt.Sprintf("%s fails, %d times, last from %v to %v: %s", f.Name(), f.Failed.Count, f.Failed.Began, f.Failed.Last, f.Sentence)
		}
	}
	if l.metrics[`plumbline_recording_state{state="recording"}`] != 1 {
		return "it is not recorded"
	}
	for series, v := range l.metrics {
		if v == 0 && (strings.HasPrefix(series, "plumbline_source_up{") || strings.HasPrefix(series, "plumbline_sensor_up{")) {
			return series + " is 0"
		}
	}
	return ""
}
