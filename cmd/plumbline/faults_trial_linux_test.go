package main

import (
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"plumbline/bus/simulated"
	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// patience is how long anything is waited for; only what never comes takes that long.
const patience = 60 * time.Second

// trial is the real program under a fault: what it listens to, who looks at it, and what is written down.
type trial struct {
	*testing.T
	fault *fault
	file  string // of the program
	dir   string
	setup string // file
	cfg   simulated.Config

	wires  []*wire
	watch  *watcher
	record string // folder

	program *exec.Cmd
	ended   chan struct{}

	base   int64     // frames that were sent before the program was started last
	before []int64   // frames that each wire had sent when the fault began
	began  time.Time // of the fault
	over   time.Time
	out    outcome
	freed  []func()
}

// outcome is what came of a fault.
type outcome struct {
	Name      string
	Sent      int64
	Recorded  int64
	Lost      map[string]int64 // counted, by place
	Missed    int64            // the line or the interface did not take them: they never reached the computer
	Uncounted int64            // missing and counted by nobody
	Said      map[string]float64
	StoodS    float64 // how long the fault stood
	HeldS     float64 // longest that a terminal held back who writes, because nobody read
	WellS     float64 // from its end until all was well
}

// restHz is how often the sensors send: seldom enough for a busy machine, which delivers in bursts what comes more often.
const restHz = 25

// resting is a vehicle at rest whose wheels are heard over so many buses.
func resting(buses, corners int) simulated.Config {
	cfg := simulated.Standard(4)
	cfg.RateHz, cfg.JitterS, cfg.Optics, cfg.MassKg = restHz, 0, nil, 0
	cfg.Corners = cfg.Corners[:corners]
	for i := range cfg.Corners {
		if buses > 1 {
			cfg.Corners[i].Bus = "bus-" + strings.ToLower(cfg.Corners[i].Name)
		}
	}
	cfg.Script = []simulated.Phase{{Kind: simulated.Rest, Seconds: loopS}}
	return cfg
}

// begin starts the program with what the fault needs, and waits until all is well.
func begin(t *testing.T, f *fault, file string) *trial {
	t.Helper()
	dir := t.TempDir()
	tr := &trial{
		T: t, fault: f, file: file, dir: dir, setup: filepath.Join(dir, "setup.yaml"), cfg: f.vehicle(), record: filepath.Join(dir, "recording"),
		out: outcome{Name: f.name, Lost: map[string]int64{}, Said: map[string]float64{}},
	}
	tr.wires = newWires(t, tr.cfg, f.rate)
	var corners []string
	text := tr.cfg.SetupYAML()
	for i, w := range tr.wires {
		corners = append(corners, tr.cfg.Corners[i].Name)
		bus := tr.cfg.Corners[i].Bus
		if bus == "" {
			bus = "can0"
		}
		if f.can != "" {
			text = strings.Replace(text, "can: "+bus, "can: "+f.can, 1)
			w.to = openCAN(t, f.can)
			continue
		}
		path := wirePath(dir, w.source)
		tr.plug(w)
		text = strings.Replace(text, "can: "+bus+",", "serial: "+path+", baud: 921600, framing: slcan,", 1)
	}
	// The machine of a test may let nobody run for a second: a message may stay away for 2 s here, and half of them.
	text += fmt.Sprintf("\nlimits: {gap_periods: %d, frames_lost_ratio: 0.5, drift_rate_ratio: 0.9}\n", 2*restHz)
	if f.setup != nil {
		text = f.setup(text)
	}
	put(t, tr.setup, text)
	for _, d := range tr.cfg.DBCs() {
		put(t, filepath.Join(dir, d.Name), d.Text)
	}
	if f.prepare != nil {
		f.prepare(tr)
	}
	address := freeAddress(t)
	tr.watch = newWatcher("http://"+address+"/", filepath.Join(dir, "log"), tr.wires, corners)
	tr.launch(file, address)
	tr.watching()
	for _, w := range tr.wires {
		tr.awaitOpen(w)
		w.speak()
	}
	if !f.illAtFirst {
		tr.untilWell()
	}
	return tr
}

// plug connects a wire. A line that takes what it can in 2 ms shows what a device would lose; else nothing is
// lost before the computer.
func (tr *trial) plug(w *wire) {
	wait := patience
	if tr.fault.losesLine {
		wait = 2 * time.Millisecond
	}
	w.plug(tr.T, wirePath(tr.dir, w.source), wait)
}

// freeAddress is one on which nobody listens.
func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := new(net.ListenConfig).Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// launch starts the program as a service manager does.
func (tr *trial) launch(file, address string) {
	tr.Helper()
	log, err := os.OpenFile(tr.watch.log, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		tr.Fatal(err)
	}
	defer log.Close()
	tr.program = exec.CommandContext(context.WithoutCancel(tr.Context()), file, "run", tr.setup, "--record", tr.record, "--log-format", "json", "--listen", address)
	tr.program.Env = append(append(os.Environ(), "GOTRACEBACK=crash"), tr.fault.env...)
	tr.program.Stderr = log
	if err := tr.program.Start(); err != nil {
		tr.Fatal(err)
	}
	p, ended := tr.program, make(chan struct{})
	tr.ended = ended
	go func() { defer close(ended); _ = p.Wait() }()
}

// watching starts the wires and who looks; both end with the trial.
func (tr *trial) watching() {
	ctx, cancel := context.WithCancel(context.WithoutCancel(tr.Context()))
	stop := make(chan struct{})
	var joined sync.WaitGroup
	for _, w := range tr.wires {
		joined.Go(func() { w.run(stop) })
	}
	joined.Go(func() { tr.watch.run(ctx) })
	tr.Cleanup(func() {
		if tr.Failed() {
			tr.Logf("log:\n%s", tr.logText())
		}
		_ = tr.program.Process.Kill()
		<-tr.ended
		close(stop)
		cancel()
		joined.Wait()
		for _, free := range slices.Backward(tr.freed) {
			free()
		}
	})
}

func (tr *trial) logText() string {
	text, _ := os.ReadFile(tr.watch.log)
	if len(text) > 8000 {
		text = append([]byte("…\n"), text[len(text)-8000:]...)
	}
	return string(text)
}

// until waits for looks until one of them is as it should be.
func (tr *trial) until(what string, good func(*look) bool) {
	tr.Helper()
	give := time.After(patience)
	for {
		l, news := tr.watch.newest()
		if l != nil && good(l) {
			return
		}
		select {
		case <-news:
		case <-tr.ended:
			tr.Fatalf("it ended before %s", what)
		case <-give:
			for series, v := range l.metrics {
				if strings.HasPrefix(series, "plumbline_source_") && v != 0 && !strings.Contains(series, "_age_") {
					tr.Logf("%s %v", series, v)
				}
			}
			tr.Fatalf("%s did not come within %v; it stands: %s", what, patience, l.ill())
		}
	}
}

// awaitOpen waits until the program has opened the port of a wire: what is sent before that is nobody's.
func (tr *trial) awaitOpen(w *wire) {
	tr.Helper()
	link := func(l *look, state string) bool {
		return l.metrics[fmt.Sprintf(`plumbline_source_link_state{source=%q,state=%q}`, w.source, state)] == 1
	}
	tr.until("the port of "+w.source, func(l *look) bool { return link(l, "silent") || link(l, "active") })
}

// untilWell waits until all is well again and writes down how long that took since the fault was over.
func (tr *trial) untilWell() {
	tr.Helper()
	tr.until("that all is well", func(l *look) bool { return l.ill() == "" })
	if !tr.over.IsZero() {
		tr.out.WellS = time.Since(tr.over).Seconds()
	}
}

// settle waits until the program has heard all that was sent, while nothing more is sent by these wires.
func (tr *trial) settle(wires ...*wire) {
	tr.Helper()
	for _, w := range wires {
		w.hush()
	}
	give := time.Now().Add(patience)
	for _, w := range wires {
		flushed := func() (ok bool) { w.set(func() { ok = w.to == nil || w.to.flush() }); return ok }
		for !flushed() {
			if time.Now().After(give) {
				tr.Fatalf("nobody takes what was sent to %s", w.source)
			}
		}
	}
	for _, w := range wires {
		tr.until(fmt.Sprintf("all %d frames that were sent to %s", w.sent(), w.source), func(l *look) bool { return tr.heard(l, w) >= w.sent()-tr.base })
	}
}

// heard is how many frames of a wire the program has counted, heard or lost on the way.
func (tr *trial) heard(l *look, w *wire) int64 {
	n := l.metrics[fmt.Sprintf(`plumbline_source_received_frames_total{source=%q}`, w.source)]
	for _, place := range []string{"queue", "ring", "driver", "controller"} {
		n += l.metrics[fmt.Sprintf(`plumbline_source_lost_frames_total{place=%q,source=%q}`, place, w.source)]
	}
	return int64(n)
}

// begins takes note that the fault begins.
func (tr *trial) begins() {
	tr.watch.begin()
	tr.before = nil
	for _, w := range tr.wires {
		w.set(func() { tr.before = append(tr.before, w.next) })
	}
	tr.began = time.Now()
}

// safe waits until the disk has what was sent before the fault: what it had not yet may go with it.
func (tr *trial) safe() {
	tr.Helper()
	sent := float64(tr.wires[0].sent())
	tr.until("that the disk has what was sent", func(l *look) bool {
		return l.metrics[`plumbline_source_written_frames_total{source="wheels"}`] >= sent
	})
}

// ends takes note that what made the fault is gone.
func (tr *trial) ends() {
	tr.over = time.Now()
	tr.out.StoodS = tr.over.Sub(tr.began).Seconds()
}

// hears waits until all that must be said has been.
func (tr *trial) hears(all ...saying) {
	tr.Helper()
	give := time.Now().Add(patience)
	for _, s := range all {
		for !tr.watch.seen(s) {
			if time.Now().After(give) {
				tr.watch.mu.Lock()
				defer tr.watch.mu.Unlock()
				tr.Fatalf("%s does not say %q; said was\n%s", s.where, s.words, strings.Join(tr.watch.said[tr.watch.fresh:], "\n"))
			}
			time.Sleep(20 * time.Millisecond)
		}
		if _, ok := tr.out.Said[s.words]; !ok {
			tr.out.Said[s.words] = time.Since(tr.began).Seconds()
		}
	}
}

// signal sends the program a signal.
func (tr *trial) signal(s syscall.Signal) {
	tr.Helper()
	if err := tr.program.Process.Signal(s); err != nil {
		tr.Fatal(err)
	}
}

// finish ends the program as the manager does, and draws the balance.
func (tr *trial) finish() *outcome {
	tr.Helper()
	tr.settle(tr.wires...)
	tr.signal(syscall.SIGTERM)
	select {
	case <-tr.ended:
	case <-time.After(patience):
		tr.Fatal("it did not end")
	}
	if code := tr.program.ProcessState.ExitCode(); code != daemon.ExitPass && code != daemon.ExitFail && code != daemon.ExitInconclusive {
		tr.Errorf("exit code %d, want a verdict", code)
	}
	for _, lie := range tr.watch.false {
		tr.Errorf("shown as good: %s", lie)
	}
	if tr.watch.looks == tr.watch.unheard {
		tr.Error("nobody ever answered")
	}
	s, err := setup.Load(tr.setup)
	if err != nil {
		tr.Fatal(err)
	}
	tr.balance(tapes(tr.T, s, tr.record), s)
	return &tr.out
}

// balance holds sent = recorded + counted as lost, and that nothing from before the fault is missing.
func (tr *trial) balance(recorded []tape, s *setup.Setup) {
	tr.Helper()
	for i := range s.Sources {
		for _, w := range tr.wires {
			if w.source != s.Sources[i].Name {
				continue
			}
			tape, counted := &recorded[i], int64(0)
			missing, early := w.holes(tr.T, tape.frames, tr.before[i])
			for place, n := range tape.lost {
				counted += n
				tr.out.Lost[placeName(place)] += n
				if n > 0 && !strings.Contains(tr.fault.loses, placeName(place)) {
					tr.Errorf("%s: %d frames lost: %s; the table allows %s", w.source, n, placeName(place), tr.fault.losses())
				}
			}
			tr.out.Sent += w.sent()
			tr.out.Recorded += int64(len(tape.frames))
			tr.out.Missed += w.missed
			tr.out.HeldS = max(tr.out.HeldS, w.held.Seconds())
			tr.out.Uncounted += missing - counted
			// where bytes of a serial line are missing, the frame on either edge of the hole is heard and not in the recording
			slack := int64(0)
			if s.Sources[i].Kind == setup.Serial {
				slack = 2 * int64(tape.gaps)
			}
			if off := missing - counted; !tr.fault.uncounted && (off < -slack && !tr.fault.survives || off > slack) {
				tr.Errorf("%s: %d frames sent, %d recorded, %d counted as lost: %d are off", w.source, w.sent(), len(tape.frames), counted, off)
			}
			if early > 0 {
				tr.Errorf("%s: %d frames from before the fault are missing", w.source, early)
			}
		}
	}
	if !tr.fault.losesLine && tr.out.Missed > 0 {
		tr.Errorf("%d frames found no room on the way to the computer", tr.out.Missed)
	}
	if tr.fault.losesLine && tr.out.Missed == 0 {
		tr.Error("the line had room for all of it: the fault was none")
	}
	if tr.fault.losesSome && tr.out.Sent == tr.out.Recorded {
		tr.Error("nothing was lost: the fault was none")
	}
}
