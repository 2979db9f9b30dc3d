package web

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"plumbline/daemon"
)

// events reads server-sent events from a stream.
func events(t *testing.T, body io.Reader, each func(event, id, data string) bool) {
	t.Helper()
	var event, id, data string
	for scan := bufio.NewScanner(io.LimitReader(body, 64<<20)); ; {
		scan.Buffer(make([]byte, 1<<20), 8<<20)
		for scan.Scan() {
			line := scan.Text()
			key, value, _ := strings.Cut(line, ": ")
			switch key {
			case "event":
				event = value
			case "id":
				id = value
			case "data":
				data = value
			case "retry":
			case "":
				if event != "" && !each(event, id, data) {
					return
				}
				event = ""
			default:
				t.Errorf("line %q is no server-sent event", line)
			}
		}
		t.Fatalf("the stream ended: %v", scan.Err())
	}
}

func TestStream(t *testing.T) {
	st, s := newStage(t, Config{})
	sc := newScene(t, 4)
	st.play(s, sc, 33)
	site := newSite(t, s)
	resp, err := http.Get(site.url("/api/stream?page=/"))
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	if got := resp.Header.Get("Content-Type"); got != "text/event-stream" {
		t.Errorf("content type %q, want text/event-stream", got)
	}
	if got := resp.Header.Get("X-Accel-Buffering"); got != "no" {
		t.Errorf("X-Accel-Buffering %q, want no", got)
	}
	var pages []sign
	var stateSeen []state
	var longest time.Duration
	last := time.Now()
	changed := false
	events(t, resp.Body, func(event, _, data string) bool {
		longest, last = max(longest, time.Since(last)), time.Now()
		var e sign
		if err := json.Unmarshal([]byte(data), &e); err != nil {
			t.Fatalf("%s: %v", event, err)
		}
		if event == "page" {
			pages = append(pages, e)
		}
		if n := len(stateSeen); n == 0 || stateSeen[n-1] != e.State {
			stateSeen = append(stateSeen, e.State)
		}
		if e.State == stale && !changed {
			changed = true
			st.now.Store(sc.at(33.1))
		}
		return !changed || e.State != live
	})
	if longest > 2*time.Second {
		t.Errorf("silent for %v, want a sign of life every two seconds", longest)
	}
	if want := []state{live, stale, live}; !slices.Equal(stateSeen, want) {
		t.Errorf("states %v, want %v", stateSeen, want)
	}
	if len(pages) < 2 || len(pages[0].Regions) != 4 {
		t.Fatalf("%d events with pages, want at least two, the first with all four regions", len(pages))
	}
	news := pages[len(pages)-1].Regions
	if !strings.Contains(news["next"], "Turn FR forward") || news["next"] == pages[0].Regions["next"] {
		t.Errorf("the newest event does not bring the progress")
	}
}

// Without a page the stream is the result itself.
func TestStreamOfResults(t *testing.T) {
	st, s := newStage(t, Config{})
	st.play(s, newScene(t, 1), 5)
	site := newSite(t, s)
	resp, err := http.Get(site.url("/api/stream"))
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	events(t, resp.Body, func(event, _, data string) bool {
		if event != "result" {
			return true
		}
		var r daemon.Result
		if err := json.Unmarshal([]byte(data), &r); err != nil || r.Schema != daemon.Schema {
			t.Errorf("schema %d, error %v, want %d", r.Schema, err, daemon.Schema)
		}
		return false
	})
}

// A server bounds requests and answers; a stream outlives both bounds.
func TestStreamOutlivesBounds(t *testing.T) {
	st, s := newStage(t, Config{})
	st.play(s, newScene(t, 1), 5)
	bounded := httptest.NewUnstartedServer(s)
	bounded.Config.ReadTimeout, bounded.Config.WriteTimeout = 200*time.Millisecond, 200*time.Millisecond
	bounded.Start()
	defer bounded.Close()
	resp, err := bounded.Client().Get(bounded.URL + "/api/stream?page=/")
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	beats := 0
	events(t, resp.Body, func(event, _, _ string) bool {
		if event == "beat" {
			beats++
		}
		return beats < 2
	})
}

// A hundred viewers and one that never reads: who publishes does not wait for any of them, and those who read
// get the newest state.
func TestManyViewers(t *testing.T) {
	st, s := newStage(t, Config{})
	sc := newScene(t, 4)
	st.play(s, sc, 15)
	site := newSite(t, s)
	stuck, err := net.Dial("tcp", site.address)
	if err != nil {
		t.Fatal(err)
	}
	defer stuck.Close()
	_ = stuck.(*net.TCPConn).SetReadBuffer(4096)
	if _, err := io.WriteString(stuck, "GET /api/stream?page=/corner/FL HTTP/1.1\r\nHost: x\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	const viewers = 100
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	ready, done := make(chan struct{}, viewers), make(chan error, viewers)
	target, final := "Turn FR forward", sc.at(33) // shown at no earlier moment
	for range viewers {
		go func() {
			r, err := http.NewRequestWithContext(ctx, http.MethodGet, site.url("/api/stream?page=/"), nil)
			if err != nil {
				done <- err
				return
			}
			resp, err := http.DefaultClient.Do(r)
			if err != nil {
				done <- err
				return
			}
			defer resp.Body.Close()
			scan := bufio.NewScanner(resp.Body)
			scan.Buffer(make([]byte, 1<<16), 8<<20)
			first := true
			for scan.Scan() {
				if first && strings.HasPrefix(scan.Text(), "data:") {
					first = false
					ready <- struct{}{}
				}
				if strings.Contains(scan.Text(), target) {
					done <- nil
					return
				}
			}
			done <- errors.Join(errors.New("the stream ended"), scan.Err())
		}()
	}
	for range viewers {
		select {
		case <-ready:
		case err := <-done:
			t.Fatal(err)
		case <-ctx.Done():
			t.Fatal("not all viewers were served within 30 s")
		}
	}
	var worst time.Duration
	began := time.Now()
	for i := range 40 { // two seconds of news
		from := time.Now()
		st.now.Store(sc.at(16 + float64(i)/4))
		worst = max(worst, time.Since(from))
		time.Sleep(50 * time.Millisecond)
	}
	st.now.Store(final)
	from := time.Now()
	for range viewers {
		if err := <-done; err != nil {
			t.Fatal(err)
		}
	}
	// a figure: who publishes only stores a pointer
	t.Logf("publishing took %v at worst over %v; all %d viewers had the last state after %v", worst, time.Since(began).Round(time.Millisecond), viewers, time.Since(from).Round(time.Millisecond))
}

// A viewer more than there is room for is told so.
func TestTooManyViewers(t *testing.T) {
	_, s := newStage(t, Config{})
	s.viewers.Store(maxViewers)
	if w := get(s, "/api/stream"); w.Code != http.StatusServiceUnavailable {
		t.Errorf("status %d, want 503", w.Code)
	}
	if got := s.viewers.Load(); got != maxViewers {
		t.Errorf("%d viewers after one was refused, want %d", got, maxViewers)
	}
}
