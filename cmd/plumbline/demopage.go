package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"plumbline/bus"
	"plumbline/bus/simulated"
	"plumbline/daemon"
	"plumbline/daemon/record"
	"plumbline/daemon/web"
)

// betweenTests is by how much a test of the demo begins after the one before, in event time.
const betweenTests = time.Hour

// take is one run of the simulated vehicle.
type take struct {
	source bus.Source
	spans  []simulated.Span
	record func() error // gives the file of --record its name
}

// demoDesk ends and begins the tests of a demo.
type demoDesk struct {
	*daemon.Desk
	test *daemon.Test
}

// Afresh begins a new test with the vehicle as it was at the start.
func (d *demoDesk) Afresh(ctx context.Context) error {
	if err := d.Desk.Afresh(ctx); err != nil {
		return err
	}
	d.test.Afresh()
	return nil
}

// demoServed shows the demo on the page until it is interrupted. Tests can be signed there, and begun anew: then the
// vehicle is tested once more.
func demoServed(ctx context.Context, g *global, f *demoFlags, bench *daemon.Bench, first *take, t *teller) error {
	dir, tidy, err := demoResults(f)
	if err != nil {
		return err
	}
	defer tidy()
	k := keep(dir, "", "", slog.New(slog.DiscardHandler))
	if k.store == nil {
		return fmt.Errorf("--results %s: tests cannot be kept there", dir)
	}
	k.test.Afresh() // the vehicle begins anew as well
	t.test = k.test
	recorder, err := record.New(record.Config{Dir: k.record, Program: program()})
	if err != nil {
		return err
	}
	t.tape = recorder
	var joined sync.WaitGroup
	unending := context.WithoutCancel(ctx) // Close ends it
	joined.Go(func() { _ = recorder.Run(unending) })
	defer joined.Wait()
	defer recorder.Close()

	var coming atomic.Pointer[take] // the one whose judge begins next
	coming.Store(first)
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var last []daemon.Result // nil: no test was judged to its end yet
	tests := int64(0)
	finish := sync.OnceValue(first.record)
	var url string
	desk := &daemon.Desk{Bench: bench, File: "demo", Recorder: recorder}
	desk.Begin = func(j *daemon.Judge) {
		if t.judge != nil {
			fmt.Fprintf(g.out, "\na new test begins\n\n")
		}
		last = nil
		j.KeepWindows()
		j.KeepCost()
		t.begin(j, coming.Load().spans)
	}
	desk.Renew = func() (bus.Source, error) {
		tests++
		if err := finish(); err != nil {
			return nil, err
		}
		cfg, err := simulation(f)
		if err != nil {
			return nil, err
		}
		cfg.Start = simulated.DefaultStart + tests*int64(betweenTests)
		v, err := simulated.New(cfg)
		if err != nil {
			return nil, err
		}
		coming.Store(&take{source: v, spans: v.Spans()})
		return daemon.Paced(v, f.speed), nil
	}
	desk.Ended = func() {
		if last, err = t.end(); err != nil || t.err != nil {
			stop()
			return
		}
		fmt.Fprintf(g.err, "plumbline: the page stays at %s until you interrupt\n", url)
	}
	note := ""
	if f.results == "" {
		note = "tests.temporary"
	}
	page, err := servePage(ctx, &f.serve, slog.New(slog.NewTextHandler(g.err, nil)), web.Config{
		Snapshot: t.newest.Load, Test: k.test,
		Signing: web.Signing{Desk: &demoDesk{desk, k.test}, Results: k.store, Program: program(), Note: note},
	})
	if err != nil {
		return &exit{daemon.ExitUsage, err}
	}
	defer page.end() //nolint:errcheck // the demo has ended
	url = page.url
	fmt.Fprintf(g.err, "plumbline: look at %s\n", url)
	if f.results == "" {
		fmt.Fprintf(g.err, "plumbline: tests that you sign are removed when the demo ends; --results DIR keeps them\n")
	}
	runErr := desk.Run(ctx, daemon.Paced(first.source, f.speed))
	if err := errors.Join(err, t.err, finish()); err != nil {
		return err
	}
	if last == nil {
		return runErr
	}
	return verdict(daemon.ExitCode(last))
}

// demoResults returns the folder of signed tests, and what is to be done with it at the end.
func demoResults(f *demoFlags) (dir string, tidy func(), err error) {
	if f.results != "" {
		return f.results, func() {}, nil
	}
	if dir, err = os.MkdirTemp("", "plumbline-demo-"); err != nil {
		return "", nil, fmt.Errorf("a folder for signed tests: %w", err)
	}
	return filepath.Join(dir, "tests"), func() { _ = os.RemoveAll(dir) }, nil
}
