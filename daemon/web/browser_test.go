package web

import (
	"context"
	"errors"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// browser is one tab of a real browser that looks at one site.
type browser struct {
	ctx  context.Context
	host string

	mu     sync.Mutex
	faults []string // console errors, exceptions and requests off the host
	expect bool     // requests fail now, and that is meant
}

// newBrowser starts Chromium, or skips with what to install; where CI=true it must be there.
func newBrowser(t *testing.T, host string) *browser {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			path = found
			break
		}
	}
	if path == "" {
		if os.Getenv("CI") == "true" {
			t.Fatal("no Chromium: apt-get install chromium")
		}
		t.Skip("no Chromium: apt-get install chromium")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("hide-scrollbars", true),
		chromedp.WSURLReadTimeout(60*time.Second))
	alloc, endAlloc := chromedp.NewExecAllocator(context.Background(), options...)
	// messages that this version of the protocol does not know are no errors of ours
	ctx, end := chromedp.NewContext(alloc, chromedp.WithErrorf(func(string, ...any) {}))
	b := &browser{ctx: ctx, host: host}
	t.Cleanup(func() {
		_ = chromedp.Cancel(ctx)
		end()
		endAlloc()
	})
	if err := chromedp.Listen(ctx, b.hear); err != nil { // starts the browser
		t.Fatalf("starting %s: %v", path, err)
	}
	command(t, b, network.Enable, network.EnableParams{})
	command(t, b, log.Enable, cdp.Empty{})
	command(t, b, runtime.Enable, cdp.Empty{})
	return b
}

func (b *browser) hear(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		if u, err := url.Parse(e.Request.URL); err == nil && u.Scheme != "data" && u.Scheme != "about" && u.Host != b.host {
			b.faults = append(b.faults, "request off the host: "+e.Request.URL)
		}
	case *runtime.EventExceptionThrown:
		b.faults = append(b.faults, "exception: "+e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning {
			b.faults = append(b.faults, "console: "+string(e.Args[0].Value))
		}
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError && (!b.expect || e.Entry.Source != log.EntrySourceNetwork) {
			b.faults = append(b.faults, "log: "+e.Entry.Text+" "+e.Entry.URL)
		}
	}
}

// visit says which site it looks at from here on, until the test ends and the site is gone.
func (b *browser) visit(t *testing.T, s *site) {
	t.Helper()
	b.mu.Lock()
	b.host, b.faults, b.expect = s.address, nil, false
	b.mu.Unlock()
	t.Cleanup(func() { do(t, b, chromedp.Navigate("about:blank")) })
}

// tolerate says that requests may fail from here on: the server is away.
func (b *browser) tolerate() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.expect = true
}

func (b *browser) check(t *testing.T) {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, f := range b.faults {
		t.Error(f)
	}
}

// command sends one command of the protocol.
func command[P, R any](t *testing.T, b *browser, c cdp.Command[P, R], params P) {
	t.Helper()
	if _, err := chromedp.Call(b.ctx, c, params); err != nil {
		t.Fatalf("%s: %v", c.Method, err)
	}
}

// do runs one action and returns what it gives.
func do[T any](t *testing.T, b *browser, action chromedp.Action[T]) T {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 30*time.Second)
	defer cancel()
	out, err := chromedp.Run(ctx, action)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// text evaluates an expression that gives a text.
func (b *browser) text(t *testing.T, expression string) string {
	t.Helper()
	return do(t, b, chromedp.Evaluate[string](expression))
}

// wait waits until an expression is true, over reloads of the page.
func (b *browser) wait(t *testing.T, expression string) {
	t.Helper()
	var err error
	for deadline := time.Now().Add(15 * time.Second); time.Now().Before(deadline); time.Sleep(15 * time.Millisecond) {
		var ok bool
		if ok, err = chromedp.Run(b.ctx, chromedp.Evaluate[bool](expression)); err == nil && ok {
			return
		}
	}
	t.Fatalf("waited in vain for %s: %v", expression, err)
}

// window sets size and theme of the window.
func (b *browser) window(t *testing.T, width, height int64, theme string) {
	t.Helper()
	do(t, b, chromedp.EmulateViewport(width, height))
	command(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}},
	})
}

// site is a server that can go away and come back at the same address.
type site struct {
	server  *Server
	address string
	cancel  context.CancelFunc
	joined  sync.WaitGroup
}

func newSite(t *testing.T, s *Server) *site {
	t.Helper()
	out := &site{server: s, address: "127.0.0.1:0"}
	out.start(t)
	t.Cleanup(out.stop)
	return out
}

func (s *site) start(t *testing.T) {
	t.Helper()
	var l net.Listener
	var err error
	for range 50 { // the address may still be held for a moment
		if l, err = net.Listen("tcp", s.address); err == nil {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	if err != nil {
		t.Fatal(err)
	}
	s.address = l.Addr().String()
	ctx, cancel := context.WithCancel(context.Background())
	s.cancel = cancel
	s.joined.Go(func() {
		if err := Serve(ctx, l, s.server); !errors.Is(err, context.Canceled) {
			t.Errorf("serving ended: %v", err)
		}
	})
	s.joined.Go(func() { _ = s.server.Run(ctx) })
}

func (s *site) stop() {
	s.cancel()
	s.joined.Wait()
	http.DefaultClient.CloseIdleConnections()
}

func (s *site) url(path string) string { return "http://" + s.address + path }
