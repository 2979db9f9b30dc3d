package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"strings"
	"sync/atomic"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"plumbline/bus"
	"plumbline/bus/candump"
	"plumbline/bus/simulated"
	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/report"
	"plumbline/daemon/setup"
	"plumbline/daemon/web"
)

const (
	watchSpeed = 4          // of a demo on a terminal, event time per time: half a minute, of which the page shows the most
	whole      = 1000       // columns that hold any sentence
	lookEvery  = int64(5e8) // ns of event time between two looks at the verdicts, at the most
)

// demoFlags are the flags of demo.
type demoFlags struct {
	faults  []string
	speed   float64
	record  string
	corners int
	seed    uint64
	list    bool
	serve   serveFlags
}

func newDemo(g *global) *cobra.Command {
	var f demoFlags
	c := &cobra.Command{
		Use:   "demo [--fault KIND:CORNER[=VALUE]]...",
		Short: "Watch a function test of a simulated vehicle",
		Long: "demo simulates a vehicle that is being function-tested, judges what its amplifier sends and says what\n" +
			"it finds as the test goes on. Faults can be put into it. It needs nothing and touches nothing.",
		Example: "  plumbline demo\n" +
			"  plumbline demo --fault zero:FL=115 --fault placement:RL,RR\n" +
			"  plumbline demo --speed 1 --fault drag:RL\n" +
			"  plumbline demo --list-faults",
		Args: exactly(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			if f.list {
				return listFaults(g)
			}
			if !c.Flags().Changed("speed") && isTerminal(g.out) {
				f.speed = watchSpeed
			}
			if !c.Flags().Changed("listen") && (!isTerminal(g.out) || f.speed == 0) {
				f.serve.listen = noPage // nobody could look: it is over at once
			}
			return demo(c.Context(), g, &f)
		},
	}
	c.Flags().StringArrayVar(&f.faults, "fault", nil, "put in a fault, `KIND:CORNER[=VALUE]`; may be given several times")
	c.Flags().Float64Var(&f.speed, "speed", 0, fmt.Sprintf("seconds of the test per second, 0: as fast as possible (default %d on a terminal, else 0)", watchSpeed))
	f.serve.add(c, "serve page and metrics on `HOST:PORT` until interrupted; none: nowhere (default none where it is not watched)")
	c.Flags().StringVar(&f.record, "record", "", "write what the amplifier sends to `FILE`, as candump -L does")
	c.Flags().IntVar(&f.corners, "corners", 4, "instrumented wheels: 1, 2, 4, 6 or 8")
	c.Flags().Uint64Var(&f.seed, "seed", 1, "of all that is drawn; the same seed gives the same frames")
	c.Flags().BoolVar(&f.list, "list-faults", false, "list the kinds of fault")
	kinds := simulated.Kinds()
	names := make([]string, len(kinds))
	for i := range kinds {
		names[i] = kinds[i].Name + ":\t" + kinds[i].Doc
	}
	complete(c, "fault", names...)
	return c
}

func listFaults(g *global) error {
	kinds := simulated.Kinds()
	rows := make([][]string, 0, len(kinds)+1)
	rows = append(rows, []string{"kind", "of", "value", "for check", "what is the matter (V: the value)"})
	for i := range kinds {
		k := &kinds[i]
		value := ""
		if !k.NoValue {
			value = strings.TrimSpace(fmt.Sprintf("%v %s", k.Default, k.Unit))
		}
		rows = append(rows, []string{k.Name, string(k.Subject), value, k.Check, k.Doc})
	}
	if err := report.Columns(g.out, rows); err != nil {
		return err
	}
	_, err := fmt.Fprintln(g.out, "\nThe name of a check stands for the first of its kinds: placement:RL,RR is harness:RL,RR.")
	return err
}

// vehicle makes the simulated vehicle and a bench for what its setup says.
func vehicle(f *demoFlags) (*simulated.Vehicle, *daemon.Bench, error) {
	switch f.corners {
	case 1, 2, 4, 6, 8:
	default:
		return nil, nil, fmt.Errorf("--corners %d: expected 1, 2, 4, 6 or 8", f.corners)
	}
	if f.speed < 0 || math.IsNaN(f.speed) || math.IsInf(f.speed, 0) {
		return nil, nil, fmt.Errorf("--speed %v: expected 0 or more", f.speed)
	}
	cfg := simulated.Standard(f.corners)
	cfg.Seed, cfg.Marks = f.seed, true
	for _, text := range f.faults {
		fault, err := simulated.ParseFault(text)
		if err != nil {
			return nil, nil, fmt.Errorf("%w; plumbline demo --list-faults lists them", err)
		}
		cfg.Faults = append(cfg.Faults, fault)
	}
	v, err := simulated.New(cfg)
	if err != nil {
		return nil, nil, err
	}
	s, err := setup.Parse("demo.yaml", []byte(cfg.SetupYAML()), func(path string) ([]byte, error) {
		for _, file := range cfg.DBCs() {
			if file.Name == path {
				return []byte(file.Text), nil
			}
		}
		return nil, fmt.Errorf("the simulation has no %s", path)
	})
	if err != nil {
		return nil, nil, err
	}
	bench, err := daemon.NewBench(s, program())
	return v, bench, err
}

