package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"sync"

	"plumbline/daemon/metrics"
	"plumbline/daemon/web"
)

// defaultListen is where the page is.
const (
	defaultListen = "127.0.0.1:8474"
	noPage        = "none"
)

// served is the page and the metrics on one address.
type served struct {
	url    string
	cancel context.CancelFunc
	joined sync.WaitGroup
	err    error
}

// servePage begins to serve what snapshot says. An address that others can reach is refused unless insecure:
// whoever reaches the page can read it and confirm steps of the test.
func servePage(ctx context.Context, address string, insecure bool, cfg web.Config) (*served, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return nil, fmt.Errorf("--listen is %q: write HOST:PORT, as in %s", address, defaultListen)
	}
	if ip := net.ParseIP(host); !insecure && host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return nil, fmt.Errorf("--listen %s can be reached by others, who could read the page and confirm steps of the test: "+
			"serve it behind something that asks who is there, or add --insecure", address)
	}
	page, err := web.New(cfg)
	if err != nil {
		return nil, err
	}
	l, err := new(net.ListenConfig).Listen(ctx, "tcp", address)
	if err != nil {
		return nil, fmt.Errorf("the page: %w: name another address with --listen, or --listen none", err)
	}
	mux := http.NewServeMux()
	mux.Handle("/", page)
	version, revision := built()
	mux.Handle("GET /metrics", metrics.New(cfg.Snapshot, "plumbline", version, revision).Handler())
	s := &served{url: "http://" + l.Addr().String() + "/"}
	ctx, s.cancel = context.WithCancel(ctx)
	s.joined.Go(func() { _ = page.Run(ctx) })
	s.joined.Go(func() {
		if err := web.Serve(ctx, l, mux); err != nil && !errors.Is(err, context.Canceled) {
			s.err = err
		}
	})
	return s, nil
}

// end stops serving and joins what was started.
func (s *served) end() error {
	if s == nil {
		return nil
	}
	s.cancel()
	s.joined.Wait()
	return s.err
}
