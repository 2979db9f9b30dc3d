package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/bus"
	"plumbline/bus/capture"
	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/record"
	"plumbline/daemon/report"
	"plumbline/daemon/setup"
)

// The formats of results.
const (
	formatText  = "text"
	formatJSON  = "json"
	formatJUnit = "junit"
	formatHTML  = "html"
)

func formats() []string { return []string{formatText, formatJSON, formatJUnit, formatHTML} }

func newReplay(g *global) *cobra.Command {
	var format, file string
	c := &cobra.Command{
		Use:   "replay SETUP CAPTURE...",
		Short: "Judge recordings",
		Long: "replay judges recordings, each on its own, several at a time. CAPTURE is a candump log or a pcapng\n" +
			"file, also compressed, or a folder that run --record has written; - reads standard input. One that\n" +
			"cannot be read is reported, the others are judged all the same.",
		Example: "  plumbline replay minibus.yaml before.log after.log\n" +
			"  plumbline replay minibus.yaml *.log --format junit -o results.xml\n" +
			"  candump -L can0 | plumbline replay minibus.yaml -",
		Args: atLeast(2, "a setup and at least one capture"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := checkFormat(format); err != nil {
				return err
			}
			if n := len(args) - len(slices.DeleteFunc(slices.Clone(args), func(a string) bool { return a == "-" })); n > 1 {
				return errors.New("standard input can be read once: give - once")
			}
			return replay(c, g, args[0], args[1:], format, file)
		},
	}
	c.Flags().StringVarP(&format, "format", "f", formatText, "how to write the results: "+strings.Join(formats(), ", "))
	c.Flags().StringVarP(&file, "output", "o", "", "write to `FILE` instead of standard output")
	complete(c, "format", formats()...)
	return c
}

func checkFormat(format string) error {
	if !slices.Contains(formats(), format) {
		return fmt.Errorf("unknown format %q: expected one of %s", format, strings.Join(formats(), ", "))
	}
	return nil
}

func replay(c *cobra.Command, g *global, setupFile string, captures []string, format, file string) error {
	s, err := setup.Load(setupFile)
	if err != nil {
		return err
	}
	bench, err := daemon.NewBench(s, program())
	if err != nil {
		return err
	}
	g.warn(s.Warnings)
	out, err := create(file, g.out) // before the work, so that a wrong name costs none
	if err != nil {
		return err
	}
	defer out.discard()
	captures, parts, err := expand(captures)
	if err != nil {
		return err
	}
	p := newProgress(g.err, len(captures), columns(g.err), isTerminal(g.err))
	results, nows, err := bench.ReplayNow(c.Context(), captures, func(name string) (bus.Source, error) {
		src, err := g.open(name, parts[name])
		if err != nil {
			return nil, err
		}
		return p.track(name, src), nil
	})
	p.end()
	if err != nil {
		return err
	}
	style := g.style(g.out)
	if file != "" && file != "-" {
		style.ASCII, style.Width = false, 0
		style.Colour = g.colour.String() == colourAlways
	}
	if format == formatHTML {
		err = writeHTML(out, s, results, nows, parts)
	} else {
		err = write(out, results, format, style)
	}
	if err != nil {
		return err
	}
	if err := out.commit(); err != nil {
		return err
	}
	return verdict(daemon.ExitCode(results))
}

// write writes results in a format.
func write(w io.Writer, results []daemon.Result, format string, style report.Style) error {
	switch format {
	case formatJSON:
		return daemon.Encode(w, results)
	case formatJUnit:
		return report.JUnit(w, results)
	}
	return report.Text(w, results, style)
}

// writeHTML writes the report. What only a person knows is left to be filled in,
// and no clock is read: the same recordings give the same bytes.
func writeHTML(w io.Writer, s *setup.Setup, results []daemon.Result, nows []checks.Now, parts map[string][]string) error {
	doc := report.Document{Program: program(), Setup: s}
	for i := range results {
		t := report.Test{Result: results[i], Now: &nows[i]}
		for _, c := range results[i].Captures {
			files := parts[c.File]
			if len(files) == 0 {
				files = []string{c.File}
			}
			for _, file := range files {
				t.Recordings = append(t.Recordings, report.File{Name: file, SHA256: sumOf(file)})
			}
		}
		doc.Tests = append(doc.Tests, t)
	}
	return report.HTML(w, doc)
}

// sumOf returns the hash of a file, empty where it cannot be read again; the
// result says why, and the report that the hash is not known.
func sumOf(name string) string {
	if info, err := os.Stat(name); err != nil || !info.Mode().IsRegular() {
		return "" // a pipe is read once
	}
	f, err := os.Open(name)
	if err != nil {
		return ""
	}
	defer f.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return ""
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// expand puts the recordings of a folder in its place: of each run of the daemon all parts as one.
func expand(names []string) (captures []string, parts map[string][]string, err error) {
	parts = map[string][]string{}
	for _, name := range names {
		if info, err := os.Stat(name); err != nil || !info.IsDir() {
			captures = append(captures, name) // what is wrong with it is told when it is opened
			continue
		}
		sessions, err := record.Sessions(name)
		if err != nil {
			return nil, nil, err
		}
		if len(sessions) == 0 {
			return nil, nil, fmt.Errorf("%s holds no recording: name a capture, or a folder that plumbline run --record has written", name)
		}
		for _, s := range sessions {
			path := filepath.Join(name, s.Name)
			captures = append(captures, path)
			parts[path] = s.Parts
		}
	}
	return captures, parts, nil
}

// open opens a capture, or the parts of a recording; "-" is standard input.
func (g *global) open(name string, parts []string) (bus.Source, error) {
	if len(parts) > 0 {
		return record.Open(parts)
	}
	return capture.Open(name)
}

// warn prints what is weaker than it could be.
func (g *global) warn(warnings []string) {
	for _, w := range warnings {
		fmt.Fprintf(g.err, "plumbline: warning: %s\n", w)
	}
}
