package daemon

import (
	"context"
	"errors"
	"io"
	"sync"

	"plumbline/bus"
	"plumbline/checks"
)

// ring is how many batches reading may be ahead of who takes them. With eight of them the two wait for each other: 4 million
// frames took 319 ms and take 283 to 299.
const ring = 32

// delivered is one batch on its way from reading to taking.
type delivered struct {
	batch bus.Batch
	names []string
	err   error
	crash *crash // the source panicked

	lines   []line          // by frame, where they are decoded
	samples []checks.Sample // of all lines, in their order

	received []uint32 // frames, by source of the setup
}

// pump hands the batches of src to take, in order and on this goroutine, until
// the source ends, which is no error, take fails, or ctx is done, whose error it
// then returns. Reading, and prepare where there is one, run ahead on a goroutine of
// their own by a bounded ring of batches. pump closes src and has joined what it
// started when it returns.
func pump(ctx context.Context, src bus.Source, prepare func(*delivered), take func(*delivered) error) error {
	var (
		full = make(chan *delivered, ring)
		free = make(chan *delivered, ring)
		stop = make(chan struct{})
		read sync.WaitGroup
	)
	for range ring {
		free <- new(delivered)
	}
	read.Go(func() { deliver(src, prepare, free, full, stop) })
	var closeErr error
	end := sync.OnceFunc(func() {
		close(stop)
		closeErr = src.Close() // ends a Read under way
		read.Wait()
	})
	defer end() // when take panics as well
	err := drain(ctx, free, full, take)
	end()
	if ctxErr := ctx.Err(); err != nil && ctxErr != nil {
		return ctxErr
	}
	return errors.Join(err, closeErr)
}

// pull does what pump does without a goroutine of its own.
func pull(ctx context.Context, src bus.Source, prepare func(*delivered), take func(*delivered) error) (err error) {
	var closeErr error
	end := sync.OnceFunc(func() { closeErr = src.Close() })
	unhook := context.AfterFunc(ctx, end) // ends a Read under way
	defer func() {
		unhook()
		end() // waits for one under way
		if ctxErr := ctx.Err(); err != nil && ctxErr != nil {
			err = ctxErr
			return
		}
		err = errors.Join(err, closeErr)
	}()
	var d delivered
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		d.err = src.Read(&d.batch)
		d.names = src.Names()
		if prepare != nil {
			prepare(&d)
		}
		if err := take(&d); err != nil {
			return err
		}
		if errors.Is(d.err, io.EOF) {
			return nil
		}
		if d.err != nil {
			return d.err
		}
	}
}

// deliver reads until the source ends or stop is closed.
func deliver(src bus.Source, prepare func(*delivered), free <-chan *delivered, full chan<- *delivered, stop <-chan struct{}) {
	defer close(full)
	defer catch(func(c *crash) {
		select {
		case full <- &delivered{crash: c}:
		case <-stop:
		}
	})
	for {
		var d *delivered
		select {
		case d = <-free:
		case <-stop:
			return
		}
		err := src.Read(&d.batch)
		d.err, d.names = err, src.Names()
		if prepare != nil {
			prepare(d)
		}
		select {
		case full <- d: // from here on it is not ours
		case <-stop:
			return
		}
		if err != nil {
			return
		}
	}
}

// drain takes batches as they come.
func drain(ctx context.Context, free chan<- *delivered, full <-chan *delivered, take func(*delivered) error) error {
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case d, ok := <-full:
			if !ok {
				return nil
			}
			if d.crash != nil {
				panic(d.crash)
			}
			if err := take(d); err != nil {
				return err
			}
			if errors.Is(d.err, io.EOF) {
				return nil
			}
			if d.err != nil {
				return d.err
			}
			free <- d // never blocks: there is room for every batch
		}
	}
}
