package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"plumbline/bus/dbc"
	"plumbline/daemon"
	"plumbline/daemon/report"
)

func newListen(g *global) *cobra.Command {
	var files []string
	c := &cobra.Command{
		Use:   "listen CAPTURE [--dbc FILE]...",
		Short: "Take a first look: what is in it, how often, decoded",
		Long: "listen needs no setup. It says which identifiers a recording holds, how often they come, where the\n" +
			"longest gaps are and, with DBC files, between which values the signals move. - reads standard input.",
		Example: "  plumbline listen drive.log --dbc wheels.dbc",
		Args:    exactly(1, "one capture"),
		RunE: func(c *cobra.Command, args []string) error {
			return listen(c, g, args[0], files)
		},
	}
	c.Flags().StringArrayVar(&files, "dbc", nil, "decode with DBC `FILE`; may be given several times")
	return c
}

func listen(c *cobra.Command, g *global, name string, files []string) error {
	var known []*dbc.File
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			return fmt.Errorf("DBC: %w", err)
		}
		f, err := dbc.Parse(file, text)
		if err != nil {
			return err
		}
		known = append(known, f)
	}
	src, err := g.open(name, nil)
	if err != nil {
		return &exit{daemon.ExitInconclusive, err}
	}
	p := newProgress(g.err, 1, columns(g.err), isTerminal(g.err))
	survey, lookErr := daemon.Look(c.Context(), name, p.track(name, src), known)
	p.end()
	interrupted := errors.Is(lookErr, context.Canceled)
	if interrupted && survey.Frames == 0 {
		return lookErr
	}
	if err := report.Survey(g.out, survey, g.style(g.out)); err != nil {
		return err
	}
	switch {
	case lookErr != nil && !interrupted: // else what was heard until then has been shown
		return &exit{daemon.ExitInconclusive, lookErr}
	case survey.Frames == 0:
		return &exit{daemon.ExitInconclusive, fmt.Errorf("%s holds no frame", name)}
	}
	return nil
}
