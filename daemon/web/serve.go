package web

import (
	"context"
	"errors"
	"net"
	"net/http"
	"sync"
	"time"
)

// Serve serves h on l until ctx is done, then lets answers under way end for at most two seconds and
// returns ctx's error. Any other error is that of the listener. It closes l. What the server itself
// has to do in the background is up to [Server.Run].
//
// h may be a mux that holds a [Server] beside other handlers. A client that sends or reads slowly is
// cut off: 5 s for a header, 10 s for a request, 15 s for an answer that is no stream.
func Serve(ctx context.Context, l net.Listener, h http.Handler) error {
	base, cancel := context.WithCancel(ctx) // streams end with it, or shutting down would wait for them
	defer cancel()
	server := &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       10 * time.Second,
		WriteTimeout:      15 * time.Second,
		IdleTimeout:       time.Minute,
		MaxHeaderBytes:    16 << 10,
		BaseContext:       func(net.Listener) context.Context { return base },
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
	err := server.Serve(l)
	cancel()
	joined.Wait()
	if errors.Is(err, http.ErrServerClosed) {
		return ctx.Err()
	}
	return err
}
