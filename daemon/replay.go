package daemon

import (
	"context"
	"errors"
	"runtime"
	"sync"
	"sync/atomic"

	"plumbline/bus"
	"plumbline/bus/serialport"
	"plumbline/checks"
	"plumbline/daemon/setup"
)

// Opener opens the capture of a name.
type Opener func(name string) (bus.Source, error)

// Replay judges captures, each on its own, as many at a time as there are
// processors, and returns the results in the order of the names. A capture that
// cannot be opened or read to its end is a result that says so; the others are
// judged all the same. The only error is that of ctx.
func (b *Bench) Replay(ctx context.Context, names []string, open Opener) ([]Result, error) {
	results, _, err := b.ReplayNow(ctx, names, open)
	return results, err
}

// ReplayNow is Replay, and returns as well what the sensors showed at the end of each capture.
func (b *Bench) ReplayNow(ctx context.Context, names []string, open Opener) ([]Result, []checks.Now, error) {
	results, nows := make([]Result, len(names)), make([]checks.Now, len(names))
	next := make(chan int)
	var (
		workers sync.WaitGroup
		crashed atomic.Pointer[crash]
	)
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	for range min(runtime.GOMAXPROCS(0), len(names)) {
		workers.Go(func() {
			defer catch(func(c *crash) {
				crashed.Store(c)
				cancel()
			})
			for i := range next {
				j := b.replay(ctx, names[i], open, false)
				results[i], nows[i] = j.Result(), j.Now()
			}
		})
	}
	for i := range names {
		select {
		case next <- i:
		case <-ctx.Done():
		}
	}
	close(next)
	workers.Wait()
	if c := crashed.Load(); c != nil {
		panic(c)
	}
	if err := ctx.Err(); err != nil {
		return nil, nil, err
	}
	return results, nows, nil
}

// One judges one capture. Alone, it does all of it on the goroutine that calls, which suits who has as
// many captures as cores; else reading runs ahead on a goroutine of its own. A capture that cannot be
// opened or read to its end is a result that says so. The only error is that of ctx.
func (b *Bench) One(ctx context.Context, name string, open Opener, alone bool) (Result, error) {
	r := b.replay(ctx, name, open, alone).Result()
	return r, ctx.Err()
}

// Unusable is the result of a capture that cannot be judged, for a reason that is known before it is opened.
func (b *Bench) Unusable(name, why string) Result {
	j := b.Judge(name)
	j.unusable = why
	return j.Result()
}

// replay judges one capture. One whose only interface was taken for a source of
// another name, and which then turned out to hold more, is read again without
// that guess; standard input cannot be, and is unusable.
func (b *Bench) replay(ctx context.Context, name string, open Opener, alone bool) *Judge {
	j := b.Judge(name)
	j.alone = alone
	err := j.open(ctx, name, open)
	if !errors.Is(err, errOtherNames) {
		return j
	}
	if name != "-" {
		j = b.Judge(name)
		j.alone, j.match.strict = alone, true
		err = j.open(ctx, name, open)
		if err == nil || !errors.Is(err, errOtherNames) {
			return j
		}
	}
	j.unusable = name + ": it holds several interfaces: write match: under the source that one of them is"
	return j
}

// open opens the capture and runs.
func (j *Judge) open(ctx context.Context, name string, open Opener) error {
	src, err := open(name)
	if err != nil {
		j.unusable = err.Error() // an opener names what it opens
		return err
	}
	return j.Run(ctx, j.bench.framed(src))
}

// framed cuts the serial bytes of a recording into frames, by the same formats as live.
func (b *Bench) framed(src bus.Source) bus.Source {
	formats := map[string]*serialport.Format{}
	for i := range b.setup.Sources {
		if s := &b.setup.Sources[i]; s.Kind == setup.Serial {
			formats[wanted(s)] = &s.Format
		}
	}
	if len(formats) == 0 {
		return src
	}
	return serialport.NewDecoder(src, func(name string) *serialport.Framer {
		format, ok := formats[name]
		if !ok {
			return nil
		}
		f, err := serialport.NewFramer(*format)
		if err != nil {
			return nil // the setup was read, so it is valid
		}
		return f
	})
}
