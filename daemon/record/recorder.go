package record

import (
	"context"
	"sync"
	"sync/atomic"

	"plumbline/bus"
)

// Recorder writes batches to disk. Write is called by one goroutine, Run by one
// other; Close, and Stats, by any.
type Recorder struct {
	cfg     Config
	queue   *queue
	wake    chan struct{} // a segment is full
	stop    chan struct{} // closed by Close
	close   func()
	running atomic.Bool
	ended   chan struct{} // closed when Run has returned
	writer  *writer
	stats   atomic.Pointer[Stats]
}

// New returns a recorder. The only errors are those of [Config.Validate]: a
// folder that cannot be had is a reason not to record yet, told by Stats, and
// never one not to listen.
func New(cfg Config) (*Recorder, error) {
	if err := cfg.Validate(); err != nil {
		return nil, err
	}
	cfg = cfg.withDefaults()
	r := &Recorder{
		cfg: cfg, queue: newQueue(cfg.Queue, cfg.Serial),
		wake: make(chan struct{}, 1), stop: make(chan struct{}), ended: make(chan struct{}),
	}
	r.close = sync.OnceFunc(func() {
		r.queue.close()
		close(r.stop)
	})
	w, err := newWriter(&cfg, r.queue, &r.stats)
	if err != nil {
		return nil, err
	}
	r.writer = w
	return r, nil
}

// Write takes a batch to be recorded. It copies what it needs, and never waits
// for the disk. names are those of the batch's source, as they stand.
// After Close everything is lost and counted.
func (r *Recorder) Write(b *bus.Batch, names []string) {
	if r.queue.write(b, names) {
		select {
		case r.wake <- struct{}{}:
		default:
		}
	}
}

// Run writes to disk what Write takes, until Close is called or ctx is done,
// whose error it then returns. It writes what is still in the queue, ends the
// part and has joined what it started. It is called once.
func (r *Recorder) Run(ctx context.Context) error {
	if r.running.Swap(true) {
		panic("record: Run called twice")
	}
	defer close(r.ended)
	defer r.close()
	r.writer.run(ctx, r.wake, r.stop, r.queue.close)
	return ctx.Err()
}

// Close ends recording and waits until a Run that has begun has returned. A Run
// that begins later writes what is in the queue and returns at once.
func (r *Recorder) Close() {
	r.close()
	if r.running.Load() {
		<-r.ended
	}
}

// Stats returns how the recorder stood at the last sync or change of state.
func (r *Recorder) Stats() *Stats { return r.stats.Load() }
