package web

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// get asks s for a path.
func get(s *Server, path string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	s.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	return w
}

// post sends a form as a browser does; site is what it says of the page that sends it.
func post(s *Server, path, site string, form url.Values) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", site)
	s.ServeHTTP(w, r)
	return w
}

func TestRoutes(t *testing.T) {
	st, s := newStage(t, Config{Mark: func(string) {}})
	st.play(s, newScene(t, 4), 33)
	tests := []struct {
		path, kind string
		status     int
		has        []string
	}{
		{"/", "text/html", 200, []string{"Turn FR forward", ` of 3 turns`, `href="/corner/RR"`, "camber FL", "201 of 242"}},
		{"/?lang=de", "text/html", 200, []string{`<html lang="de"`, "FR vorwärts drehen", "2,5 von 3", `href="/corner/RR?lang=de"`}},
		{"/corner/FL", "text/html", 200, []string{"Tare by", "Centre = zero", "<title>Corner FL", " ± "}},
		{"/corner/XX", "text/html", 404, []string{"There is nothing here"}},
		{"/corner/", "text/html", 404, nil},
		{"/nothing", "text/html", 404, nil},
		{"/steps", "text/html", 200, []string{"Wheel bolts tightened", "nobody beside it", "somebody at the brake", "chocks", `id="turn/FL"`, "licensed practice"}},
		{"/assets/page.css", "text/css", 200, []string{"--pass"}},
		{"/assets/page.js", "text/javascript", 200, []string{"EventSource", "morph"}[1:]},
		{"/assets/../catalogue.json", "text/html", 307, nil},
		{"/assets/", "text/html", 404, nil},
		{"/assets/nothing.js", "text/html", 404, nil},
		{"/-/healthy", "text/plain", 200, []string{"ok\n"}},
		{"/-/ready", "text/plain", 200, []string{"ready\n"}},
		{"/api/result", "application/json", 200, []string{`"schema": 1`}},
		{"/api/stream?page=/corner/XX", "text/plain", 404, nil},
		{"/mark", "text/html", 404, nil},
	}
	for _, tt := range tests {
		t.Run(tt.path, func(t *testing.T) {
			w := get(s, tt.path)
			if w.Code != tt.status {
				t.Errorf("status %d, want %d", w.Code, tt.status)
			}
			if got := w.Header().Get("Content-Type"); !strings.HasPrefix(got, tt.kind) {
				t.Errorf("content type %q, want %q", got, tt.kind)
			}
			for _, want := range tt.has {
				if !strings.Contains(w.Body.String(), want) {
					t.Errorf("no %q in the answer", want)
				}
			}
			policy := w.Header().Get("Content-Security-Policy")
			for _, want := range []string{"default-src 'none'", "script-src 'self'", "style-src 'self'", "img-src 'self' data:", "connect-src 'self'", "frame-ancestors 'none'"} {
				if !strings.Contains(policy, want) {
					t.Errorf("policy %q lacks %q", policy, want)
				}
			}
			if got := w.Header().Get("X-Content-Type-Options"); got != "nosniff" {
				t.Errorf("X-Content-Type-Options %q, want nosniff", got)
			}
			if strings.HasPrefix(tt.kind, "text/html") {
				for _, no := range []string{"http://", "https://", "style=", "onclick=", "<script>"} {
					if strings.Contains(strings.ReplaceAll(w.Body.String(), "http://www.w3.org/2000/svg", ""), no) {
						t.Errorf("the page has %q, which the policy forbids or another host serves", no)
					}
				}
			}
		})
	}
}

func TestResultIsThatOfTheDaemon(t *testing.T) {
	st, s := newStage(t, Config{})
	if w := get(s, "/api/result"); w.Code != http.StatusServiceUnavailable {
		t.Errorf("status %d before anything was judged, want 503", w.Code)
	}
	st.play(s, newScene(t, 4), 33)
	var want strings.Builder
	if err := daemon.Encode(&want, []daemon.Result{st.snapshot().Result}); err != nil {
		t.Fatal(err)
	}
	if got := get(s, "/api/result").Body.String(); got != want.String() {
		t.Errorf("%d bytes, want the %d of the daemon's own", len(got), want.Len())
	}
}

