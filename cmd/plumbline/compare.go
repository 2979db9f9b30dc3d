package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/bus"
	"plumbline/daemon"
	"plumbline/daemon/archive"
	"plumbline/daemon/compare"
	"plumbline/daemon/report"
	"plumbline/daemon/setup"
)

// resultFile is the name of the result in the folder of a signed test.
const resultFile = "result.json"

// What counts as a movement for the exit code.
const (
	failOnMoved = "moved"
	failOnLimit = "limit"
)

func comparisonFormats() []string { return []string{formatText, formatJSON, formatHTML} }

func newCompare(g *global) *cobra.Command {
	var format, setupFile, failOn string
	var files []string
	c := &cobra.Command{
		Use:   "compare BEFORE AFTER",
		Short: "Tell what moved between two function tests",
		Long: "compare tells of each zero, angle offset, weight, drag, and of the axes, clearance and camber, whether\n" +
			"it moved between two tests by more than the uncertainty of the difference, and what that means for\n" +
			"the data in between. BEFORE and AFTER are results (plumbline replay --format json), folders of signed\n" +
			"tests, or, with --setup, recordings. Transducers are recognised by their serial numbers.\n\n" +
			"Exit codes: 0 nothing moved, 1 something moved, 2 the command line or the setup is wrong, 3 not\n" +
			"everything could be compared, or not well enough.",
		Example: "  plumbline compare before.json after.json\n" +
			"  plumbline compare --setup minibus.yaml before.log after.log -o moved.html",
		Args: exactly(2, "two tests, BEFORE and AFTER"),
		RunE: func(c *cobra.Command, args []string) error {
			outs, err := chosen(format, files, comparisonFormats())
			if err != nil {
				return err
			}
			if failOn != failOnMoved && failOn != failOnLimit {
				return fmt.Errorf("--fail-on %q: expected %s or %s", failOn, failOnMoved, failOnLimit)
			}
			results, err := twoResults(c, g, setupFile, args)
			if err != nil {
				return err
			}
			cmp := compare.Compare(program(), compare.Of{File: args[0], Result: results[0]}, compare.Of{File: args[1], Result: results[1]})
			err = outs.each(g, func(w io.Writer, format string, style report.Style) error {
				switch format {
				case formatJSON:
					return cmp.Encode(w)
				case formatHTML:
					return report.CompareHTML(w, &cmp)
				}
				return report.CompareText(w, &cmp, style)
			})
			if err != nil {
				return err
			}
			return verdict(cmp.ExitCode(failOn == failOnLimit))
		},
	}
	addOutputs(c, &format, &files, comparisonFormats())
	c.Flags().StringVar(&setupFile, "setup", "", "judge recordings by `SETUP`")
	c.Flags().StringVar(&failOn, "fail-on", failOnMoved, "exit with 1 on all that moved, or only beyond its `limit`: moved or limit")
	complete(c, "fail-on", failOnMoved, failOnLimit)
	return c
}

// each writes all outputs and gives the files their names when all of them are whole.
func (o *outputs) each(g *global, write func(w io.Writer, format string, style report.Style) error) error {
	defer o.discard()
	if err := o.create(g); err != nil {
		return err
	}
	for i := range o.list {
		t := &o.list[i]
		if err := write(t.out, t.format, t.style(g)); err != nil {
			return err
		}
	}
	return o.commit()
}

// twoResults reads the results of two tests, and judges those that are recordings.
func twoResults(c *cobra.Command, g *global, setupFile string, names []string) ([]*daemon.Result, error) {
	out := make([]*daemon.Result, len(names))
	var recordings []string
	for i, name := range names {
		file, ok := resultOf(name)
		if !ok {
			recordings = append(recordings, name)
			continue
		}
		r, err := readResult(file)
		if err != nil {
			return nil, &exit{daemon.ExitInconclusive, err}
		}
		out[i] = r
	}
	if len(recordings) == 0 {
		return out, nil
	}
	if setupFile == "" {
		for _, name := range recordings {
			if _, err := os.Stat(name); err != nil && !strings.ContainsAny(name, "*?[") { // not a pattern
				return nil, setup.Located(name, err)
			}
		}
		return nil, fmt.Errorf("%s: no result: add --setup SETUP to have a recording judged", strings.Join(recordings, ", "))
	}
	s, err := setup.Load(setupFile)
	if err != nil {
		return nil, err
	}
	bench, err := daemon.NewBench(s, program())
	if err != nil {
		return nil, err
	}
	g.warn(s.Warnings)
	parts := map[string][]string{}
	for i, name := range recordings {
		list, err := archive.List([]string{name})
		if err != nil {
			return nil, err
		}
		if len(list) != 1 {
			return nil, fmt.Errorf("%s holds %s: name one test", name, count(len(list), "recording", "recordings"))
		}
		recordings[i], parts[list[0].Name] = list[0].Name, list[0].Parts
	}
	results, err := bench.Replay(c.Context(), recordings, func(name string) (bus.Source, error) { return g.open(name, parts[name]) })
	if err != nil {
		return nil, err
	}
	for i := range results {
		if r := &results[i]; len(r.Findings) == 0 {
			return nil, &exit{daemon.ExitInconclusive, errors.New(strings.Join(r.Captures[0].Warnings, "; "))}
		}
		out[slices.Index(out, nil)] = &results[i]
	}
	return out, nil
}

// resultOf returns the file of a result; false where the name is that of a recording.
func resultOf(name string) (string, bool) {
	info, err := os.Stat(name)
	if err != nil {
		return name, strings.EqualFold(filepath.Ext(name), ".json") // what is wrong is told when it is opened
	}
	if info.IsDir() {
		name = filepath.Join(name, resultFile)
		_, err := os.Stat(name)
		return name, err == nil
	}
	if !info.Mode().IsRegular() {
		return name, false
	}
	f, err := os.Open(name)
	if err != nil {
		return name, true
	}
	defer f.Close()
	head := make([]byte, 64)
	n, _ := io.ReadFull(f, head)
	text := strings.TrimSpace(strings.TrimPrefix(string(head[:n]), "\ufeff"))
	return name, strings.HasPrefix(text, "{") || strings.HasPrefix(text, "[")
}

// readResult reads the one result of a file.
func readResult(name string) (*daemon.Result, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, setup.Located(name, err)
	}
	defer f.Close()
	results, err := daemon.Decode(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(results) != 1 {
		return nil, fmt.Errorf("%s holds %s: name a file with one", name, count(len(results), "result", "results"))
	}
	return &results[0], nil
}
