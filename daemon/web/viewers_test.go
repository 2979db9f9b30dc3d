package web

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"sync"
	"testing"
	"time"

	"plumbline/bus/simulated"
	"plumbline/daemon"
)

// BenchmarkJudge judges a function test as fast as it goes and publishes ten times a second, while nobody looks and
// while a hundred do and one never reads: what viewers cost who listens, on a machine that serves and reads for all of
// them as well.
func BenchmarkJudge(b *testing.B) {
	for _, viewers := range []int{0, 100} {
		b.Run(fmt.Sprintf("viewers=%d", viewers), func(b *testing.B) {
			st, s := newStage(b, Config{})
			st.now.Store(newScene(b, 4).at(33))
			l, err := net.Listen("tcp", "127.0.0.1:0")
			if err != nil {
				b.Fatal(err)
			}
			ctx, cancel := context.WithCancel(b.Context())
			var joined sync.WaitGroup
			joined.Go(func() { _ = Serve(ctx, l, s) })
			joined.Go(func() { _ = s.Run(ctx) })
			if viewers > 0 {
				stuck, err := net.Dial("tcp", l.Addr().String())
				if err != nil {
					b.Fatal(err)
				}
				defer stuck.Close()
				if _, err := io.WriteString(stuck, "GET /api/stream?page=/corner/FL HTTP/1.1\r\nHost: x\r\n\r\n"); err != nil {
					b.Fatal(err)
				}
			}
			for range viewers {
				joined.Go(func() { watch(ctx, "http://"+l.Addr().String()+"/api/stream?page=/") })
			}
			for viewers > 0 && s.viewers.Load() < int32(viewers) {
				time.Sleep(time.Millisecond)
			}
			setup := st.snapshot().Setup
			bench, err := daemon.NewBench(setup, "plumbline test")
			if err != nil {
				b.Fatal(err)
			}
			var frames uint64
			for b.Loop() {
				v, err := simulated.New(simulated.Standard(4))
				if err != nil {
					b.Fatal(err)
				}
				j := bench.Judge("demo")
				j.KeepWindows()
				last := time.Now()
				j.Grid = func(at int64) {
					if time.Since(last) > 100*time.Millisecond {
						last = time.Now()
						st.now.Store(j.Snapshot(at))
					}
				}
				if err := j.Run(ctx, v); err != nil {
					b.Fatal(err)
				}
				frames += j.Result().Captures[0].Frames
			}
			b.ReportMetric(float64(frames)/b.Elapsed().Seconds(), "frames/s")
			cancel()
			joined.Wait()
			http.DefaultClient.CloseIdleConnections()
		})
	}
}

// watch reads a stream until ctx is done.
func watch(ctx context.Context, address string) {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return
	}
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		return
	}
	defer resp.Body.Close()
	for scan := bufio.NewReader(resp.Body); ; {
		if _, err := scan.ReadSlice('\n'); err != nil && err != bufio.ErrBufferFull { //nolint:errorlint // it is returned as it is
			return
		}
	}
}
