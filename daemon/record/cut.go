package record

import (
	"context"
	"errors"
	"slices"
)

// errEnded says that a recorder writes nothing more.
var errEnded = errors.New("record: recording had ended")

// Cut is a place at which the recording is divided. Who made it waits until all that
// was heard before it is on disk, or told as lost.
type Cut struct {
	afresh bool
	done   chan struct{} // closed when the fields below are set
	parts  []string
	gone   int // parts of the session before those, which were removed to keep the bound
	err    error
}

// Cut divides the recording behind the last batch of Write: what comes next begins
// another part, and with afresh another session. It is called by the goroutine that
// calls Write, and waits for nothing.
func (r *Recorder) Cut(afresh bool) *Cut {
	c := &Cut{afresh: afresh, done: make(chan struct{})}
	if !r.queue.cut(c) {
		c.end(nil, errEnded)
		return c
	}
	select {
	case r.wake <- struct{}{}:
	default:
	}
	return c
}

// Wait returns the paths of the parts of the session that ends here, in order, when all of
// them are safe on the disk and nobody writes to them any more. The error is that recording
// had ended before that, or that of ctx: the disk does not take what was heard.
func (c *Cut) Wait(ctx context.Context) ([]string, error) {
	select {
	case <-c.done:
		return c.parts, c.err
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// Removed returns how many parts at the beginning of the session are gone, removed so that all parts
// together keep within [Config].Keep. It is known when Wait has returned.
func (c *Cut) Removed() int { return c.gone }

func (c *Cut) end(parts []string, err error) {
	c.parts, c.err = parts, err
	close(c.done)
}

// cut puts a cut behind what is in the queue; false: it takes nothing more.
func (q *queue) cut(c *Cut) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.closed {
		return false
	}
	// without memory of its own: there is one for each cut, whatever else waits
	q.pending = append(q.pending, &segment{ifaces: q.described, upto: q.described, extra: true, cut: c},
		&segment{ifaces: q.described, upto: q.described, extra: true}) // so that the cut is not the last one, which is still being filled
	return true
}

// divide ends the part at a cut. The part before it is closed.
func (w *writer) divide(c *Cut) {
	var parts []string
	for _, o := range w.old {
		if o.session == w.session {
			if len(parts) == 0 {
				c.gone = o.number - 1
			}
			parts = append(parts, w.pathOf(o.base))
		}
	}
	if c.afresh && len(parts) > 0 { // an empty session goes on: it has no parts that could be mistaken
		w.session, w.number = w.nextSession(), 0
	}
	w.publish()
	c.end(slices.Clip(parts), nil)
}
