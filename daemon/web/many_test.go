package web

import (
	"bufio"
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// TestManyConnections: of a thousand who connect and ask nothing no more than the bound hold a descriptor at one time, and
// who does ask is answered when they have been sent away; as well where each of them has asked once and keeps the line.
func TestManyConnections(t *testing.T) {
	for _, c := range []struct {
		name          string
		conns, asking int
	}{{"ask nothing", 1000, 0}, {"have asked", maxConnections, maxConnections}} {
		t.Run(c.name, func(t *testing.T) {
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
			// ask connects, asks where a version is given, and returns the status of the answer.
			ask := func(version string) int {
				c, err := net.Dial("tcp", l.Addr().String())
				if err != nil {
					t.Fatal(err)
				}
				t.Cleanup(func() { c.Close() })
				if version == "" {
					return 0
				}
				_ = c.SetDeadline(time.Now().Add(30 * time.Second))
				if _, err := io.WriteString(c, "GET /-/healthy "+version+"\r\nHost: localhost\r\n\r\n"); err != nil {
					t.Fatal(err)
				}
				answer, err := http.ReadResponse(bufio.NewReader(c), nil)
				if err != nil {
					t.Fatalf("who asks gets %v", err)
				}
				defer answer.Body.Close()
				return answer.StatusCode
			}
			for i := range c.conns {
				if i < c.asking {
					ask("HTTP/1.1")
				} else {
					ask("")
				}
			}
			if status := ask("HTTP/1.0"); status != http.StatusOK {
				t.Errorf("who asks gets %d", status)
			}
			if got := accepted.most.Load(); got > maxConnections {
				t.Errorf("%d connections at one time, want %d at the most", got, maxConnections)
			}
		})
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
