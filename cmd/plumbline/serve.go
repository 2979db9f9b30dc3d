package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"plumbline/daemon/metrics"
	"plumbline/daemon/web"
	"plumbline/dashboards"
)

// defaultListen is where the page is.
const (
	defaultListen = "127.0.0.1:8474"
	noPage        = "none"
)

// serveFlags say where and to whom the page is served.
type serveFlags struct {
	listen    string
	webConfig string
	hosts     []string
	insecure  bool
	asked     bool // somebody wants a page: without one it is no start
}

// add makes them flags of a command.
func (f *serveFlags) add(c *cobra.Command, listen string) {
	c.Flags().StringVar(&f.listen, "listen", defaultListen, listen)
	c.Flags().StringVar(&f.webConfig, "web-config", "", "TLS and passwords of page and metrics: a Prometheus web configuration `FILE`")
	c.Flags().StringArrayVar(&f.hosts, "host", nil, "the page may be called by this `NAME` as well, beside addresses and localhost; may be given several times")
	c.Flags().BoolVar(&f.insecure, "insecure", false, "let --listen name an address that others can reach, though nobody is asked who is there")
}

// security reads what is asked of who comes. An address that others can reach is refused where nothing is, unless
// insecure: whoever reaches the page can read it and confirm steps of the test.
func (f *serveFlags) security() (web.Security, error) {
	s, err := web.ReadSecurity(f.webConfig)
	if err != nil {
		return s, fmt.Errorf("--web-config: %w", err)
	}
	host, _, err := net.SplitHostPort(f.listen)
	if err != nil {
		return s, fmt.Errorf("--listen is %q: write HOST:PORT, as in %s", f.listen, defaultListen)
	}
	for _, name := range f.hosts {
		if name == "" || strings.ContainsAny(name, ":/ ") {
			return s, fmt.Errorf("--host is %q: write a name alone, without scheme and port, as in bench-3.example", name)
		}
	}
	if f.insecure || s.Asks() || loopback(host) {
		return s, nil
	}
	why := "give a web configuration with basic_auth_users by --web-config FILE, or add --insecure"
	if s.TLS {
		why = f.webConfig + " has TLS, which hides what is read and does not ask who is there: " +
			"add basic_auth_users to it, or add --insecure"
	}
	return s, fmt.Errorf("--listen %s can be reached by others, who could read the page and confirm steps of the test: %s", f.listen, why)
}

// loopback tells whether a host is this machine for itself alone.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// served is the page and the metrics on one address.
type served struct {
	url    string
	cancel context.CancelFunc
	joined sync.WaitGroup
	err    error
}

// servePage begins to serve what snapshot says.
func servePage(ctx context.Context, f *serveFlags, log *slog.Logger, cfg web.Config) (*served, error) {
	security, err := f.security()
	if err != nil {
		return nil, err
	}
	page, all, err := f.handler(cfg)
	if err != nil {
		return nil, err
	}
	l, err := new(net.ListenConfig).Listen(ctx, "tcp", f.listen)
	if err != nil {
		return nil, fmt.Errorf("the page: %w: name another address with --listen, or --listen none", err)
	}
	s := &served{url: "http://" + reachable(l.Addr(), f.hosts) + "/"}
	if security.TLS {
		s.url = "https" + strings.TrimPrefix(s.url, "http")
	} else if security.Password && !loopback(f.host()) {
		log.Warn("passwords go over the network as they are: add tls_server_config to the web configuration", "file", security.File)
	}
	ctx, s.cancel = context.WithCancel(ctx)
	s.joined.Go(func() { _ = page.Run(ctx) })
	s.joined.Go(func() {
		if err := web.ServeSecured(ctx, l, all, security, log); err != nil && !errors.Is(err, context.Canceled) {
			s.err = err
		}
	})
	return s, nil
}

// handler returns the page and all that is served at its address, page included.
func (f *serveFlags) handler(cfg web.Config) (page *web.Server, all http.Handler, err error) {
	if page, err = web.New(cfg); err != nil {
		return nil, nil, err
	}
	mux := http.NewServeMux()
	mux.Handle("/", page)
	version, revision := built()
	mux.Handle("GET /metrics", metrics.New(cfg.Snapshot, "plumbline", version, revision).Handler())
	mux.Handle("GET /runbooks/", dashboards.Runbooks())
	return page, web.Guarded(web.KnownHosts(append([]string{f.host()}, f.hosts...), mux)), nil
}

// host is that of --listen, which security has looked at.
func (f *serveFlags) host() string {
	host, _, _ := net.SplitHostPort(f.listen)
	return host
}

// reachable is an address as this machine can open it: one that stands for all of its addresses is none.
func reachable(a net.Addr, names []string) string {
	t, ok := a.(*net.TCPAddr)
	if !ok || !t.IP.IsUnspecified() {
		return a.String()
	}
	name := append(slices.Clip(names), "localhost")[0]
	return net.JoinHostPort(name, strconv.Itoa(t.Port))
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
