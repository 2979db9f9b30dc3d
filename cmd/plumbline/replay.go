package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"

	"github.com/spf13/cobra"

	"plumbline/bus"
	"plumbline/bus/capture"
	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/archive"
	"plumbline/daemon/record"
	"plumbline/daemon/report"
	"plumbline/daemon/setup"
)

type replayFlags struct {
	format  string
	outputs []string
	jobs    int
	shard   string
	own     bool
}

func newReplay(g *global) *cobra.Command {
	var f replayFlags
	c := &cobra.Command{
		Use:   "replay SETUP CAPTURE...",
		Short: "Judge recordings",
		Long: "replay judges recordings, each on its own, on all cores. CAPTURE is a candump log or a pcapng file, also\n" +
			"compressed, or a folder, of which every recording at any depth is judged, the parts that run --record has\n" +
			"written as one, or a pattern in quotes, in which ** stands for any number of folders; - reads standard\n" +
			"input. One that cannot be read is reported, the others are judged all the same.\n\n" +
			"Each -o writes the results to a file, in the format of its ending: .txt, .json, .xml (JUnit), .html, .md (a\n" +
			"table over all captures) or .jsonl (lines for plumbline merge). With several captures the table over all of\n" +
			"them is then printed.\n\n" +
			"--shard K/N judges the share of machine K of N: a recording belongs to a share by the hash of its path below the\n" +
			"folder that was named, so the shares are the same on every machine. plumbline merge puts the .jsonl files of\n" +
			"all shares together.",
		Example: "  plumbline replay minibus.yaml before.log after.log\n" +
			"  plumbline replay minibus.yaml archive -o results.xml -o results.json\n" +
			"  plumbline replay minibus.yaml 'archive/2026-*/**/*.pcapng.zst' --jobs 4\n" +
			"  plumbline replay minibus.yaml archive --shard 3/20 -o shard-3.jsonl\n" +
			"  candump -L can0 | plumbline replay minibus.yaml -",
		Args: atLeast(2, "a setup and at least one capture"),
		RunE: func(c *cobra.Command, args []string) error {
			if n := len(args) - len(slices.DeleteFunc(slices.Clone(args), func(a string) bool { return a == "-" })); n > 1 {
				return errors.New("standard input can be read once: give - once")
			}
			return replay(c, g, args[0], args[1:], &f)
		},
	}
	addOutputs(c, &f.format, &f.outputs, formats())
	c.Flags().IntVarP(&f.jobs, "jobs", "j", 0, "judge so many recordings at a time; 0: as many as there are cores")
	c.Flags().StringVar(&f.shard, "shard", "", "judge only the share of machine K of N, as in `K/N`")
	c.Flags().BoolVar(&f.own, "own-setup", false, "judge a recording by the setup.yaml beside it, or above it in the folder that was named; by SETUP where there is none")
	return c
}

