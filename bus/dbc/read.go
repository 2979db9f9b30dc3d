package dbc

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"go.einride.tech/can/pkg/dbc"
)

// fault is what makes a statement unreadable, and where.
type fault struct {
	at     token
	reason string
}

func faultf(at token, format string, a ...any) *fault {
	return &fault{at, fmt.Sprintf(format, a...)}
}

// at returns token i; beyond the last one a token of kind endToken in its place.
func (st *statement) at(i int) token {
	if i < len(st.tokens) {
		return st.tokens[i]
	}
	last := st.tokens[len(st.tokens)-1]
	return token{line: last.line, col: last.col}
}

// pageSwitch reports whether the multiplexer indicator of an SG_ statement is of
// the form m7M: a page of one switch and itself the switch of others.
func (st *statement) pageSwitch() bool {
	t := st.at(2)
	return t.kind == wordToken && len(t.text) > 2 && t.text[0] == 'm' && t.text[len(t.text)-1] == 'M'
}

// read gives the statement to the parser of the einride module, which knows the
// grammar. It sees one statement at a time, one token a line (so that its
// positions lead back to the token), with what it stumbles over replaced:
// names, which it wants to be ASCII words; texts, which are taken from the tokens;
// signs and leading zeros of numbers; identifiers without flag; m7M; nodes.
func (st *statement) read() (dbc.Def, *fault) {
	if st.fault != "" {
		return nil, faultf(st.tokens[len(st.tokens)-1], "%s", st.fault)
	}
	var b strings.Builder
	var from []token
	put := func(t token, text string) {
		b.WriteString(text)
		b.WriteByte('\n')
		from = append(from, t)
	}
	names := 0 // tokens that are names, from the first to this one
	switch st.keyword() {
	case "SG_":
		names = 1
	case "BO_", "SIG_VALTYPE_", "VAL_":
		names = 2
	}
	if st.keyword() == "BA_" {
		// Without a definition the parser would not read the value.
		put(st.tokens[0], `BA_DEF_ BO_ "GenMsgCycleTime" FLOAT 0 0;`)
	}
tokens:
	for i, t := range st.tokens {
		switch {
		case t.kind == wordToken && i == names && i > 0:
			put(t, "name")
		case t.kind == wordToken && i == 2 && st.pageSwitch():
			put(t, strings.TrimSuffix(t.text, "M"))
		case t.kind == stringToken && st.shape == signalShape:
			put(t, `""`)
			put(t, string(dbc.NodePlaceholder))
			break tokens
		case t.kind == stringToken && i == 1 && st.keyword() == "BA_":
			put(t, `"GenMsgCycleTime"`)
		case t.kind == stringToken:
			put(t, `""`)
		case t.kind == numberToken && i == 1 && st.keyword() != "SG_", t.kind == numberToken && i == 3 && st.keyword() == "BA_":
			id, extended, _, fault := st.identifier(i)
			if fault != nil {
				return nil, fault
			}
			if extended {
				id |= extendedFlag
			}
			put(t, strconv.FormatUint(uint64(id), 10))
		case t.kind == numberToken:
			put(t, plainNumber(t.text))
		case t.kind == wordToken && dbc.Identifier(t.text).Validate() != nil:
			return nil, faultf(t, "unexpected %.40q", t.text) // the parser would see several tokens
		default:
			put(t, t.text)
		}
		if i == 4 && st.shape == messageShape {
			put(t, string(dbc.NodePlaceholder))
			break
		}
	}
	if st.shape == semicolonShape {
		put(st.at(len(st.tokens)), ";")
	}
	parser := dbc.NewParser("", []byte(b.String()))
	if err := parser.Parse(); err != nil {
		reason, line := err.Reason(), err.Position().Line
		if wanted, ok := strings.CutPrefix(reason, "expected token: "); ok {
			wanted, _, _ = strings.Cut(wanted, ", found: ")
			reason = "expected " + wanted
			line-- // the parser names the place after the token
		} else if reason == "expected int or float" {
			line--
		}
		if line < 1 || line > len(from) {
			return nil, faultf(st.at(len(st.tokens)), "%s at the end", reason)
		}
		return nil, faultf(from[line-1], "%s at %.40q", reason, from[line-1].text)
	}
	wanted := 1
	if st.keyword() == "BA_" {
		wanted = 2
	}
	defs := parser.Defs()
	if len(defs) != wanted {
		return nil, faultf(st.tokens[0], "it is more than one statement")
	}
	return defs[wanted-1], nil
}

// plainNumber drops a plus sign and leading zeros, which would make a number octal.
func plainNumber(text string) string {
	sign := ""
	switch text[0] {
	case '+':
		text = text[1:]
	case '-':
		sign, text = "-", text[1:]
	}
	for len(text) > 1 && text[0] == '0' && text[1] >= '0' && text[1] <= '9' {
		text = text[1:]
	}
	return sign + text
}

// repairRange puts [0|0] in the place of a range that is not two finite numbers
// (1.#INF, 1.7E400): nothing depends on it. It reports whether it did.
func (st *statement) repairRange() bool {
	from, to := -1, -1
	for i, t := range st.tokens {
		if t.is("[") && from < 0 {
			from = i
		}
		if t.is("]") && to < 0 {
			to = i
		}
	}
	if from < 0 || to < from {
		return false
	}
	inner := st.tokens[from+1 : to]
	if len(inner) == 3 && finite(inner[0]) && inner[1].is("|") && finite(inner[2]) {
		return false
	}
	zero, bar := st.tokens[from], st.tokens[from]
	zero.kind, zero.text, bar.text = numberToken, "0", "|"
	st.tokens = slices.Concat(st.tokens[:from+1], []token{zero, bar, zero}, st.tokens[to:])
	return true
}

func finite(t token) bool {
	_, err := strconv.ParseFloat(t.text, 64)
	return t.kind == numberToken && err == nil
}
