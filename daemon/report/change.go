package report

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"plumbline/checks"
	"plumbline/daemon"
)

// Change writes one line for a verdict that moved seconds after the start, such as
//
//	12.3 s  FL  zero  inconclusive → pass  all six components are near zero
//
// subject and check are padded to so many columns.
func Change(w io.Writer, seconds float64, c *daemon.Change, subject, check int, style Style) error {
	var out strings.Builder
	fmt.Fprintf(&out, "%7.1f s  ", seconds)
	column := utf8.RuneCountInString(out.String())
	pad := func(text string, width int) {
		text = style.plain(printable(text))
		out.WriteString(text)
		n := utf8.RuneCountInString(text)
		blanks(&out, max(width-n, 0)+2)
		column += max(width, n) + 2
	}
	pad(c.Subject, subject)
	pad(c.Check, check)
	move := style.plain(c.From.String() + " → ")
	to := c.To.String()
	out.WriteString(move)
	out.WriteString(style.paint(to, c.To))
	n := utf8.RuneCountInString(move) + len(to)
	const widest = len("inconclusive > absent")
	blanks(&out, max(widest-n, 0)+2)
	column += max(widest, n) + 2
	sentence := style.plain(printable(c.Sentence))
	if room := style.width() - column; c.To != checks.Fail && utf8.RuneCountInString(sentence) > room {
		sentence = cut(sentence, room, style.plain("…"))
	}
	return writeLine(w, out.String()+sentence)
}

// Phase writes one line for what is being done with the vehicle.
func Phase(w io.Writer, seconds float64, what string, style Style) error {
	return writeLine(w, fmt.Sprintf("%7.1f s  %s", seconds, style.bold(style.plain(printable(what)))))
}

func writeLine(w io.Writer, line string) error {
	if _, err := io.WriteString(w, strings.TrimRight(line, " ")+"\n"); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// cut shortens text to width columns; more stands where something is missing.
func cut(text string, width int, more string) string {
	keep := max(width-utf8.RuneCountInString(more), 0)
	runes := []rune(text)
	return strings.TrimRight(string(runes[:min(keep, len(runes))]), " ,;:") + more
}
