package dbc

import "strings"

// shape says where a statement ends.
type shape uint8

const (
	unknownShape   shape = iota
	lineShape            // with its line
	symbolShape          // NS_: with the last line that is one bare word
	messageShape         // BO_
	signalShape          // SG_
	semicolonShape       // with the semicolon
)

// shapeOf knows the keywords of the format, those that are not needed as well,
// so that only what is really unknown is reported.
func shapeOf(word string) shape {
	switch word {
	case "VERSION", "BS_", "BU_":
		return lineShape
	case "NS_":
		return symbolShape
	case "BO_":
		return messageShape
	case "SG_":
		return signalShape
	case "CM_", "BA_DEF_", "BA_", "VAL_", "BA_DEF_DEF_", "VAL_TABLE_", "SIG_VALTYPE_", "SG_MUL_VAL_",
		"NS_DESC_", "CAT_DEF_", "CAT_", "FILTER", "EV_", "EV_DATA_", "ENVVAR_DATA_",
		"SGTYPE_", "SGTYPE_VAL_", "BA_DEF_SGTYPE_", "BA_SGTYPE_", "SIG_TYPE_REF_", "SIG_GROUP_", "SIGTYPE_VALTYPE_",
		"BO_TX_BU_", "BA_DEF_REL_", "BA_REL_", "BA_DEF_DEF_REL_":
		return semicolonShape
	}
	return unknownShape
}

// statement is one statement of the file: the keyword and what belongs to it,
// without the semicolon.
type statement struct {
	shape  shape
	tokens []token // at least the keyword
	fault  string  // why it cannot be read, at the last token; empty: it may be read
	open   bool    // its semicolon was missing
}

func (s *statement) keyword() string { return s.tokens[0].text }

// splitter takes the statements out of the text. A keyword begins a statement
// only outside of strings; a statement that is broken costs itself, not the next one.
type splitter struct {
	lexer
}

// next returns the next statement; false at the end of the text.
func (s *splitter) next() (statement, bool) {
	t := s.lexer.next()
	for t.is(";") {
		t = s.lexer.next()
	}
	if t.kind == endToken {
		return statement{}, false
	}
	st := statement{tokens: []token{t}}
	if t.kind == wordToken {
		st.shape = shapeOf(t.text)
	}
	switch st.shape {
	case symbolShape:
		s.symbols(&st)
	case messageShape, signalShape:
		s.definition(&st)
	case semicolonShape:
		s.semicolon(&st)
	case lineShape, unknownShape:
		s.toLineEnd(&st)
	}
	return st, true
}

// symbols reads the list of NS_: lines of one bare word, which are keywords too.
func (s *splitter) symbols(st *statement) {
	for {
		back := s.lexer
		t := s.lexer.next()
		switch {
		case t.is(":") && !t.first:
			continue
		case t.kind == wordToken && (!t.first || s.alone()):
			continue
		}
		s.lexer = back
		return
	}
}

// alone reports whether the token just read is the last one on its line.
func (s *splitter) alone() bool {
	look := s.lexer
	t := look.next()
	return t.first || t.kind == endToken
}

// nodes reports whether the token just read is the first of a line that can be a list of nodes.
func (s *splitter) nodes() bool {
	look := s.lexer
	for comma := true; ; comma = !comma {
		t := look.next()
		if t.first || t.kind == endToken {
			return true
		}
		if comma != t.is(",") || !comma && t.kind != wordToken {
			return false
		}
	}
}

// toLineEnd reads to the end of the line. A string that is closed by `";` on a later
// line is read to there.
func (s *splitter) toLineEnd(st *statement) {
	for {
		back := s.lexer
		t := s.lexer.next()
		continued := t.first && st.keyword() == "BU_" && t.kind == wordToken && t.col > 1 && shapeOf(t.text) == unknownShape
		if t.kind == endToken || t.first && !continued {
			s.lexer = back
			return
		}
		if t.is(";") {
			return
		}
		if t.kind == stringToken && t.lines > 0 {
			look := s.lexer
			if end := look.next(); !end.is(";") {
				s.lexer = back
				s.lexer.skipLine()
				return
			}
		}
		st.tokens = append(st.tokens, t)
	}
}

// definition reads BO_ or SG_, which nothing ends but what follows.
func (s *splitter) definition(st *statement) {
	unit := false // the text of SG_ came
	complete := func() bool {
		if st.shape == messageShape {
			return len(st.tokens) >= 5 // BO_ id name : length
		}
		return unit && !st.tokens[len(st.tokens)-1].is(",")
	}
	for {
		back := s.lexer
		t := s.lexer.next()
		if t.kind == endToken || t.kind == wordToken && shapeOf(t.text) != unknownShape {
			s.lexer = back
			return
		}
		if t.is(";") {
			return
		}
		if t.first && !t.is(",") && complete() {
			// The nodes may stand on the next line; a line with more is another statement.
			named := st.tokens[len(st.tokens)-1].kind == wordToken
			if named || t.kind != wordToken || !s.nodes() {
				s.lexer = back
				return
			}
		}
		if t.kind == stringToken && (!t.closed || t.lines > 0) {
			st.tokens = append(st.tokens, t)
			st.fault = "the text that begins here is not closed on its line"
			s.lexer = back
			s.lexer.skip()
			s.lexer.skipLine()
			return
		}
		unit = unit || t.kind == stringToken
		st.tokens = append(st.tokens, t)
	}
}

// semicolon reads to the semicolon. A keyword at the start of a line ends the
// statement as well, except where the statement names an object by keyword.
func (s *splitter) semicolon(st *statement) {
	s.comment = st.keyword() == "CM_"
	defer func() { s.comment = false }()
	for {
		back := s.lexer
		t := s.lexer.next()
		if t.is(";") {
			return
		}
		if t.kind == endToken || t.first && t.kind == wordToken && shapeOf(t.text) != unknownShape && !s.object(st) {
			s.lexer = back
			st.open = true
			return
		}
		if t.kind == stringToken && (!t.closed || !s.comment && t.lines > 0 && holdsKeyword(t.text)) {
			st.fault = "the text that begins here is not closed"
			st.tokens = append(st.tokens, t)
			s.lexer = back
			s.lexer.skip()
			s.lexer.skipLine()
			return
		}
		st.tokens = append(st.tokens, t)
	}
}

// object reports whether the next token of the statement is the keyword of an
// object: CM_ BO_ …, BA_DEF_ BO_ …, BA_ "name" BO_ ….
func (s *splitter) object(st *statement) bool {
	switch st.keyword() {
	case "CM_", "BA_DEF_", "BA_DEF_REL_":
		return len(st.tokens) == 1
	case "BA_", "BA_REL_":
		return len(st.tokens) == 2 && st.tokens[1].kind == stringToken
	}
	return false
}

// holdsKeyword reports whether a line of the text, beyond the first, begins with a keyword.
func holdsKeyword(text string) bool {
	for {
		_, rest, more := strings.Cut(text, "\n")
		if !more {
			return false
		}
		text = rest
		word := strings.TrimLeft(text, " \t\r")
		if n := wordLength(word); n > 0 && shapeOf(word[:n]) != unknownShape {
			return true
		}
	}
}
