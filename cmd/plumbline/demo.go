package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/bus"
	"plumbline/bus/candump"
	"plumbline/bus/simulated"
	"plumbline/daemon"
	"plumbline/daemon/report"
	"plumbline/daemon/setup"
)

const (
	watchSpeed  = 4          // of a demo on a terminal, event time per time: half a minute, of which the page shows the most
	demoBitRate = 1_000_000  // bit/s: eight wheels take two thirds of it
	whole       = 1000       // columns that hold any sentence
	lookEvery   = int64(5e8) // ns of event time between two looks at the verdicts, at the most
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
	results string
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
			if f.serve.listen == noPage && f.results != "" {
				return errors.New("--results: tests are signed on the page: add --listen and --speed")
			}
			return demo(c.Context(), g, &f)
		},
	}
	c.Flags().StringArrayVar(&f.faults, "fault", nil, "put in a fault, `KIND:CORNER[=VALUE]`; may be given several times")
	c.Flags().Float64Var(&f.speed, "speed", 0, fmt.Sprintf("seconds of the test per second, 0: as fast as possible (default %d on a terminal, else 0)", watchSpeed))
	f.serve.add(c, "serve page and metrics on `HOST:PORT` until interrupted; none: nowhere (default none where it is not watched)")
	c.Flags().StringVar(&f.results, "results", "", "keep tests that are signed on the page in the folder `DIR` (default: a folder that is removed at the end)")
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

// simulation is the vehicle that the flags ask for.
func simulation(f *demoFlags) (simulated.Config, error) {
	switch f.corners {
	case 1, 2, 4, 6, 8:
	default:
		return simulated.Config{}, fmt.Errorf("--corners %d: expected 1, 2, 4, 6 or 8", f.corners)
	}
	if f.speed < 0 || math.IsNaN(f.speed) || math.IsInf(f.speed, 0) {
		return simulated.Config{}, fmt.Errorf("--speed %v: expected 0 or more", f.speed)
	}
	cfg := simulated.Standard(f.corners)
	cfg.Seed, cfg.Marks = f.seed, true
	if f.serve.listen != noPage {
		cfg.BitRate = demoBitRate // where somebody looks; a recording by candump could not tell it
	}
	for _, text := range f.faults {
		fault, err := simulated.ParseFault(text)
		if err != nil {
			return simulated.Config{}, fmt.Errorf("%w; plumbline demo --list-faults lists them", err)
		}
		cfg.Faults = append(cfg.Faults, fault)
	}
	return cfg, nil
}

// vehicle makes the simulated vehicle and a bench for what its setup says.
func vehicle(f *demoFlags) (*simulated.Vehicle, *daemon.Bench, error) {
	cfg, err := simulation(f)
	if err != nil {
		return nil, nil, err
	}
	v, err := simulated.New(cfg)
	if err != nil {
		return nil, nil, err
	}
	s, err := setup.Parse("demo.yaml", []byte(cfg.SetupYAML()), cfg.ReadFile)
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
	src, record, discard, err := onTape(g, f, v)
	if err != nil {
		return err
	}
	defer discard()
	t := &teller{g: g, style: g.style(g.out), subject: 2, every: lookEvery, test: daemon.NewTest()}
	if f.speed > 0 {
		t.every = min(lookEvery, int64(f.speed*1e8)) // ten times a second, for the page
	}
	if !isTerminal(g.out) {
		t.style.Width = whole // nothing is cut where lines are kept
	}
	if f.serve.listen != noPage {
		return demoServed(ctx, g, f, bench, &take{source: src, spans: v.Spans(), record: record}, t)
	}
	j := bench.Judge("demo")
	t.begin(j, v.Spans())
	runErr := j.Run(ctx, daemon.Paced(src, f.speed))
	if err := errors.Join(t.err, record()); err != nil {
		return err
	}
	if runErr != nil {
		return runErr
	}
	results, err := t.end()
	if err != nil {
		return err
	}
	return verdict(daemon.ExitCode(results))
}

// onTape has what the vehicle sends written to the file of --record, if there is one. finish gives the file its name.
func onTape(g *global, f *demoFlags, v *simulated.Vehicle) (src bus.Source, finish func() error, discard func(), err error) {
	if f.record == "" {
		return v, func() error { return nil }, func() {}, nil
	}
	out, err := create(f.record, g.out)
	if err != nil {
		return nil, nil, nil, err
	}
	fmt.Fprintf(out, "# simulated by plumbline demo, seed %d, faults: %s\n", f.seed, orNone(strings.Join(f.faults, " ")))
	w := candump.NewWriter(out, v.Names())
	return daemon.Recorded(v, w), func() error { return errors.Join(w.Flush(), out.commit()) }, out.discard, nil
}

func orNone(text string) string {
	if text == "" {
		return "none"
	}
	return text
}
