package web

import (
	"context"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"html/template"
	"io/fs"
	"log/slog"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"plumbline/daemon"
)

const (
	pollEvery  = 50 * time.Millisecond  // how often the snapshot is looked at
	sendEvery  = 100 * time.Millisecond // between two states sent to one viewer
	beatEvery  = time.Second            // between two signs of life, at most
	staleAfter = 2 * time.Second        // without a new snapshot nothing shown counts any more
	maxViewers = 256                    // streams at one time
	maxBody    = 16 << 10               // bytes of a form
)

//go:embed assets templates catalogue.json catalogue_tests.json
var files embed.FS

// Config says what is shown. Snapshot is required.
type Config struct {
	// Snapshot returns the newest state, nil before there is one. It is asked some twenty times a
	// second and must not block; a state that was returned must not be changed.
	Snapshot func() *daemon.Snapshot

	// Finished, if set, is closed when no newer state will come because the source has ended. What
	// was last known is then shown as the end of it and not as stale.
	Finished <-chan struct{}

	// Mark takes a person's word for the recording. Nil: nobody listens, and the page offers none.
	Mark func(text string)

	// Confirmed, if set, is told what a person has confirmed or skipped.
	Confirmed func(daemon.Statement)

	// Test is what persons say of the test under way; nil: the page keeps it.
	Test *daemon.Test

	Signing Signing

	Language string // of those whose browser asks for none that is known: en (default) or de
}

// Server is the page. New makes one.
type Server struct {
	cfg     Config
	words   catalogue
	looks   map[string]*template.Template // by language
	build   string                        // of the assets, so that an old page reloads itself
	handler http.Handler
	viewers atomic.Int32
	now     func() time.Time

	signing sync.Mutex // held while a test is signed or begun

	mu    sync.Mutex // guards what follows
	last  *daemon.Snapshot
	since time.Time // when last became the newest
	guide guide

	moment atomic.Pointer[moment]
}

// New returns a server of cfg. An error means that what is built in is broken.
func New(cfg Config) (*Server, error) {
	s := &Server{cfg: cfg, now: time.Now, guide: guide{under: -1}}
	if s.cfg.Test == nil {
		s.cfg.Test = daemon.NewTest()
	}
	if s.cfg.Signing.Log == nil {
		s.cfg.Signing.Log = slog.New(slog.DiscardHandler)
	}
	var err error
	if s.words, err = readCatalogue(); err != nil {
		return nil, err
	}
	if s.looks, err = readLooks(s.words); err != nil {
		return nil, err
	}
	if s.build, err = hashAssets(); err != nil {
		return nil, err
	}
	if s.cfg.Language == "" {
		s.cfg.Language = english
	}
	s.moment.Store(&moment{next: make(chan struct{}), state: nothing})
	s.refresh()
	s.handler = s.routes()
	return s, nil
}

// routes is the map of the server.
func (s *Server) routes() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.overview)
	mux.HandleFunc("GET /corner/{name}", s.corner)
	mux.HandleFunc("GET /optic/{name}", s.optic)
	mux.HandleFunc("GET /steps", s.steps)
	mux.HandleFunc("GET /drive", s.drive)
	mux.HandleFunc("GET /api/result", s.result)
	mux.HandleFunc("GET /api/stream", s.stream)
	mux.HandleFunc("GET /-/healthy", s.healthy)
	mux.HandleFunc("GET /-/ready", s.ready)
	mux.Handle("GET /assets/", s.assets())
	mux.HandleFunc("POST /mark", s.postMark)
	mux.HandleFunc("POST /confirm", s.postConfirm)
	mux.HandleFunc("POST /skip", s.postSkip)
	s.signRoutes(mux)
	mux.HandleFunc("GET /", s.notFound)
	bounded := http.MaxBytesHandler(mux, maxBody)
	return Guarded(http.NewCrossOriginProtection().Handler(bounded))
}

// ServeHTTP answers one request. Streams last until their request's context is done.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// Run looks for news until ctx is done, whose error it returns. Streams show nothing new without it.
func (s *Server) Run(ctx context.Context) error {
	tick := time.NewTicker(pollEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-tick.C:
			s.refresh()
		}
	}
}

// Guarded sets the headers that keep what is served to itself. A [Server] has it; it is for what is served beside one, and
// for the answers of a mux in front of it. A handler may set a header of them otherwise.
func Guarded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "+
			"connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		// same-origin and not none: with none a browser sends "Origin: null" with our own forms
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// assets serves what is embedded. An asset is asked for again each time, and not sent again where it is the same.
func (s *Server) assets() http.Handler {
	serve := http.FileServerFS(files)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if info, err := fs.Stat(files, r.URL.Path[1:]); err != nil || info.IsDir() {
			s.notFound(w, r)
			return
		}
		w.Header().Set("Cache-Control", "no-cache")
		w.Header().Set("ETag", `"`+s.build+`"`)
		serve.ServeHTTP(w, r)
	})
}

// hashAssets tells one build of the pages from another.
func hashAssets() (string, error) {
	sum := sha256.New()
	err := fs.WalkDir(files, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := files.ReadFile(path)
		sum.Write(text) // a hash never fails
		return err
	})
	return hex.EncodeToString(sum.Sum(nil)[:8]), err
}

func (s *Server) healthy(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = w.Write([]byte("ok\n")) // who has gone needs no answer
}

// ready says whether there is a state that counts.
func (s *Server) ready(w http.ResponseWriter, _ *http.Request) {
	m := s.refresh()
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	if m.state == nothing || m.state == stale {
		w.WriteHeader(http.StatusServiceUnavailable)
		_, _ = w.Write([]byte("not ready: " + string(m.state) + "\n"))
		return
	}
	_, _ = w.Write([]byte("ready\n"))
}

// result writes the result as it stands now.
func (s *Server) result(w http.ResponseWriter, _ *http.Request) {
	m := s.refresh()
	w.Header().Set("Content-Type", "application/json")
	if m.snapshot == nil {
		w.WriteHeader(http.StatusServiceUnavailable)
		_, _ = w.Write([]byte(`{"error": "nothing has been judged yet"}` + "\n"))
		return
	}
	_ = daemon.Encode(w, []daemon.Result{m.result}) // fails only where the viewer has gone
}
