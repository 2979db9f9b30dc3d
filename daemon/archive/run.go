package archive

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"runtime/debug"
	"sync"
	"sync/atomic"

	"plumbline/bus"
	"plumbline/daemon"
)

// Config says how to judge.
type Config struct {
	Jobs int // recordings at a time; 0: as many as there are cores

	// Bench returns what a recording is judged by. It is called by several goroutines. An error
	// makes the recording unusable.
	Bench func(r *Recording) (*daemon.Bench, error)
	Spare *daemon.Bench // whose setup a recording is listed under that has none of its own

	// Open opens a recording.
	Open func(r *Recording) (bus.Source, error)
}

// Run judges the recordings of list that are picked, by index, and hands each result to done, in any
// order and from several goroutines. It ends early when ctx is done or done fails, with that error.
func Run(ctx context.Context, c Config, list []Recording, picked []int, done func(index int, r *daemon.Result) error) error {
	jobs := c.Jobs
	if jobs == 0 {
		jobs = runtime.GOMAXPROCS(0)
	}
	// With a recording for each core there is nothing to gain from reading ahead.
	alone := len(picked) >= jobs
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	var (
		next    atomic.Int64
		workers sync.WaitGroup
		broken  atomic.Value
	)
	for range min(jobs, len(picked)) {
		workers.Go(func() {
			defer func() {
				if p := recover(); p != nil {
					broken.Store(fmt.Sprintf("%v\n%s", p, debug.Stack()))
					cancel(errors.New("crashed"))
				}
			}()
			for ctx.Err() == nil {
				n := int(next.Add(1)) - 1
				if n >= len(picked) {
					return
				}
				r, err := c.judge(ctx, &list[picked[n]], alone)
				if err == nil {
					err = done(picked[n], &r)
				}
				if err != nil {
					cancel(err)
				}
			}
		})
	}
	workers.Wait()
	if text, ok := broken.Load().(string); ok {
		panic(text) // where whoever runs the program can see it
	}
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	return nil
}

// judge judges one recording.
func (c *Config) judge(ctx context.Context, r *Recording, alone bool) (daemon.Result, error) {
	if r.Err != nil {
		return c.Spare.Unusable(r.Name, r.Err.Error()), ctx.Err()
	}
	bench, err := c.Bench(r)
	if err != nil {
		return c.Spare.Unusable(r.Name, err.Error()), ctx.Err()
	}
	return bench.One(ctx, r.Name, func(string) (bus.Source, error) { return c.Open(r) }, alone)
}
