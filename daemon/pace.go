package daemon

import (
	"sync"
	"time"

	"plumbline/bus"
)

// Paced returns src slowed down to speed seconds of event time per second; it is
// for people who want to watch. Zero and less: as fast as possible.
func Paced(src bus.Source, speed float64) bus.Source {
	if speed <= 0 {
		return src
	}
	return &paced{Source: src, speed: speed, closed: make(chan struct{})}
}

// pacedBatch is how many frames come at once at the most: a bus is heard a few at a time.
const pacedBatch = 64

// dueOf returns when a frame stamped at, ns, was to be heard from a source: by its pace, else by its stamp. It may be
// asked of what has been read.
func dueOf(src bus.Source) func(at int64) time.Time {
	if p, ok := src.(*paced); ok {
		return p.due
	}
	return func(at int64) time.Time { return time.Unix(0, at) }
}

type paced struct {
	bus.Source
	speed  float64
	began  time.Time // of the wall clock, when event time was first
	first  int64     // ns
	closed chan struct{}
	once   sync.Once
}

// Read waits until the last frame of the batch is due.
func (p *paced) Read(b *bus.Batch) error {
	if cap(b.Frames) == 0 {
		b.Frames = make([]bus.Frame, 0, pacedBatch)
	}
	err := p.Source.Read(b)
	if err != nil || len(b.Frames) == 0 {
		return err
	}
	at := b.Frames[len(b.Frames)-1].At
	if p.began.IsZero() {
		p.began, p.first = time.Now(), at
	}
	wait := time.NewTimer(time.Until(p.due(at)))
	defer wait.Stop()
	select {
	case <-wait.C:
	case <-p.closed: // what was read is delivered all the same
	}
	return nil
}

// due is when a frame stamped at, ns, is to be heard.
func (p *paced) due(at int64) time.Time {
	return p.began.Add(time.Duration(float64(at-p.first) / p.speed))
}

// Close ends a wait under way.
func (p *paced) Close() error {
	p.once.Do(func() { close(p.closed) })
	return p.Source.Close()
}
