package matrix

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"plumbline/bus/simulated"
	"plumbline/daemon"
)

// Config says how much is tried.
type Config struct {
	Seeds int      // of each fault, size, place and frame, and of each pair and frame; 0: 20
	Clean int      // of each vehicle on which nothing is wrong; 0: 200
	Kinds []string // of fault; nil: all

	// Done is told after each run how many of how many are done, from several goroutines; nil: nobody is told.
	Done func(done, all int)
}

func (c Config) withDefaults() (Config, error) {
	if c.Seeds == 0 {
		c.Seeds = 20
	}
	if c.Clean == 0 {
		c.Clean = 200
	}
	if c.Seeds < 0 || c.Clean < 0 {
		return c, fmt.Errorf("matrix: %d seeds, %d clean: want more than 0", c.Seeds, c.Clean)
	}
	for _, name := range c.Kinds {
		if !slices.ContainsFunc(simulated.Kinds(), func(k simulated.Kind) bool { return k.Name == name }) {
			return c, fmt.Errorf("matrix: no kind of fault %q", name)
		}
	}
	return c, nil
}

// job is one run of one vehicle.
type job struct {
	vehicle vehicle
	seed    uint64
	faults  []simulated.Fault
}

// runAll runs the jobs on all processors and calls look with each result, in any order and from several
// goroutines. The first error in the order of the jobs is returned.
func (c *Config) runAll(ctx context.Context, jobs []job, look func(i int, r *daemon.Result)) error {
	benches := map[vehicle]*daemon.Bench{}
	for i := range jobs {
		v := jobs[i].vehicle
		if benches[v] != nil {
			continue
		}
		b, err := v.bench()
		if err != nil {
			return err
		}
		benches[v] = b
	}
	errs := make([]error, len(jobs))
	next := make(chan int)
	var (
		workers sync.WaitGroup
		done    atomic.Int64
	)
	for range min(runtime.GOMAXPROCS(0), len(jobs)) {
		workers.Go(func() {
			for i := range next {
				j := &jobs[i]
				r, err := j.run(ctx, benches[j.vehicle])
				if errs[i] = err; err == nil {
					look(i, &r)
				}
				if n := done.Add(1); c.Done != nil {
					c.Done(int(n), len(jobs))
				}
			}
		})
	}
	for i := range jobs {
		select {
		case next <- i:
		case <-ctx.Done():
		}
	}
	close(next)
	workers.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	for i, err := range errs {
		if err != nil {
			return fmt.Errorf("matrix: %s, seed %d, %v: %w", jobs[i].vehicle, jobs[i].seed, jobs[i].faults, err)
		}
	}
	return nil
}

func (j *job) run(ctx context.Context, b *daemon.Bench) (daemon.Result, error) {
	v, err := simulated.New(j.vehicle.config(j.seed, j.faults))
	if err != nil {
		return daemon.Result{}, err
	}
	judge := b.Judge("simulated")
	if err := judge.Run(ctx, v); err != nil {
		return daemon.Result{}, err
	}
	return judge.Result(), nil
}
