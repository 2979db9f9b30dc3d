package daemon

import (
	"cmp"
	"context"
	"errors"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"plumbline/bus"
	"plumbline/bus/socketcan"
	"plumbline/checks"
	"plumbline/daemon/record"
	"plumbline/daemon/setup"
)

// lookEvery is how often the verdicts are looked at, ns of event time: a page shows a change within 250 ms.
const lookEvery = int64(200 * time.Millisecond)

// Config says how to run. Load and Program are required.
type Config struct {
	Load    func() (*setup.Setup, error) // reads the setup file, at the start and on each reload
	Program string                       // name and version, for results
	Record  record.Config                // what is set here goes before what the setup says; no Dir in both: nothing is recorded
	Plain   bool                         // record unpacked, whatever the setup says
	Silent  bool                         // record nothing, whatever the setup says
	Log     *slog.Logger
	Test    *Test // what persons say of the test under way; nil: it is kept in memory alone

	// Changed, if set, is told what has moved, with the event time, ns.
	Changed func(at int64, changes []Change, r *Result)

	open func(b *Bench, everything bool) ([]bus.Source, []string, error) // of tests
}

// Snapshot is what is known at one moment. Nobody changes it once it is published.
type Snapshot struct {
	At        int64 // event time, ns; 0: nothing has been heard
	Clock     int64 // what the clock shows then that stamps what is heard, ns: the same until it was set
	Ahead     int64 // ns that all times of the snapshot, which are event time, are ahead of that clock
	Result    Result
	Now       checks.Now
	Setup     *setup.Setup
	Recording *record.Stats // nil: nothing is recorded
	Ended     bool          // the source has ended: no newer state comes until a new test begins
	Flow      Flow
}

// Snapshot returns what is known by now, at the time at of the clock that stamps what is heard, ns; 0: it does not matter.
func (j *Judge) Snapshot(at int64) *Snapshot {
	s := &Snapshot{Clock: at, Ahead: j.judge.Ahead(), Setup: j.bench.setup}
	if at != 0 {
		s.At = j.judge.EventTime(at)
	}
	j.meter.timed(func() { s.Result, s.Now = j.result(), j.Now() })
	s.Flow = j.flow()
	return s
}

// Daemon listens, judges and records until it is told to end.
type Daemon struct {
	cfg      Config
	snapshot atomic.Pointer[Snapshot]
	reload   chan struct{}
	mark     chan string
	notify   notifier
	desk     atomic.Pointer[Desk] // of the session that runs
}

// New returns a daemon that has not begun.
func New(cfg Config) *Daemon {
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.DiscardHandler)
	}
	if cfg.Test == nil {
		cfg.Test = NewTest()
	}
	if cfg.open == nil {
		cfg.open = openLive
	}
	return &Daemon{cfg: cfg, reload: make(chan struct{}, 1), mark: make(chan string, 16), notify: newNotifier()}
}

// Snapshot returns the newest state; nil before anything was judged. It may be asked by any goroutine.
func (d *Daemon) Snapshot() *Snapshot { return d.snapshot.Load() }

// Reload asks for the setup file to be read again. The old setup stays where the new one is bad.
func (d *Daemon) Reload() {
	select {
	case d.reload <- struct{}{}:
	default: // one is asked for already
	}
}

// Mark puts a person's word into what is heard now.
func (d *Daemon) Mark(text string) {
	select {
	case d.mark <- text:
	default: // more than a person can say
	}
}

// Freeze takes the test under way as it is now; see [Desk.Freeze].
func (d *Daemon) Freeze(ctx context.Context, words string) (*Frozen, error) {
	desk := d.desk.Load()
	if desk == nil {
		return nil, errDeskClosed
	}
	f, err := desk.Freeze(ctx, words)
	if err != nil {
		return nil, err
	}
	said := d.cfg.Test.Said()
	said.Apply(&f.Result)
	return f, nil
}

// Afresh begins a new test: judge, recording and what persons have said begin anew. The sources stay open.
func (d *Daemon) Afresh(ctx context.Context) error {
	desk := d.desk.Load()
	if desk == nil {
		return errDeskClosed
	}
	if err := desk.Afresh(ctx); err != nil {
		return err
	}
	d.cfg.Test.Afresh()
	d.cfg.Log.Info("a new test begins")
	return nil
}

// Run listens until ctx is done, whose error it then returns. An error before that means that the
// setup cannot be used or no source can be opened.
func (d *Daemon) Run(ctx context.Context) error {
	s, err := d.cfg.Load()
	if err != nil {
		return err
	}
	defer d.notify.close()
	for {
		next, err := d.session(ctx, s)
		if err != nil || ctx.Err() != nil {
			d.notify.say("STOPPING=1")
			return errors.Join(ctx.Err(), err)
		}
		if s = next; s == nil {
			return nil
		}
	}
}

