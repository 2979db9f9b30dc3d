package main

import (
	"context"
	"errors"
	"runtime"
	"testing"
	"time"

	"plumbline/bus/simulated"
	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// TestMemoryOfAnHour judges an hour of event time, function tests and drives in turn, with a look every
// second as the daemon does: what it holds after ten minutes is all that it ever holds.
func TestMemoryOfAnHour(t *testing.T) {
	if testing.Short() {
		t.Skip("judges an hour")
	}
	cfg := simulated.Standard(2)
	cfg.RateHz, cfg.Optics = 20, nil
	var script []simulated.Phase
	for range 60 {
		script = append(append(script, brief(&cfg)...), simulated.Road(1)...)
	}
	cfg.Script = script
	yard(t, map[string]string{"two.yaml": cfg.SetupYAML()})
	for _, f := range cfg.DBCs() {
		put(t, f.Name, f.Text)
	}
	s, err := setup.Load("two.yaml")
	if err != nil {
		t.Fatal(err)
	}
	bench, err := daemon.NewBench(s, program())
	if err != nil {
		t.Fatal(err)
	}
	src, err := simulated.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	const (
		early = 10 * time.Minute
		late  = time.Hour
	)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var (
		j           = bench.Judge("hour")
		first, look int64
		watch       daemon.Watch
		now         checks.Now
		at          = map[time.Duration]uint64{}
		objects     = map[time.Duration]uint64{}
	)
	held := func(when time.Duration) {
		if _, ok := at[when]; ok {
			return
		}
		runtime.GC()
		runtime.GC() // what the first made free for finalizers
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		at[when], objects[when] = m.HeapAlloc, m.HeapObjects
	}
	j.Grid = func(grid int64) {
		if first == 0 {
			first = grid
		}
		if grid-look >= int64(time.Second) {
			look = grid
			r := j.Result()
			watch.Look(&r)
			now = j.Now()
		}
		switch elapsed := time.Duration(grid - first); {
		case elapsed >= late:
			held(late)
			cancel()
		case elapsed >= early:
			held(early)
		}
	}
	began := time.Now()
	if err := j.Run(ctx, src); err != nil && !errors.Is(err, context.Canceled) {
		t.Fatal(err)
	}
	r := j.Result()
	runtime.KeepAlive(now)
	if at[late] == 0 {
		t.Fatalf("the script ended before an hour of event time: %v", time.Duration(int64(r.Captures[0].Last-r.Captures[0].First)))
	}
	t.Logf("%d frames in %.1f s; held after 10 min %.2f MiB in %d objects, after 60 min %.2f MiB in %d objects",
		r.Captures[0].Frames, time.Since(began).Seconds(), float64(at[early])/(1<<20), objects[early], float64(at[late])/(1<<20), objects[late])
	// The allowance is for what differs from moment to moment: findings with other sentences, batches under way.
	const allowance = 256 << 10
	if at[late] > at[early]+allowance {
		t.Errorf("holds %d bytes more after an hour than after ten minutes, want at most %d", at[late]-at[early], allowance)
	}
	if len(r.Findings) == 0 {
		t.Error("nothing was judged")
	}
}