// What is not known never looks good: neither before there is a state, nor when it is old, nor of a wheel that is silent.
func TestUnknownIsNotGood(t *testing.T) {
	st, s := newStage(t, Config{})
	clock := time.Unix(1_700_000_000, 0)
	s.now = func() time.Time { return clock }
	ready := func(want int) {
		t.Helper()
		if w := get(s, "/-/ready"); w.Code != want {
			t.Errorf("ready: status %d, want %d", w.Code, want)
		}
	}
	page := get(s, "/").Body.String()
	if !strings.Contains(page, `data-state="none"`) || strings.Contains(page, "s-pass ") {
		t.Error("without a snapshot the page has a state other than none, or something that passed")
	}
	ready(503)

	st.play(s, newScene(t, 4), 33)
	ready(200)
	clock = clock.Add(2100 * time.Millisecond)
	if page = get(s, "/").Body.String(); !strings.Contains(page, `data-state="stale"`) {
		t.Error("after 2.1 s without news the page does not say that it is stale")
	}
	ready(503)
	st.again()
	if page = get(s, "/").Body.String(); !strings.Contains(page, `data-state="live"`) {
		t.Error("with news the page does not live again")
	}

	silent := *st.snapshot()
	silent.Now.Channels = slices.Clone(silent.Now.Channels)
	for _, ch := range silent.Setup.Checks.Corners[0].Channels {
		if ch != checks.None {
			silent.Now.Channels[ch].Known = false
		}
	}
	st.now.Store(&silent)
	c := composer{m: s.refresh(), lang: english, words: s.words}
	if got := c.cornerState(0).State; got != "none" {
		t.Errorf("a wheel of which nothing has come is %q, want none", got)
	}
	for i := range silent.Now.Channels {
		silent.Now.Channels[i].At = silent.Now.At - int64(3*time.Second)
	}
	if got := c.channel(checks.Fx, &silent.Now.Channels[silent.Setup.Checks.Corners[1].Channels[checks.Fx]]); got.Value != "" || got.Quiet != "no value for 3 s" {
		t.Errorf("a channel that has stopped shows %q, %q, want no value and its age", got.Value, got.Quiet)
	}
}

func TestEndedIsNotStale(t *testing.T) {
	finished := make(chan struct{})
	st, s := newStage(t, Config{Finished: finished})
	clock := time.Unix(1_700_000_000, 0)
	s.now = func() time.Time { return clock }
	st.play(s, newScene(t, 1), 5)
	close(finished)
	clock = clock.Add(time.Hour)
	if page := get(s, "/").Body.String(); !strings.Contains(page, `data-state="ended"`) {
		t.Error("a source that has ended is not shown as ended")
	}
}

// Names are the user's: they may hold whatever a setup file lets through.
func TestOddNames(t *testing.T) {
	odd := []string{`<script>alert(1)</script>`, `a/b`, `50% "left" & 'out'`, `Ä ö?x=1#y`, `{{.}}`}
	setupOf := &setup.Setup{File: "odd.yaml", SHA256: "00", Vehicle: `<img src=x onerror=alert(1)>`}
	snap := &daemon.Snapshot{At: 1e9, Clock: 1e9, Setup: setupOf}
	snap.Now.At = 1e9
	for i, name := range odd {
		setupOf.Checks.Corners = append(setupOf.Checks.Corners, checks.Corner{Name: name, Axle: i + 1, Channels: checks.NoChannels()})
		snap.Now.Corners = append(snap.Now.Corners, checks.CornerState{})
		snap.Result.Findings = append(snap.Result.Findings, daemon.Finding{Check: "alive", Subject: name, Verdict: checks.Fail, Sentence: name + " is silent", Next: "Look at " + name})
	}
	st, s := newStage(t, Config{})
	st.now.Store(snap)
	pages := []string{"/", "/steps"}
	for _, name := range odd {
		pages = append(pages, cornerPath(name))
	}
	for _, path := range pages {
		w := get(s, path)
		if w.Code != 200 {
			t.Errorf("%s: status %d, want 200", path, w.Code)
		}
		for _, bad := range []string{"<script>alert", "<img src=x", `"left" &`} {
			if strings.Contains(w.Body.String(), bad) {
				t.Errorf("%s: holds %s as it is", path, bad)
			}
		}
		if !strings.Contains(w.Body.String(), "Fault: &lt;script&gt;") {
			t.Errorf("%s: the headline does not name the corner", path)
		}
	}
}
