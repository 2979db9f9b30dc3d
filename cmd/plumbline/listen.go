package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"plumbline/bus/dbc"
	"plumbline/bus/serialport"
	"plumbline/daemon"
	"plumbline/daemon/report"
	"plumbline/daemon/setup"
)

// listenFlags are the flags of listen.
type listenFlags struct {
	dbc     []string
	layout  string
	baud    int
	framing string
	guess   bool
	length  time.Duration // 0: until it is interrupted
}

func newListen(g *global) *cobra.Command {
	var f listenFlags
	c := &cobra.Command{
		Use:   "listen SOURCE [--dbc FILE]...",
		Short: "Take a first look: what arrives, how often, decoded",
		Long: "listen needs no setup and sends nothing. It says which identifiers a source brings, how often they come,\n" +
			"where the longest gaps are and, with DBC files, between which values the signals move. SOURCE is\n\n" +
			"  a CAN interface (can0)     heard live, until Ctrl-C or for --for\n" +
			"  a serial device (/dev/...) the same, with --baud and --framing, or --guess where they are not known\n" +
			"  a recording                read to its end; - reads standard input\n\n" +
			"On a terminal a live table is kept up to date; what was heard is printed at the end.",
		Example: "  plumbline listen can0 --dbc wheels.dbc\n" +
			"  plumbline listen /dev/ttyUSB0 --baud 115200 --framing cobs --layout optics.layout.yaml\n" +
			"  plumbline listen /dev/ttyUSB0 --guess\n" +
			"  plumbline listen drive.log --dbc wheels.dbc",
		Args: exactly(1, "one source"),
		RunE: func(c *cobra.Command, args []string) error {
			return listen(c, g, args[0], &f)
		},
	}
	c.Flags().StringArrayVar(&f.dbc, "dbc", nil, "decode with DBC `FILE`; may be given several times")
	c.Flags().StringVar(&f.layout, "layout", "", "of a serial device: decode by the layout `FILE`")
	c.Flags().IntVar(&f.baud, "baud", 0, "of a serial device: `BIT/S`, as in 115200")
	c.Flags().StringVar(&f.framing, "framing", "", "of a serial device: what tells its packets apart: "+framingNames())
	c.Flags().BoolVar(&f.guess, "guess", false, "of a serial device: try common baud rates and framings, by listening alone")
	c.Flags().DurationVar(&f.length, "for", 0, "of a live source: end after `DURATION`, as in 10s")
	var framings []string
	for _, name := range serialport.Framings() {
		framings = append(framings, string(name))
	}
	complete(c, "framing", framings...)
	return c
}

func framingNames() string {
	var names []string
	for _, f := range serialport.Framings() {
		names = append(names, string(f))
	}
	return strings.Join(names, ", ")
}

func listen(c *cobra.Command, g *global, name string, f *listenFlags) error {
	way, err := wayOf(name)
	if err != nil {
		return err
	}
	if err := f.fit(c, name, way); err != nil {
		return err
	}
	if f.guess {
		return guess(c.Context(), g, name, f)
	}
	known, err := readDBC(f.dbc)
	if err != nil {
		return err
	}
	switch way {
	case wayCAN:
		return listenCAN(c.Context(), g, name, f, known)
	case waySerial:
		return listenSerial(c.Context(), g, name, f, known)
	case wayCapture:
	}
	return listenCapture(c.Context(), g, name, known)
}

// fit refuses flags that belong to another kind of source.
func (f *listenFlags) fit(c *cobra.Command, name string, w way) error {
	of := map[string]bool{"for": w != wayCapture}
	for _, flag := range []string{"layout", "baud", "framing", "guess"} {
		of[flag] = w == waySerial
	}
	for _, flag := range []string{"layout", "baud", "framing", "guess", "for"} { // in this order
		if c.Flags().Changed(flag) && !of[flag] {
			if _, err := os.Stat(name); w == wayCapture && errors.Is(err, fs.ErrNotExist) {
				return fmt.Errorf("there is no %s: plug the adapter in, or name its device, as in /dev/ttyUSB0", name)
			}
			return fmt.Errorf("--%s does not go with %s, which is %s: leave it out", flag, name, w)
		}
	}
	switch {
	case f.length < 0:
		return fmt.Errorf("--for %v: expected a time above 0, as in 10s", f.length)
	case f.baud < 0 || f.baud == 0 && c.Flags().Changed("baud"):
		return fmt.Errorf("--baud %d: expected a bit rate above 0, as in 115200", f.baud)
	case f.guess && (len(f.dbc) > 0 || f.layout != ""):
		return errors.New("--guess decodes nothing: leave out --dbc and --layout, and give them with what it finds")
	}
	return nil
}

// readDBC reads DBC files. Of one that is broken what is whole is used, with a warning.
func readDBC(files []string) ([]*dbc.File, error) {
	var known []*dbc.File
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			return nil, fmt.Errorf("DBC: %w", setup.Located(file, err))
		}
		f, err := dbc.Parse(file, text)
		if f == nil {
			return nil, err
		}
		if err != nil {
			broken := strings.Split(strings.TrimSpace(err.Error()), "\n")
			for i := range broken {
				broken[i] += "; the rest of the file is used"
			}
			f.Warnings = append(broken, f.Warnings...)
		}
		known = append(known, f)
	}
	return known, nil
}

func listenCapture(ctx context.Context, g *global, name string, known []*dbc.File) error {
	src, err := g.open(name, nil)
	if err != nil {
		return &exit{daemon.ExitInconclusive, err}
	}
	p := newProgress(g.err, 1, columns(g.err), isTerminal(g.err))
	survey, lookErr := daemon.Look(ctx, name, p.track(name, src), known)
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
