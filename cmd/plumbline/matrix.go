package main

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"plumbline/daemon"
	"plumbline/daemon/matrix"
)

// matrixFlags are the flags of matrix.
type matrixFlags struct {
	matrix.Config
	pairs, all   bool
	format, file string
}

func newMatrix(g *global) *cobra.Command {
	var f matrixFlags
	formats := []string{formatText, formatMarkdown}
	c := &cobra.Command{
		Use:   "matrix",
		Short: "Hold the checks against faults of the simulator and say how many they find",
		Long: "matrix puts every kind of fault into simulated vehicles, at half its limit, at the limit, at twice and at\n" +
			"ten times of it, on every corner and in both frames, judges each and counts: how often the check that is\n" +
			"for it fails, how often it cannot decide, and how often something innocent is blamed. Then it does the\n" +
			"same with vehicles on which nothing is wrong. It is for those who change a check or a limit and want to\n" +
			"know what that does; it takes minutes on all processors and judges no data of yours.\n\n" +
			"Exit codes: 0 all rules kept, 1 a rule is broken.",
		Example: "  plumbline matrix --fault zero --fault hum --seeds 5 --clean 10\n" +
			"  plumbline matrix --pairs\n" +
			"  plumbline matrix --all --format markdown -o MATRIX.md",
		Args: exactly(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			if !slices.Contains(formats, f.format) {
				return fmt.Errorf("unknown format %q: expected one of %s", f.format, strings.Join(formats, ", "))
			}
			if f.Seeds < 1 || f.Clean < 0 {
				return fmt.Errorf("--seeds %d, --clean %d: expected at least 1, and 0 or more", f.Seeds, f.Clean)
			}
			return runMatrix(c, g, &f)
		},
	}
	c.Flags().IntVar(&f.Seeds, "seeds", 20, "runs of each fault, size, corner and frame, and of each pair and frame")
	c.Flags().IntVar(&f.Clean, "clean", 200, "runs of each vehicle on which nothing is wrong, 0: none")
	c.Flags().StringArrayVar(&f.Kinds, "fault", nil, "try this `KIND` of fault alone; may be given several times; demo --list-faults lists them")
	c.Flags().BoolVar(&f.pairs, "pairs", false, "try pairs of thirteen common faults instead")
	c.Flags().BoolVar(&f.all, "all", false, "try pairs as well")
	c.Flags().StringVarP(&f.format, "format", "f", formatText, "how to write the tables: "+strings.Join(formats, ", "))
	c.Flags().StringVarP(&f.file, "output", "o", "", "write to `FILE` instead of standard output")
	complete(c, "format", formats...)
	return c
}

func runMatrix(c *cobra.Command, g *global, f *matrixFlags) error {
	out, err := create(f.file, g.out)
	if err != nil {
		return err
	}
	defer out.discard()
	if isTerminal(g.err) {
		f.Done = tick(g)
	}
	r, err := matrix.Try(c.Context(), f.Config, matrix.Parts{
		Faults: f.all || !f.pairs, Clean: (f.all || !f.pairs) && f.Clean > 0, Pairs: f.all || f.pairs,
	})
	if err != nil {
		return err
	}
	r.Command = f.command()
	if f.format == formatMarkdown {
		err = r.Markdown(out)
	} else {
		err = r.Text(out)
	}
	if err != nil {
		return err
	}
	if err := out.commit(); err != nil {
		return err
	}
	if len(r.Broken()) > 0 {
		return verdict(daemon.ExitFail)
	}
	return nil
}

// command is the command line that gives the same table again.
func (f *matrixFlags) command() string {
	words := []string{fmt.Sprintf("plumbline matrix --seeds %d --clean %d", f.Seeds, f.Clean)}
	for _, k := range f.Kinds {
		words = append(words, "--fault "+k)
	}
	switch {
	case f.all:
		words = append(words, "--all")
	case f.pairs:
		words = append(words, "--pairs")
	}
	return strings.Join(append(words, "--format "+f.format), " ")
}

// tick returns what shows on a terminal how far a part is.
func tick(g *global) func(done, all int) {
	var mu sync.Mutex
	shown := -1
	return func(done, all int) {
		percent := 100 * done / all
		mu.Lock()
		defer mu.Unlock()
		if percent == shown {
			return
		}
		shown = percent
		fmt.Fprintf(g.err, "\r%3d %% of %d runs", percent, all)
		if done == all {
			fmt.Fprintln(g.err)
		}
	}
}