func replay(c *cobra.Command, g *global, setupFile string, captures []string, f *replayFlags) error {
	if os.Getenv("GOGC") == "" {
		// A judge holds little and is thrown away after each recording: collecting at twice that little
		// would be done a hundred times a second in an archive, and hold up all cores each time.
		defer debug.SetGCPercent(debug.SetGCPercent(400))
	}
	outs, err := chosen(f.format, f.outputs, formats())
	if err != nil {
		return err
	}
	if f.jobs < 0 {
		return fmt.Errorf("--jobs is %d: write how many recordings are judged at a time", f.jobs)
	}
	var shard archive.Shard
	if f.shard != "" {
		if shard, err = archive.ParseShard(f.shard); err != nil {
			return err
		}
	}
	if archive.IsRecording(filepath.Base(setupFile)) {
		return fmt.Errorf("%s is a recording by its name: the setup goes first, as in plumbline replay SETUP CAPTURE", setupFile)
	}
	s, err := setup.Load(setupFile)
	if err != nil {
		return err
	}
	bench, err := daemon.NewBench(s, program())
	if err != nil {
		return err
	}
	g.warn(s.Warnings)
	defer outs.discard()
	if err := outs.create(g); err != nil { // before the work, so that a wrong name costs none
		return err
	}
	list, err := archive.List(captures)
	if err != nil {
		return err
	}
	picked := shard.Pick(list)
	config := archive.Config{
		Jobs: f.jobs, Spare: bench,
		Bench: func(*archive.Recording) (*daemon.Bench, error) { return bench, nil },
	}
	if f.own {
		config.Bench = archive.Own(bench, program())
	}
	var p *progress
	config.Open = func(r *archive.Recording) (bus.Source, error) {
		src, err := g.open(r.Name, r.Parts)
		if err != nil {
			return nil, err
		}
		return p.track(r.Name, src), nil
	}
	if outs.has(formatHTML) {
		if f.own || shard.Of > 1 {
			return errors.New("an HTML report is of one setup and of all captures: leave out --own-setup and --shard")
		}
		return replayHTML(c, g, s, bench, list, outs)
	}
	about := archive.Describe(program(), bench.File(), f.own, shard, list)
	names := make([]string, len(list))
	for i := range list {
		names[i] = list[i].Name
	}
	sheets, err := archive.NewSheets(&about, names, outs.sheets(g, len(list) > 1))
	if err != nil {
		return err
	}
	p = newProgress(g.err, len(picked), columns(g.err), isTerminal(g.err))
	err = archive.Run(c.Context(), config, list, picked, sheets.Add)
	p.end()
	if err == nil {
		err = sheets.Write()
	}
	if err = errors.Join(err, sheets.Close()); err != nil {
		return err
	}
	if err := outs.commit(); err != nil {
		return err
	}
	if len(picked) == 0 && len(list) > 0 {
		fmt.Fprintf(g.err, "plumbline: none of the %d recordings belongs to shard %s: there was nothing to judge\n", len(list), shard)
		return nil
	}
	return verdict(exitOf(sheets.Rows()))
}

// exitOf is the exit code of results, by their rows.
func exitOf(rows []report.Row) int {
	code := daemon.ExitPass
	if len(rows) == 0 {
		code = daemon.ExitInconclusive
	}
	for i := range rows {
		switch r := &rows[i]; {
		case r.Verdict == checks.Fail:
			return daemon.ExitFail
		case r.Verdict != checks.Pass, r.Unusable != "":
			code = daemon.ExitInconclusive
		}
	}
	return code
}

// replayHTML writes the report. It wants to see everything at once: the sensors at the end of each
// capture, and every page with every other.
func replayHTML(c *cobra.Command, g *global, s *setup.Setup, bench *daemon.Bench, list []archive.Recording, outs *outputs) error {
	parts := map[string][]string{}
	var names []string
	for i := range list {
		names = append(names, list[i].Name)
		parts[list[i].Name] = list[i].Parts
	}
	p := newProgress(g.err, len(names), columns(g.err), isTerminal(g.err))
	results, nows, err := bench.ReplayNow(c.Context(), names, func(name string) (bus.Source, error) {
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
	for i := range outs.list {
		o := &outs.list[i]
		if o.format == formatHTML {
			err = writeHTML(o.out, s, results, nows, parts)
		} else {
			err = outs.write(g, o, results)
		}
		if err != nil {
			return err
		}
	}
	if err := outs.commit(); err != nil {
		return err
	}
	return verdict(daemon.ExitCode(results))
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

// open opens a capture, or the parts of a recording; "-" is standard input.
func (g *global) open(name string, parts []string) (bus.Source, error) {
	if len(parts) > 0 {
		return record.Open(parts)
	}
	src, err := capture.Open(name)
	return src, setup.Located(name, err)
}

// warn prints what is weaker than it could be.
func (g *global) warn(warnings []string) {
	for _, w := range warnings {
		fmt.Fprintf(g.err, "plumbline: warning: %s\n", w)
	}
}
