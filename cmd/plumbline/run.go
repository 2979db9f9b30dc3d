package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"plumbline/daemon"
	"plumbline/daemon/record"
	"plumbline/daemon/report"
	"plumbline/daemon/setup"
	"plumbline/daemon/web"
)

type runFlags struct {
	record    string
	results   string
	zstd      bool
	keepMiB   int64
	markFile  string
	logFormat string
	logLevel  string
	result    string
	plain     bool // --zstd=false was given
	serve     serveFlags
}

func newRun(g *global) *cobra.Command {
	var f runFlags
	c := &cobra.Command{
		Use:   "run SETUP",
		Short: "Listen live, judge, show and record",
		Long: `run listens to the sources that the setup names, judges what they send and says what changes. It
sends nothing. It ends on SIGINT or SIGTERM, reads the setup again on SIGHUP (the old one stays
where the new one is bad), and puts a mark into the recording on SIGUSR1.

What is recorded, and how, may stand in the setup, as in record: {dir: recordings, keep: 20 GB, part: 15 min, zstd: true}; the flags
here go before it.

With a folder of results, tests are signed on the page: each is kept there with report, result,
recording, setup and their hashes. What is heard is then recorded into its folder recording,
unless --record or the setup names another one. Another folder of results in a setup that is read
again on SIGHUP is taken up at the next start; the log says so.`,
		Example: "  plumbline run setup.yaml\n  plumbline run setup.yaml --results tests\n  plumbline run setup.yaml --record /var/lib/plumbline --keep-mib 20000",
		Args:    exactly(1, "one setup file"),
		RunE: func(c *cobra.Command, args []string) error {
			f.serve.asked = c.Flags().Changed("listen") || c.Flags().Changed("web-config") || c.Flags().Changed("host")
			f.plain = c.Flags().Changed("zstd") && !f.zstd
			return runLive(c.Context(), g, args[0], &f)
		},
	}
	c.Flags().StringVar(&f.record, "record", "", "record what is heard into the folder `DIR`; none: record nothing, whatever the setup says")
	c.Flags().StringVar(&f.results, "results", "", "keep signed tests in the folder `DIR` (default: results of the setup); without --record, record into DIR/recording")
	c.Flags().BoolVar(&f.zstd, "zstd", false, "pack the recording")
	c.Flags().Int64Var(&f.keepMiB, "keep-mib", 0, "let all parts of the recording take so many MiB, the oldest go first; 0: no bound")
	c.Flags().StringVar(&f.markFile, "mark-file", "", "the first line of `FILE` is the text of a mark that SIGUSR1 sets")
	f.serve.add(c, "serve page and metrics on `HOST:PORT`; none: nowhere")
	c.Flags().StringVarP(&f.result, "output", "o", "", "write the result as JSON to `FILE` when it ends")
	c.Flags().StringVar(&f.logFormat, "log-format", "text", "of the log on standard error: text or json")
	c.Flags().StringVar(&f.logLevel, "log-level", "info", "debug, info, warn or error")
	return c
}

// logger writes the log that the flags ask for.
func logger(g *global, f *runFlags) (*slog.Logger, error) {
	var level slog.Level
	if err := level.UnmarshalText([]byte(f.logLevel)); err != nil {
		return nil, fmt.Errorf("--log-level is %q: write debug, info, warn or error", f.logLevel)
	}
	o := &slog.HandlerOptions{Level: level}
	switch f.logFormat {
	case "text":
		return slog.New(slog.NewTextHandler(g.err, o)), nil
	case "json":
		return slog.New(slog.NewJSONHandler(g.err, o)), nil
	}
	return nil, fmt.Errorf("--log-format is %q: write text or json", f.logFormat)
}

func runLive(ctx context.Context, g *global, path string, f *runFlags) error {
	log, err := logger(g, f)
	if err != nil {
		return &exit{daemon.ExitUsage, err}
	}
	first, err := setup.Load(path)
	if err != nil {
		return err
	}
	dir, said := f.results, ""
	if dir == "" {
		dir = first.Results
	}
	if first.Record != nil {
		said = first.Record.Dir
	}
	kept := keep(dir, f.record, said, log)
	style := g.style(g.out)
	if !isTerminal(g.out) {
		style.Width = whole
	}
	var from int64
	subject := 2
	cfg := daemon.Config{
		Load:    reread(path, first, f.results != "", f.record != "", log),
		Program: program(),
		Log:     log,
		Test:    kept.test,
		Record:  record.Config{Dir: kept.record, Zstd: f.zstd, Keep: f.keepMiB << 20},
		Plain:   f.plain,
		Silent:  f.record == noPage,
		Changed: func(at int64, changes []daemon.Change, r *daemon.Result) {
			if from == 0 {
				if from = int64(r.Captures[0].First); from == 0 {
					from = at // nothing has been heard yet
				}
			}
			for i := range r.Findings {
				subject = max(subject, len([]rune(r.Findings[i].Subject)))
			}
			for i := range changes {
				if err := report.Change(g.out, time.Duration(at-from).Seconds(), &changes[i], subject, checkColumns(), style); err != nil {
					log.Error("standard output", "error", err)
				}
			}
		},
	}
	d := daemon.New(cfg)
	var page *served
	if f.serve.listen != noPage {
		page, err = servePage(ctx, &f.serve, log, web.Config{
			Snapshot: d.Snapshot, Mark: d.Mark, Test: kept.test,
			Confirmed: func(c daemon.Statement) {
				log.Info("confirmed", "id", c.ID, "initials", c.Initials, "reason", c.Reason)
			},
			Signing: web.Signing{Desk: d, Results: kept.store, Program: program(), Log: log},
		})
		switch {
		case err == nil:
			log.Info("page", "url", page.url)
		case f.serve.asked:
			return &exit{daemon.ExitUsage, err}
		default: // who listens goes before who looks
			log.Error("no page", "error", err)
		}
	}
	stop := onSignals(ctx, d, f.markFile, log)
	defer stop()
	err = errors.Join(d.Run(ctx), page.end())
	if s := d.Snapshot(); s != nil {
		fmt.Fprintln(g.out)
		results := []daemon.Result{s.Result}
		if err := report.Text(g.out, results, g.style(g.out)); err != nil {
			return err
		}
		if err := writeResult(g, f.result, results); err != nil {
			return err
		}
		if errors.Is(err, context.Canceled) {
			return verdict(daemon.ExitCode(results))
		}
	}
	if errors.Is(err, context.Canceled) {
		return nil
	}
	return err
}

// writeResult writes the result as JSON, whole or not at all.
func writeResult(g *global, file string, results []daemon.Result) error {
	if file == "" {
		return nil
	}
	out, err := create(file, g.out)
	if err != nil {
		return err
	}
	defer out.discard()
	if err := daemon.Encode(out, results); err != nil {
		return err
	}
	return out.commit()
}

// markText reads what a mark is to say.
func markText(path string) string {
	const plain = "mark"
	if path == "" {
		return plain
	}
	f, err := os.Open(path)
	if err != nil {
		return plain
	}
	defer f.Close()
	s := bufio.NewScanner(f)
	if !s.Scan() || strings.TrimSpace(s.Text()) == "" {
		return plain
	}
	return strings.TrimSpace(s.Text())
}
