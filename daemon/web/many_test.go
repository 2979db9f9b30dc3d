package web

import (
	"context"
	"errors"
	"io"
	"net"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// TestManyConnections: of a thousand who connect and ask nothing no more than the bound hold a descriptor at one time, and
// who does ask is answered when they have been sent away.
func TestManyConnections(t *testing.T) {
	t.Parallel() // it waits most of the time
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	accepted := &counted{Listener: l}
	_, s := newStage(t, Config{})
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- Serve(ctx, accepted, s) }()
	defer func() {
		cancel()
		if err := <-done; !errors.Is(err, context.Canceled) {
			t.Errorf("serving ended with %v", err)
		}
	}()
	for range 1000 {
		c, err := net.Dial("tcp", l.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
	}
	last, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer last.Close()
	if _, err := io.WriteString(last, "GET /-/healthy HTTP/1.0\r\nHost: localhost\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	_ = last.SetReadDeadline(time.Now().Add(time.Minute))
	if text, err := io.ReadAll(last); err != nil || !strings.HasPrefix(string(text), "HTTP/1.0 200 OK") {
		t.Errorf("who asks gets %q, %v", text, err)
	}
	if got := accepted.most.Load(); got > maxConnections {
		t.Errorf("%d connections at one time, want %d at the most", got, maxConnections)
	}
}

// counted is a listener that knows how many of its connections were open at one time.
type counted struct {
	net.Listener
	open, most atomic.Int64
}

func (l *counted) Accept() (net.Conn, error) {
	c, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	if n := l.open.Add(1); n > l.most.Load() {
		l.most.Store(n) // Accept is called by one goroutine
	}
	return &countedConn{Conn: c, l: l}, nil
}

type countedConn struct {
	net.Conn
	l    *counted
	once sync.Once
}

func (c *countedConn) Close() error {
	c.once.Do(func() { c.l.open.Add(-1) })
	return c.Conn.Close()
}
