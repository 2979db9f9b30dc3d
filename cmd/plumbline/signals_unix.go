//go:build unix

package main

import (
	"context"
	"log/slog"
	"os"
	"os/signal"
	"syscall"

	"plumbline/daemon"
)

// onSignals hands SIGHUP and SIGUSR1 to the daemon until the returned function is called.
func onSignals(ctx context.Context, d *daemon.Daemon, markFile string, log *slog.Logger) func() {
	signals := make(chan os.Signal, 4)
	signal.Notify(signals, syscall.SIGHUP, syscall.SIGUSR1)
	done := make(chan struct{})
	ctx, cancel := context.WithCancel(ctx)
	go func() {
		defer close(done)
		for {
			select {
			case <-ctx.Done():
				return
			case s := <-signals:
				log.Debug("signal", "signal", s.String())
				if s == syscall.SIGHUP {
					d.Reload()
				} else {
					d.Mark(markText(markFile))
				}
			}
		}
	}()
	return func() {
		signal.Stop(signals)
		cancel()
		<-done
	}
}
