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
	err := p.Source.Read(b)
	if err != nil || len(b.Frames) == 0 {
		return err
	}
	at := b.Frames[len(b.Frames)-1].At
	if p.began.IsZero() {
		p.began, p.first = time.Now(), at
	}
	due := p.began.Add(time.Duration(float64(at-p.first) / p.speed))
	wait := time.NewTimer(time.Until(due))
	defer wait.Stop()
	select {
	case <-wait.C:
	case <-p.closed: // what was read is delivered all the same
	}
	return nil
}

// Close ends a wait under way.
func (p *paced) Close() error {
	p.once.Do(func() { close(p.closed) })
	return p.Source.Close()
}
