package metrics

import (
	"bytes"
	"context"
	"net/http"
	"time"
)

const (
	atWork    = 4               // scrapes that are being made at one time; each is done in milliseconds
	atOnce    = 32              // answers in memory at one time, those included that somebody takes his time to read
	turnAfter = 8 * time.Second // who has not had a turn by then is sent away: Prometheus gives up after 10 s by itself
)

// queue has who scrapes wait for a turn, so that a storm of scrapes holds no more memory than a few answers and
// takes no more of the processor than a few at a time. One who reads slowly keeps an answer, but no turn: it holds up nobody else.
type queue struct {
	work, answers chan struct{}
	next          http.Handler
}

func inQueue(next http.Handler) *queue {
	return &queue{work: make(chan struct{}, atWork), answers: make(chan struct{}, atOnce), next: next}
}

// ServeHTTP implements http.Handler.
func (q *queue) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	patience, cancel := context.WithTimeout(r.Context(), turnAfter)
	defer cancel()
	if !take(patience, q.answers) {
		refuse(w, r)
		return
	}
	defer func() { <-q.answers }()
	a := answer{header: w.Header(), status: http.StatusOK}
	if !q.make(patience, &a, r) {
		refuse(w, r)
		return
	}
	w.WriteHeader(a.status)
	_, _ = w.Write(a.body.Bytes()) // who has gone needs no answer
}

// make has the answer made, or returns false where there was no turn.
func (q *queue) make(patience context.Context, a *answer, r *http.Request) bool {
	if !take(patience, q.work) {
		return false
	}
	defer func() { <-q.work }()
	q.next.ServeHTTP(a, r)
	return true
}

// take waits for room in a channel.
func take(patience context.Context, room chan<- struct{}) bool {
	select {
	case room <- struct{}{}: // at once, also for who has no patience left
		return true
	default:
	}
	select {
	case room <- struct{}{}:
		return true
	case <-patience.Done():
		return false
	}
}

func refuse(w http.ResponseWriter, r *http.Request) {
	if r.Context().Err() != nil {
		return // has gone
	}
	w.Header().Set("Retry-After", "5")
	http.Error(w, "too many ask for the metrics at the same time: ask again in some seconds, and look for who asks so often; "+
		"one Prometheus that asks once a second is no load", http.StatusServiceUnavailable)
}

// answer is what was made and not sent yet.
type answer struct {
	header http.Header
	status int
	body   bytes.Buffer
}

func (a *answer) Header() http.Header         { return a.header }
func (a *answer) WriteHeader(status int)      { a.status = status }
func (a *answer) Write(p []byte) (int, error) { return a.body.Write(p) }
