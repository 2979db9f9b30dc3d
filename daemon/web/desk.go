package web

import (
	"context"
	"log/slog"

	"plumbline/daemon"
	"plumbline/daemon/results"
)

// Desk is where tests are ended; a [daemon.Daemon] is one. Its methods may be called by any goroutine.
type Desk interface {
	// Freeze takes the test as it is now, with its recording; words stand in the recording there.
	Freeze(ctx context.Context, words string) (*daemon.Frozen, error)

	// Afresh begins a new test, of what is heard and of what persons say.
	Afresh(ctx context.Context) error
}

// Signing says where tests are signed. The zero value: nowhere, and the page offers none of it.
type Signing struct {
	Desk    Desk           // nil: a test can neither be signed nor begun anew
	Results *results.Store // nil: nothing is kept, so nothing is signed
	Program string         // name and version, for reports
	Note    string         // catalogue key of what is to be said of the folder; empty: nothing
	Log     *slog.Logger   // nil: none
}

// signs reports whether tests are signed here.
func (s *Server) signs() bool { return s.cfg.Signing.Desk != nil && s.cfg.Signing.Results != nil }
