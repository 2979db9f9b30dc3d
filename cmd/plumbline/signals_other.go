//go:build !unix

package main

import (
	"context"
	"log/slog"

	"plumbline/daemon"
)

// onSignals does nothing where there are no such signals.
func onSignals(context.Context, *daemon.Daemon, string, *slog.Logger) func() { return func() {} }
