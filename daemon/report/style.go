package report

import (
	"strings"

	"plumbline/checks"
)

// Style says how text is to look. The zero value is plain UTF-8, 100 columns wide.
type Style struct {
	Colour bool // with ANSI colours; a state never depends on colour alone
	ASCII  bool // for terminals without UTF-8: own signs and units in ASCII, the user's own words as they are
	Width  int  // columns, at least 40; 0: 100
}

const (
	defaultWidth = 100
	leastWidth   = 40
)

func (s Style) width() int {
	if s.Width == 0 {
		return defaultWidth
	}
	return max(s.Width, leastWidth)
}

// sign returns shape and word of a state.
func sign(v checks.Verdict) string {
	switch v {
	case checks.Pass:
		return "✓ pass"
	case checks.Fail:
		return "✗ FAIL"
	case checks.Absent:
		return "– absent"
	case checks.Inconclusive:
	}
	return "… open"
}

// shape returns the shape of a state alone.
func shape(v checks.Verdict) string {
	s, _, _ := strings.Cut(sign(v), " ")
	return s
}

// paint colours text for a state: IEC 60073's sense of colours, red act now,
// yellow abnormal, green normal, grey neutral.
func (s Style) paint(text string, v checks.Verdict) string {
	if !s.Colour || text == "" {
		return text
	}
	code := "33"
	switch v {
	case checks.Pass:
		code = "32"
	case checks.Fail:
		code = "1;31"
	case checks.Absent:
		code = "90"
	case checks.Inconclusive:
	}
	return "\x1b[" + code + "m" + text + "\x1b[0m"
}

// bold marks a heading.
func (s Style) bold(text string) string {
	if !s.Colour {
		return text
	}
	return "\x1b[1m" + text + "\x1b[0m"
}

// plain replaces the signs that this package and the checks use by ASCII.
func (s Style) plain(text string) string {
	if !s.ASCII {
		return text
	}
	return strings.NewReplacer(
		"✓", "+", "✗", "x", "▲", "^", "…", "...", "–", "-", "→", "->", "±", "+/-", "°", "deg", "·", ".", "≤", "<=", "≥", ">=",
		"−", "-", "×", "x", "÷", "/", "☐", "[ ]", "ε", "eps", "δ", "delta", "θ", "theta", "τ", "tau", "ω", "omega", "μ", "u", "|", "|",
	).Replace(text)
}

// printable keeps text from outside on its line: control characters, which could
// also steer a terminal, become blanks.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7f && r < 0xa0 || r == '\u2028' || r == '\u2029' {
			return ' '
		}
		return r
	}, text)
}
