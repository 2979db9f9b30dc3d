package metrics

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// ask scrapes h.
func ask(ctx context.Context, h http.Handler) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequestWithContext(ctx, http.MethodGet, "/metrics", http.NoBody))
	return w
}

// TestTurns: however many scrape at once, few are in work, and everybody is served.
func TestTurns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var working, most, served atomic.Int32
		h := inQueue(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			for now := working.Add(1); ; {
				if old := most.Load(); now <= old || most.CompareAndSwap(old, now) {
					break
				}
			}
			time.Sleep(20 * time.Millisecond) // slow for a scrape
			working.Add(-1)
			w.Header().Set("Content-Type", "text/plain")
			fmt.Fprint(w, "plumbline_up 1\n")
		}))
		var all sync.WaitGroup
		for range 500 {
			all.Go(func() {
				w := ask(t.Context(), h)
				if w.Code == http.StatusOK && w.Body.String() == "plumbline_up 1\n" && w.Header().Get("Content-Type") == "text/plain" {
					served.Add(1)
				}
			})
		}
		all.Wait()
		if served.Load() != 500 || most.Load() != atWork {
			t.Errorf("%d of 500 served, %d in work at one time, want all and %d", served.Load(), most.Load(), atWork)
		}
	})
}

// TestNoTurn: who waits too long is told so, who has gone does not wait, and whoever comes later is served.
func TestNoTurn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		stuck := make(chan struct{})
		h := inQueue(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { <-stuck }))
		var all sync.WaitGroup
		for range atWork {
			all.Go(func() { ask(t.Context(), h) })
		}
		synctest.Wait()
		begin := time.Now()
		w := ask(t.Context(), h)
		if w.Code != http.StatusServiceUnavailable || w.Header().Get("Retry-After") != "5" || !strings.Contains(w.Body.String(), "ask again in some seconds") {
			t.Errorf("got %d %v %q, want to be told to come again", w.Code, w.Header(), w.Body)
		}
		if took := time.Since(begin); took != turnAfter {
			t.Errorf("told after %v, want %v", took, turnAfter)
		}
		begin = time.Now()
		soon, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		if w := ask(soon, h); time.Since(begin) != time.Second || w.Body.Len() > 0 {
			t.Errorf("who has gone after 1 s waited for %v and was told %q", time.Since(begin), w.Body)
		}
		close(stuck)
		all.Wait()
		if w := ask(t.Context(), h); w.Code != http.StatusOK {
			t.Errorf("got %d when all had been served, want 200", w.Code)
		}
	})
}

// reluctant is who reads an answer when it likes to.
type reluctant struct {
	*httptest.ResponseRecorder
	reads chan struct{}
}

func (r *reluctant) Write(p []byte) (int, error) {
	<-r.reads
	return r.ResponseRecorder.Write(p)
}

// TestSlowReaders: who does not read what he asked for holds an answer, no turn, and there are not more answers than memory is given to.
func TestSlowReaders(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var made atomic.Int32
		h := inQueue(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { made.Add(1) }))
		reads := make(chan struct{})
		var all sync.WaitGroup
		slow := func() {
			all.Go(func() {
				h.ServeHTTP(&reluctant{httptest.NewRecorder(), reads}, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/metrics", http.NoBody))
			})
		}
		for range atOnce - 1 {
			slow()
		}
		synctest.Wait()
		begin := time.Now()
		if w := ask(t.Context(), h); w.Code != http.StatusOK || time.Since(begin) > 0 {
			t.Errorf("beside %d slow readers: got %d after %v, want 200 at once", atOnce-1, w.Code, time.Since(begin))
		}
		slow()
		synctest.Wait()
		if w := ask(t.Context(), h); w.Code != http.StatusServiceUnavailable || made.Load() != atOnce+1 {
			t.Errorf("beside %d: got %d, %d answers made, want 503 and %d", atOnce, w.Code, made.Load(), atOnce+1)
		}
		close(reads)
		all.Wait()
	})
}
