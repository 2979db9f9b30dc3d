package web

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
)

// valve holds up what goes to viewers while it is closed, as a network does whose far end still counts as connected.
type valve struct {
	mu     sync.Mutex
	closed chan struct{} // nil: open
}

func (v *valve) close() {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.closed = make(chan struct{})
}

func (v *valve) open() {
	v.mu.Lock()
	defer v.mu.Unlock()
	close(v.closed)
	v.closed = nil
}

func (v *valve) wait(r *http.Request) {
	v.mu.Lock()
	closed := v.closed
	v.mu.Unlock()
	if closed != nil {
		select {
		case <-closed:
		case <-r.Context().Done():
		}
	}
}

// held is an answer behind a valve.
type held struct {
	http.ResponseWriter
	valve   *valve
	request *http.Request
}

func (h *held) Write(p []byte) (int, error) {
	h.valve.wait(h.request)
	return h.ResponseWriter.Write(p)
}

func (h *held) Unwrap() http.ResponseWriter { return h.ResponseWriter }

// A stream that stalls though the connection stands: everything says so, and it recovers without anybody's help.
func TestStalledStream(t *testing.T) {
	st, s := newStage(t, Config{})
	st.play(s, newScene(t, 4), 33)
	stop := make(chan struct{})
	defer close(stop)
	go keepAlive(st, stop)
	var v valve
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.ServeHTTP(&held{w, &v, r}, r)
	}))
	b := newBrowser(t, strings.TrimPrefix(server.URL, "http://"))
	t.Cleanup(func() { // before the browser goes, which would wait for neither
		do(t, b, chromedp.Navigate("about:blank"))
		server.CloseClientConnections()
		server.Close()
	})
	const (
		live = `document.documentElement.dataset.state === "live" && document.querySelector("h1 .word").checkVisibility() &&
			document.getElementById("say").textContent !== "" && [...document.querySelectorAll(".tile .num")].some(n => getComputedStyle(n).visibility === "visible")`
		lost = `document.documentElement.dataset.state === "lost" && document.getElementById("bar-lost").checkVisibility() &&
			[...document.querySelectorAll(".num, .fill, .moving")].every(n => getComputedStyle(n).visibility === "hidden") &&
			[...document.querySelectorAll(".word")].every(n => !n.checkVisibility()) && document.getElementById("say").textContent !== ""`
	)
	do(t, b, chromedp.Navigate(server.URL+"/"))
	b.wait(t, live)
	v.close()
	b.wait(t, lost)
	v.open()
	b.wait(t, live)
	b.check(t)
}