// session listens with one setup until ctx is done, all sources have ended or another setup is to
// be used, which it returns.
func (d *Daemon) session(ctx context.Context, s *setup.Setup) (*setup.Setup, error) {
	bench, err := NewBench(s, d.cfg.Program)
	if err != nil {
		return nil, err
	}
	tape := d.cfg.tape(s)
	recording := tape.Dir != ""
	sources, serial, err := d.cfg.open(bench, recording)
	if err != nil {
		return nil, err
	}
	live := NewLive(sources)
	d.adapters(sources)
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var joined sync.WaitGroup
	var recorder *record.Recorder
	if recording {
		c := tape
		c.Program, c.Setup, c.SHA256, c.Serial, c.Log = d.cfg.Program, s.File, s.SHA256, serial, d.cfg.Log
		if recorder, err = record.New(c); err != nil {
			return nil, errors.Join(err, live.Close())
		}
		joined.Go(func() {
			if err := recorder.Run(context.WithoutCancel(ctx)); err != nil {
				d.cfg.Log.Error("recording ended", "error", err)
			}
		})
	}
	var next *setup.Setup
	joined.Go(func() { next = d.listen(ctx, live, cancel) })

	d.cfg.Test.Use(s.SHA256)
	v := &viewer{daemon: d, recorder: recorder}
	desk := &Desk{Bench: bench, File: s.Vehicle, Recorder: recorder, Begin: v.begin}
	d.desk.Store(desk)
	d.cfg.Log.Info("listening", "setup", s.File, "sources", len(s.Sources), "recording", tape.Dir)
	d.notify.say("READY=1")
	runErr := desk.Run(ctx, live)
	d.desk.Store(nil)
	v.look(int64(v.judge.Result().Captures[0].Last))
	cancel()
	if recorder != nil {
		recorder.Close()
	}
	joined.Wait()
	if errors.Is(runErr, context.Canceled) {
		runErr = nil
	}
	return next, runErr
}

// tape returns how to record with a setup.
func (c *Config) tape(s *setup.Setup) record.Config {
	out := c.Record
	if c.Silent {
		out.Dir = ""
		return out
	}
	r := s.Record
	if r == nil {
		return out
	}
	out.Dir = cmp.Or(out.Dir, r.Dir)
	out.Keep = cmp.Or(out.Keep, r.Keep)
	out.PartBytes = cmp.Or(out.PartBytes, r.PartBytes)
	out.PartTime = cmp.Or(out.PartTime, r.PartTime)
	out.Zstd = (out.Zstd || r.Zstd) && !c.Plain
	if out.Keep > 0 && out.PartBytes > out.Keep/2 {
		out.PartBytes = 0 // a flag keeps less than the setup: the parts follow
	}
	return out
}

// missed says what of the test is not in the recording; a signed one must not look whole where it is not.
func missed(s *record.Stats) []string {
	var out []string
	if s.State == record.Stopped {
		out = append(out, "nothing is recorded at the moment: "+s.Why)
	}
	if s.Lost > 0 {
		out = append(out, "not in the recording, though heard and judged: "+frames(s.Lost))
	}
	return out
}

// adapters logs which hardware is behind each interface: names change from start to start, that does not.
func (d *Daemon) adapters(sources []bus.Source) {
	for _, src := range sources {
		can, ok := src.(interface{ Info() []socketcan.Info })
		if !ok {
			continue
		}
		for _, i := range can.Info() {
			a := &i.Adapter
			d.cfg.Log.Info("interface", "name", i.Name, "device", i.Device, "driver", a.Driver, "bus", a.Bus, "path", a.Path, "serial", a.Serial, "link", i.Sentence)
		}
	}
}

// listen takes what a person wants while a session runs.
func (d *Daemon) listen(ctx context.Context, live *Live, end func()) *setup.Setup {
	for {
		select {
		case <-ctx.Done():
			return nil
		case text := <-d.mark:
			live.Mark(text)
			d.cfg.Log.Info("mark", "text", text)
		case <-d.reload:
			s, err := d.cfg.Load()
			if err != nil {
				d.cfg.Log.Error("the new setup is bad, the old one stays", "error", err)
				continue
			}
			d.cfg.Log.Info("setup read again", "setup", s.File, "sha256", s.SHA256)
			end()
			return s
		}
	}
}

// viewer publishes what is known, on the grid of event time.
type viewer struct {
	daemon   *Daemon
	judge    *Judge
	recorder *record.Recorder
	watch    Watch
	told     told
	looked   int64
}

// begin looks at another judge: what it finds has not moved, it begins.
func (v *viewer) begin(j *Judge) {
	v.judge, v.watch, v.looked = j, Watch{}, 0 // which is shown at once
	j.KeepWindows()
	j.KeepCost()
	j.Grid = v.grid
}

func (v *viewer) grid(at int64) {
	v.daemon.notify.alive()
	if at-v.looked >= lookEvery || at < v.looked {
		v.look(at)
	}
}

func (v *viewer) look(at int64) {
	v.looked = at
	s := v.judge.Snapshot(at)
	said := v.daemon.cfg.Test.Said()
	said.Apply(&s.Result)
	if v.recorder != nil {
		s.Recording = v.recorder.Stats()
		if c := s.Result.Captures; len(c) > 0 && s.Recording != nil {
			c[0].Warnings = append(c[0].Warnings, missed(s.Recording)...)
		}
	}
	r := s.Result
	if v.recorder != nil {
		for _, n := range v.told.look(at, &r) {
			v.recorder.Tell(n)
		}
	}
	v.daemon.snapshot.Store(s)
	if changes := v.watch.Look(&r); len(changes) > 0 && v.daemon.cfg.Changed != nil {
		v.daemon.cfg.Changed(at, changes, &r)
	}
}
