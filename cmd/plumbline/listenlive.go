package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"strings"

	"golang.org/x/term"

	"plumbline/bus/dbc"
	"plumbline/bus/serialport"
	"plumbline/bus/socketcan"
	"plumbline/daemon"
	"plumbline/daemon/report"
	"plumbline/daemon/setup"
)

// usualLines is the height of a terminal that does not tell it.
const usualLines = 24

func listenCAN(ctx context.Context, g *global, name string, f *listenFlags, known []*dbc.File) error {
	r, err := socketcan.Open(socketcan.Config{Interfaces: []socketcan.Interface{{Name: name}}})
	if err != nil {
		return &exit{daemon.ExitInconclusive, fmt.Errorf("there is no file %s, and as a CAN interface it cannot be heard: %w", name, err)}
	}
	return listenLive(ctx, g, f, daemon.LookConfig{File: name, Source: r, DBC: known, CAN: r.Info})
}

func listenSerial(ctx context.Context, g *global, name string, f *listenFlags, known []*dbc.File) error {
	if f.baud == 0 || f.framing == "" {
		return fmt.Errorf("%s is a serial device: say how it talks, as in --baud 115200 --framing cobs (%s), or let --guess try", name, framingNames())
	}
	format := serialport.Format{Framing: serialport.Framing(f.framing)}
	if f.layout != "" {
		text, err := os.ReadFile(f.layout)
		if err != nil {
			return fmt.Errorf("layout: %w", setup.Located(f.layout, err))
		}
		var file *dbc.File
		if format, file, err = serialport.ParseLayout(f.layout, text, format); err != nil {
			return err
		}
		known = append(known, file)
	}
	if format.Framing == serialport.Packets && f.layout == "" {
		return errors.New("--framing packets needs --layout: a layout file says with which bytes a packet begins and how long it is")
	}
	r, err := serialport.Open(serialport.Config{Path: name, Name: shortName(name), Baud: f.baud, Format: format})
	if err != nil {
		return err
	}
	return listenLive(ctx, g, f, daemon.LookConfig{File: name, Source: r, DBC: known})
}

// shortName is what a device is called in tables.
func shortName(device string) string {
	if strings.HasPrefix(device, "/dev/serial/") {
		return path.Base(device)
	}
	return strings.TrimPrefix(device, "/dev/")
}

// listenLive shows what arrives until it is interrupted or the time is over, then prints it.
func listenLive(ctx context.Context, g *global, f *listenFlags, c daemon.LookConfig) error {
	if f.length > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, f.length)
		defer cancel()
	}
	v := view{w: g.out, style: g.style(g.out)}
	if isTerminal(g.out) && os.Getenv("TERM") != "dumb" {
		c.Show = v.draw
	} else {
		told := linkTeller{w: g.err}
		c.Show = told.tell
	}
	survey, err := daemon.LookLive(ctx, c)
	v.clear()
	if err := errors.Join(v.err, report.Survey(g.out, survey, g.style(g.out))); err != nil {
		return err
	}
	switch {
	case err != nil && ctx.Err() == nil:
		return &exit{daemon.ExitInconclusive, err}
	case survey.Frames == 0:
		return &exit{daemon.ExitInconclusive, fmt.Errorf("no frame was heard on %s", c.File)}
	}
	return nil
}

// view is a table on a terminal that is drawn anew in its place.
type view struct {
	w     io.Writer
	style report.Style
	lines int // drawn
	err   error
}

func (v *view) draw(s *daemon.Survey) {
	rows := usualLines
	if f, ok := v.w.(*os.File); ok {
		if width, height, err := term.GetSize(int(f.Fd())); err == nil && width > 0 && height > 0 {
			v.style.Width, rows = width, height
		}
	}
	v.clear()
	var err error
	v.lines, err = report.Glance(v.w, s, v.style, rows-1) // the cursor stands below it
	v.err = errors.Join(v.err, err)
}

// clear takes the table away.
func (v *view) clear() {
	if v.lines > 0 {
		fmt.Fprintf(v.w, "\x1b[%dA\r\x1b[J", v.lines)
		v.lines = 0
	}
}

// linkTeller says on standard error what becomes of the links, where no table shows it.
type linkTeller struct {
	w    io.Writer
	told uint64
}

func (t *linkTeller) tell(s *daemon.Survey) {
	all := s.Earlier + uint64(len(s.Links))
	for ; t.told < all; t.told++ {
		if t.told >= s.Earlier {
			l := &s.Links[t.told-s.Earlier]
			fmt.Fprintf(t.w, "plumbline: %s\n", strings.Map(visible, l.Text))
		}
	}
}
