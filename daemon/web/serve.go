package web

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"

	toolkit "github.com/prometheus/exporter-toolkit/web"
	"golang.org/x/net/netutil"
)

// maxConnections bounds what those who come can take of the descriptors that recording and sources need as well: it
// is twice the streams at one time. Who comes later waits until one goes; one that asks nothing, or nothing more, goes
// after idleFor.
const (
	maxConnections = 2 * maxViewers
	idleFor        = 5 * time.Second
)

// Serve serves h on l until ctx is done, then lets answers under way end for at most two seconds and
// returns ctx's error. Any other error is that of the listener. It closes l. What the server itself
// has to do in the background is up to [Server.Run].
//
// h may be a mux that holds a [Server] beside other handlers. A client that sends or reads slowly is
// cut off: 5 s for a header, 10 s for a request, 15 s for an answer that is no stream.
func Serve(ctx context.Context, l net.Listener, h http.Handler) error {
	return ServeSecured(ctx, l, h, Security{}, slog.New(slog.DiscardHandler))
}

// ServeSecured is Serve with the TLS and the passwords of a web configuration file, which is read anew
// with each connection and each request: a renewed certificate needs no restart. What cannot be read
// then is logged and refused.
func ServeSecured(ctx context.Context, l net.Listener, h http.Handler, s Security, log *slog.Logger) error {
	base, cancel := context.WithCancel(ctx) // streams end with it, or shutting down would wait for them
	defer cancel()
	server := &http.Server{
		Handler:           s.asking(h),
		ReadHeaderTimeout: idleFor,
		ReadTimeout:       10 * time.Second,
		WriteTimeout:      15 * time.Second,
		IdleTimeout:       idleFor, // a pool that keeps more than it uses would hold up all others
		MaxHeaderBytes:    16 << 10,
		BaseContext:       func(net.Listener) context.Context { return base },
		ErrorLog:          slog.NewLogLogger(log.Handler(), slog.LevelDebug), // who cannot do the handshake, mostly
	}
	var joined sync.WaitGroup
	joined.Go(func() {
		<-base.Done()
		end, stop := context.WithTimeout(context.WithoutCancel(ctx), 2*time.Second)
		defer stop()
		if server.Shutdown(end) != nil {
			_ = server.Close() // somebody does not let go; nothing is lost by that
		}
	})
	quiet := slog.New(atLeast{log.Handler(), slog.LevelWarn}) // that it listens is said by who starts it
	err := toolkit.Serve(netutil.LimitListener(l, maxConnections), server, &toolkit.FlagConfig{WebConfigFile: &s.File}, quiet)
	cancel()
	joined.Wait()
	if errors.Is(err, http.ErrServerClosed) {
		return ctx.Err()
	}
	_ = l.Close() // the toolkit leaves it open where the file has become bad
	return err
}

// atLeast passes on what is as serious as level.
type atLeast struct {
	slog.Handler
	level slog.Level
}

func (a atLeast) Enabled(ctx context.Context, level slog.Level) bool {
	return level >= a.level && a.Handler.Enabled(ctx, level)
}