func demo(ctx context.Context, g *global, f *demoFlags) error {
	v, bench, err := vehicle(f)
	if err != nil {
		return err
	}
	var src bus.Source = v
	record := func() error { return nil }
	if f.record != "" {
		out, err := create(f.record, g.out)
		if err != nil {
			return err
		}
		defer out.discard()
		fmt.Fprintf(out, "# simulated by plumbline demo, seed %d, faults: %s\n", f.seed, orNone(strings.Join(f.faults, " ")))
		w := candump.NewWriter(out, v.Names())
		src = daemon.Recorded(src, w)
		record = func() error { return errors.Join(w.Flush(), out.commit()) }
	}
	j := bench.Judge("demo")
	t := &teller{g: g, style: g.style(g.out), judge: j, spans: v.Spans(), subject: 2, every: lookEvery}
	if f.speed > 0 {
		t.every = min(lookEvery, int64(f.speed*1e8)) // ten times a second, for the page
	}
	page, finished, err := demoPage(ctx, g, f, t)
	if err != nil {
		return err
	}
	defer page.end() //nolint:errcheck // the demo has ended
	if !isTerminal(g.out) {
		t.style.Width = whole // nothing is cut where lines are kept
	}
	j.Grid = t.grid
	runErr := j.Run(ctx, daemon.Paced(src, f.speed))
	if err := errors.Join(t.err, record()); err != nil {
		return err
	}
	if runErr != nil {
		return runErr
	}
	result := j.Result()
	t.publish(int64(result.Captures[0].Last))
	close(finished)
	t.tell(int64(result.Captures[0].Last), &result)
	if t.err != nil {
		return t.err
	}
	fmt.Fprintln(g.out)
	results := []daemon.Result{result}
	if err := report.Text(g.out, results, g.style(g.out)); err != nil {
		return err
	}
	if page != nil {
		fmt.Fprintf(g.err, "plumbline: the page stays at %s until you interrupt\n", page.url)
		<-ctx.Done()
	}
	return verdict(daemon.ExitCode(results))
}

// demoPage serves the page of a demo, if it is to be served. finished is closed when nothing new will come.
func demoPage(ctx context.Context, g *global, f *demoFlags, t *teller) (page *served, finished chan struct{}, err error) {
	finished = make(chan struct{})
	if f.serve.listen == noPage {
		return nil, finished, nil
	}
	t.judge.KeepWindows()
	page, err = servePage(ctx, &f.serve, slog.New(slog.NewTextHandler(g.err, nil)), web.Config{Snapshot: t.newest.Load, Finished: finished})
	if err != nil {
		return nil, nil, &exit{daemon.ExitUsage, err}
	}
	fmt.Fprintf(g.err, "plumbline: look at %s\n", page.url)
	return page, finished, nil
}

func orNone(text string) string {
	if text == "" {
		return "none"
	}
	return text
}

// teller says on the way what is done and what is found.
type teller struct {
	g       *global
	style   report.Style
	judge   *daemon.Judge
	spans   []simulated.Span
	next    int // phase that begins next
	looked  int64
	every   int64 // ns of event time between two looks
	newest  atomic.Pointer[daemon.Snapshot]
	watch   daemon.Watch
	subject int // columns
	err     error
}

// grid looks at the verdicts now and then; Judge.Grid calls it.
func (t *teller) grid(at int64) {
	if t.err != nil {
		return
	}
	for ; t.next < len(t.spans) && t.spans[t.next].From <= at; t.next++ {
		s := &t.spans[t.next]
		t.err = errors.Join(t.err, report.Phase(t.g.out, t.seconds(s.From), phase(&s.Phase), t.style))
	}
	if at-t.looked < t.every {
		return
	}
	t.looked = at
	s := t.publish(at)
	t.tell(at, &s.Result)
}

// publish makes what is known now the newest that the page can show.
func (t *teller) publish(at int64) *daemon.Snapshot {
	s := t.judge.Snapshot(at)
	t.newest.Store(s)
	return s
}

func (t *teller) tell(at int64, r *daemon.Result) {
	for i := range r.Findings {
		t.subject = max(t.subject, utf8.RuneCountInString(r.Findings[i].Subject))
	}
	for _, c := range t.watch.Look(r) {
		t.err = errors.Join(t.err, report.Change(t.g.out, t.seconds(at), &c, t.subject, checkColumns(), t.style))
	}
}

func (t *teller) seconds(at int64) float64 {
	if len(t.spans) == 0 {
		return 0
	}
	return time.Duration(at - t.spans[0].From).Seconds()
}

// checkColumns is how wide the longest name of a check is.
func checkColumns() int {
	widest := 0
	for _, c := range checks.All() {
		widest = max(widest, len(c.Name))
	}
	return widest
}

// phase says what is being done with the vehicle.
func phase(p *simulated.Phase) string {
	of := func(all string) string {
		if p.Corner == "" {
			return all
		}
		return p.Corner
	}
	switch p.Kind {
	case simulated.Rest:
		return "at rest"
	case simulated.Lift:
		return "lifting " + of("the vehicle")
	case simulated.Turn:
		return "turning " + p.Corner + " by hand, forward and back"
	case simulated.Lower:
		return "lowering " + of("the vehicle")
	case simulated.Drive:
		if p.SpeedMps == 0 {
			return "stopping"
		}
		return fmt.Sprintf("driving at %.0f km/h", p.SpeedMps*3.6)
	}
	return string(p.Kind)
}
