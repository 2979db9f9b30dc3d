package main

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"plumbline/bus"
	"plumbline/bus/capture"
)

const (
	progressEvery = 200 * time.Millisecond
	progressAfter = time.Second // what is faster needs none
)

// progress shows on a terminal how far the captures are. Its sources report from
// their own goroutines; one goroutine draws.
type progress struct {
	w     io.Writer
	total int
	width int

	mu   sync.Mutex // guards what follows
	list []*tracked // those under way, in the order in which they were opened
	gone int        // how many have ended
	past uint64     // frames of those

	stop chan struct{}
	done sync.WaitGroup
}

// newProgress begins to draw to w, where on is true, and returns nil where not.
// The methods of a nil progress do nothing.
func newProgress(w io.Writer, total, width int, on bool) *progress {
	if !on {
		return nil
	}
	p := &progress{w: w, total: total, width: width, stop: make(chan struct{})}
	p.done.Go(p.draw)
	return p
}

// end stops drawing and clears the line.
func (p *progress) end() {
	if p == nil {
		return
	}
	close(p.stop)
	p.done.Wait()
}

func (p *progress) draw() {
	wait := time.NewTimer(progressAfter)
	defer wait.Stop()
	select {
	case <-wait.C:
	case <-p.stop:
		return
	}
	tick := time.NewTicker(progressEvery)
	defer tick.Stop()
	for {
		fmt.Fprint(p.w, "\r\x1b[K"+p.line())
		select {
		case <-tick.C:
		case <-p.stop:
			fmt.Fprint(p.w, "\r\x1b[K")
			return
		}
	}
}

// line says how much is done. Where a source cannot tell, its frames are counted.
func (p *progress) line() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	var (
		sum    = float64(p.gone)
		frames = p.past
		known  = true
		under  string
	)
	for _, t := range p.list {
		frames += t.frames.Load()
		if under == "" {
			under = t.name
		}
		if of, ok := t.fraction(); ok {
			sum += of
		} else {
			known = false
		}
	}
	var parts []string
	if known {
		parts = append(parts, fmt.Sprintf("%3.0f %%", 100*sum/float64(p.total)))
	}
	parts = append(parts, fmt.Sprintf("%.1f M frames", float64(frames)/1e6))
	if under != "" {
		parts = append(parts, under)
	}
	line := []rune(strings.Join(parts, "  "))
	return string(line[:min(len(line), max(p.width-1, 0))])
}

// track returns src with its progress followed.
func (p *progress) track(name string, src bus.Source) bus.Source {
	if p == nil {
		return src
	}
	t := &tracked{Source: src, progress: p, name: strings.Map(visible, name)}
	p.mu.Lock()
	p.list = append(p.list, t)
	p.mu.Unlock()
	return t
}

// visible keeps control characters of a file's name off the terminal.
func visible(r rune) rune {
	if r < ' ' || r >= 0x7f && r < 0xa0 {
		return '?'
	}
	return r
}

// tracked counts what a source delivers.
type tracked struct {
	bus.Source
	progress *progress
	name     string
	frames   atomic.Uint64
}

// fraction is how much of the source has been read, where it can tell.
func (t *tracked) fraction() (float64, bool) {
	if p, ok := t.Source.(capture.Progress); ok {
		return p.Fraction()
	}
	return 0, false
}

// Read counts.
func (t *tracked) Read(b *bus.Batch) error {
	err := t.Source.Read(b)
	t.frames.Add(uint64(len(b.Frames)))
	if err != nil {
		t.end()
	}
	return err
}

// Close closes the source.
func (t *tracked) Close() error {
	t.end()
	return t.Source.Close()
}

// end lets go of the source, so that of ten thousand only those under way are held.
func (t *tracked) end() {
	p := t.progress
	p.mu.Lock()
	defer p.mu.Unlock()
	if i := slices.Index(p.list, t); i >= 0 {
		p.list = slices.Delete(p.list, i, i+1)
		p.gone++
		p.past += t.frames.Load()
	}
}
