package main

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"plumbline/bus/serialport"
	"plumbline/daemon"
	"plumbline/daemon/report"
)

// mostCandidates is how many guesses are listed; what is far down the list is noise.
const mostCandidates = 8

// guess tries baud rates and framings and prints what finds valid packets, and
// the lines of a setup for the best.
func guess(ctx context.Context, g *global, name string, f *listenFlags) error {
	bauds, formats := serialport.GuessBauds(), serialport.GuessFormats()
	if f.baud > 0 {
		bauds = []int{f.baud}
	}
	if f.framing != "" {
		var wanted []serialport.Format
		var known []string
		for i := range formats {
			word := string(formats[i].Framing)
			if word == f.framing {
				wanted = append(wanted, formats[i])
			}
			if !slices.Contains(known, word) {
				known = append(known, word)
			}
		}
		if len(wanted) == 0 {
			return fmt.Errorf("--framing %s cannot be guessed: expected one of %s; packets need a layout file", f.framing, strings.Join(known, ", "))
		}
		formats = wanted
	}
	if f.length > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, f.length)
		defer cancel()
	}
	fmt.Fprintf(g.err, "plumbline: listening to %s at %s, at most 1.5 s each; nothing is sent\n", name, count(len(bauds), "baud rate", "baud rates"))
	found, err := serialport.Guess(ctx, name, bauds, formats)
	if err != nil && ctx.Err() == nil {
		return &exit{daemon.ExitInconclusive, err}
	}
	cut := ctx.Err() != nil
	if len(found) == 0 {
		if cut {
			return &exit{daemon.ExitInconclusive, fmt.Errorf("%s: nothing was found before the end; all baud rates take about %.0f s", name, 1.5*float64(len(bauds)))}
		}
		return &exit{daemon.ExitInconclusive, fmt.Errorf("%s: no baud rate and framing gave valid packets: the device is silent, waits for a command, "+
			"or sends packets with sync bytes, which only a layout file can describe", name)}
	}
	rows := [][]string{{"", "baud", "framing", "checksum", "packets", "of the bytes"}}
	for i := range found[:min(len(found), mostCandidates)] {
		c := &found[i]
		rows = append(rows, []string{
			strconv.Itoa(i + 1), strconv.Itoa(c.Baud), string(c.Format.Framing), checksumText(c.Format.Checksum),
			strconv.FormatUint(c.Stats.Frames, 10), fmt.Sprintf("%.0f %%", 100*c.Score),
		})
	}
	if err := report.Columns(g.out, rows); err != nil {
		return err
	}
	if cut {
		fmt.Fprintln(g.out, "It was ended before all baud rates had been tried.")
	}
	fmt.Fprintf(g.out, "\nThe first as a source of a setup:\n\n%s", setupLines(name, &found[0]))
	fmt.Fprintf(g.out, "\nA first look with it:\n\n  plumbline listen %s --baud %d --framing %s\n", name, found[0].Baud, found[0].Format.Framing)
	return nil
}

func checksumText(s *serialport.Checksum) string {
	switch {
	case s == nil:
		return "none"
	case s.Kind == serialport.KindCRC:
		return fmt.Sprintf("CRC-%d poly 0x%X", s.CRC.Width, s.CRC.Poly)
	}
	return string(s.Kind)
}

// setupLines writes a candidate as a source of a setup file.
func setupLines(device string, c *serialport.Candidate) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, "    "+format+"\n", args...) }
	b.WriteString("sources:\n  - name: serial                  # as you like\n")
	line("serial: %s", device)
	line("baud: %d", c.Baud)
	line("framing: %s", c.Format.Framing)
	if s := c.Format.Checksum; s != nil {
		if s.Kind == serialport.KindCRC {
			line("checksum: %s", crcWords(&s.CRC))
		} else {
			line("# checksum: in the layout file, packet: {checksum: {kind: %s}}", s.Kind)
		}
	}
	if c.Format.Framing == serialport.SLCAN {
		line("dbc: [FILE.dbc]               # what describes the messages")
	} else {
		line("layout: FILE.layout.yaml      # what describes the packets; a DBC file is as good")
	}
	return b.String()
}

func crcWords(c *serialport.CRC) string {
	words := []string{fmt.Sprintf("width: %d", c.Width), fmt.Sprintf("poly: 0x%X", c.Poly)}
	if c.Init != 0 {
		words = append(words, fmt.Sprintf("init: 0x%X", c.Init))
	}
	if c.ReflectIn {
		words = append(words, "reflect_in: true")
	}
	if c.ReflectOut {
		words = append(words, "reflect_out: true")
	}
	if c.XorOut != 0 {
		words = append(words, fmt.Sprintf("xor_out: 0x%X", c.XorOut))
	}
	return "{" + strings.Join(words, ", ") + "}"
}
