package main

import (
	"errors"
	"io"
	"os"
	"slices"
	"strings"

	"golang.org/x/term"

	"plumbline/daemon/report"
)

// global holds what all commands share: the streams and how text is to look.
type global struct {
	streams
	colour choice
}

const (
	colourAuto   = "auto"
	colourAlways = "always"
	colourNever  = "never"
)

// choice is the value of --color; the zero value is auto.
type choice struct{ word string }

// String returns the word.
func (c *choice) String() string {
	if c.word == "" {
		return colourAuto
	}
	return c.word
}

// Set takes one of the words.
func (c *choice) Set(word string) error {
	if !slices.Contains([]string{colourAuto, colourAlways, colourNever}, word) {
		return errors.New("expected auto, always or never")
	}
	c.word = word
	return nil
}

// Type is shown in the help.
func (c *choice) Type() string { return "WHEN" }

// style says how text to w is to look.
func (g *global) style(w io.Writer) report.Style {
	s := report.Style{Width: columns(w)}
	switch g.colour.String() {
	case colourAlways:
		s.Colour = true
	case colourAuto:
		s.Colour = isTerminal(w) && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
	}
	s.ASCII = isTerminal(w) && !utf8Locale(os.Getenv)
	return s
}

// isTerminal reports whether w is a terminal.
func isTerminal(w any) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// columns is how wide text is set: as the terminal, at most 100, which is what
// everything else gets.
func columns(w io.Writer) int {
	const most = 100
	if f, ok := w.(*os.File); ok {
		if width, _, err := term.GetSize(int(f.Fd())); err == nil && width > 0 {
			return min(width, most)
		}
	}
	return most
}

// utf8Locale reports whether the environment asks for UTF-8; the first of the
// variables that is set decides (POSIX, 8.2). None at all is taken as UTF-8.
func utf8Locale(getenv func(string) string) bool {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if value := getenv(name); value != "" {
			value = strings.ToLower(value)
			return strings.Contains(value, "utf-8") || strings.Contains(value, "utf8")
		}
	}
	return true
}
