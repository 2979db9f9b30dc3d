package dbc

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

type tokenKind uint8

const (
	endToken tokenKind = iota
	wordToken
	numberToken
	stringToken // text without its quotes, escapes resolved
	markToken   // one character
)

// token is one word of the file with its place.
type token struct {
	kind      tokenKind
	text      string
	line, col int  // from 1; the column counts characters
	first     bool // nothing but blanks before it on its line
	closed    bool // of a string: its closing quote was found
	lines     int  // of a string: newlines within
	end       int  // offset after it
}

func (t token) is(mark string) bool { return t.kind == markToken && t.text == mark }

// lexer splits the text into tokens on demand. It is a plain value: a copy is
// a place to come back to.
type lexer struct {
	text      string
	pos       int
	line      int  // from 1
	lineStart int  // offset of the first character of the line
	comment   bool // strings are read as those of a comment statement
	unclosed  bool // no "*/" follows any more
}

func newLexer(text string) lexer { return lexer{text: text, line: 1} }

// skip moves over blanks and comments.
func (l *lexer) skip() {
	for l.pos < len(l.text) {
		rest := l.text[l.pos:]
		switch c := rest[0]; {
		case c == '\n':
			l.pos++
			l.line++
			l.lineStart = l.pos
		case c <= ' ':
			l.pos++
		case strings.HasPrefix(rest, "\u00A0"), strings.HasPrefix(rest, "\uFEFF"):
			l.pos += len(rest) - len(strings.TrimLeft(rest, "\u00A0\uFEFF"))
		case strings.HasPrefix(rest, "//"):
			l.skipLine()
		case strings.HasPrefix(rest, "/*"):
			n := -1
			if !l.unclosed {
				n = strings.Index(rest, "*/")
			}
			if n < 0 {
				l.unclosed = true
				l.skipLine()
				break
			}
			l.advance(l.pos + n + 2)
		default:
			return
		}
	}
}

// skipLine moves to the newline that ends the line.
func (l *lexer) skipLine() {
	if n := strings.IndexByte(l.text[l.pos:], '\n'); n >= 0 {
		l.pos += n
	} else {
		l.pos = len(l.text)
	}
}

// advance moves to the offset, counting lines.
func (l *lexer) advance(to int) int {
	passed := l.text[l.pos:to]
	n := strings.Count(passed, "\n")
	if n > 0 {
		l.line += n
		l.lineStart = l.pos + strings.LastIndexByte(passed, '\n') + 1
	}
	l.pos = to
	return n
}

// next returns the next token. At the end of the text its kind is endToken.
func (l *lexer) next() token {
	l.skip()
	before := l.text[l.lineStart:l.pos]
	t := token{line: l.line, col: utf8.RuneCountInString(before) + 1, first: strings.TrimLeft(before, " \t\r\v\f\u00A0\uFEFF") == ""}
	if l.pos >= len(l.text) {
		t.end = l.pos
		return t
	}
	rest := l.text[l.pos:]
	if rest[0] == '"' {
		l.readString(&t)
		t.end = l.pos
		return t
	}
	if n := numberLength(rest); n > 0 {
		t.kind, t.text = numberToken, rest[:n]
		if rest[0] != '+' && rest[0] != '-' && rest[0] != '.' {
			// A name may begin with a digit in the wild, but 1-3 is a range.
			if w := wordLength(rest); w > n && strings.Trim(rest[:w], "0123456789-") != "" {
				t.kind, t.text = wordToken, rest[:w]
			}
		}
	} else if n := wordLength(rest); n > 0 {
		t.kind, t.text = wordToken, rest[:n]
	} else {
		_, size := utf8.DecodeRuneInString(rest)
		t.kind, t.text = markToken, rest[:size]
	}
	l.pos += len(t.text)
	t.end = l.pos
	return t
}

// numberLength returns the length of the decimal number at the start of text,
// with a sign if it stands directly before a digit; 0 if there is none.
func numberLength(text string) int {
	digits := func(i int) int {
		for i < len(text) && text[i] >= '0' && text[i] <= '9' {
			i++
		}
		return i
	}
	start := 0
	if text[0] == '+' || text[0] == '-' {
		start = 1
	}
	n := digits(start)
	whole := n - start
	if n < len(text) && text[n] == '.' {
		m := digits(n + 1)
		if whole == 0 && m == n+1 {
			return 0
		}
		n = m
	} else if whole == 0 {
		return 0
	}
	if n < len(text) && (text[n] == 'e' || text[n] == 'E') {
		m := n + 1
		if m < len(text) && (text[m] == '+' || text[m] == '-') {
			m++
		}
		if e := digits(m); e > m {
			n = e
		}
	}
	return n
}

// wordLength returns the length of the name at the start of text. Hyphens and
// letters beyond ASCII are not in the standard's grammar, but in files.
func wordLength(text string) int {
	hyphen := false
	for i, r := range text {
		switch {
		case r == '_' || unicode.IsLetter(r) || unicode.IsDigit(r):
			hyphen = false
		case r == '-' && i > 0 && !hyphen:
			hyphen = true
		case hyphen:
			return i - 1
		default:
			return i
		}
	}
	if hyphen {
		return len(text) - 1
	}
	return len(text)
}

// readString reads the string at the current place. A string whose closing
// quote is missing ends with its line.
func (l *lexer) readString(t *token) {
	t.kind = stringToken
	start := l.pos + 1
	end := l.closingQuote(start)
	if end < 0 {
		l.skipLine()
		t.text = strings.TrimRight(l.text[start:max(start, l.pos)], "\r")
		return
	}
	t.closed = true
	t.text = l.text[start:end]
	if strings.Contains(t.text, `\"`) {
		t.text = strings.ReplaceAll(t.text, `\"`, `"`)
	}
	t.lines = l.advance(end + 1)
}

// closingQuote returns the offset of the quote that ends the string which
// begins at start, -1 if there is none. A backslash makes the quote after it a
// part of the text, unless nothing could close the string then: the format does
// not know escapes, and texts that end with a backslash exist. A comment runs
// to the first quote with a semicolon behind it, if there is one in that line:
// people write quotes into comments.
func (l *lexer) closingQuote(start int) int {
	firstEnd := -1
	for i := start; i < len(l.text); {
		n := strings.IndexByte(l.text[i:], '"')
		if n < 0 {
			break
		}
		if firstEnd >= 0 && strings.Contains(l.text[firstEnd:i+n], "\n") {
			break
		}
		i += n
		after := l.text[i+1:]
		ends := strings.HasPrefix(strings.TrimLeft(after[:min(len(after), 64)], " \t\r\n"), ";")
		if i > start && l.text[i-1] == '\\' && !ends {
			line, _, _ := strings.Cut(after[:min(len(after), 4096)], "\n")
			if l.comment || strings.Contains(line, `"`) {
				i++
				continue
			}
		}
		if !l.comment || ends {
			return i
		}
		if firstEnd < 0 {
			firstEnd = i
		}
		i++
	}
	return firstEnd
}
