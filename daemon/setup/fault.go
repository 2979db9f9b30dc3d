package setup

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// maxFaults bounds what one file can be told: who reads the first hundred
// faults mends them before looking at more, and a broken file of a megabyte
// must not become a gigabyte of advice.
const maxFaults = 100

// Fault is one mistake in a setup file.
type Fault struct {
	File   string // as given to Load or Parse
	Line   int    // from 1
	Column int    // from 1, in characters
	Text   string // what is wrong, what was expected, what to write; lower case, no full stop
}

// String returns the fault as "file:line:column: text".
func (f Fault) String() string {
	return fmt.Sprintf("%s:%d:%d: %s", f.File, f.Line, f.Column, f.Text)
}

// Faults are all mistakes of a setup file, in the order of their places. It is
// the error that Load and Parse return where a file can be read but not used.
type Faults []Fault //nolint:errname // a list of faults, called so in what users read

// Error returns one line per fault.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i := range f {
		lines[i] = f[i].String()
	}
	return strings.Join(lines, "\n")
}

// notes collects faults or warnings with their places.
type notes struct {
	file string
	list Faults
	also map[sharedAt]*shared // notes on a default, which concern several corners
	full bool
}

// sharedAt tells notes apart that concern several corners: by place and kind.
type sharedAt struct {
	place
	format string
}

// shared is one note that several corners have in common.
type shared struct {
	index int
	names []string
}

// add notes a mistake at a place.
func (n *notes) add(at place, format string, args ...any) {
	if len(n.list) >= maxFaults {
		n.full = true
		return
	}
	n.list = append(n.list, Fault{n.file, at.line, at.column, fmt.Sprintf(format, args...)})
}

// addOf notes a mistake that a line of the defaults makes for one corner. The
// second corner at the same place is added to the note of the first.
func (n *notes) addOf(at place, name, format string, args ...any) {
	if s, ok := n.also[sharedAt{at, format}]; ok {
		s.names = append(s.names, name)
		return
	}
	if n.also == nil {
		n.also = map[sharedAt]*shared{}
	}
	n.also[sharedAt{at, format}] = &shared{index: len(n.list)}
	n.add(at, format, args...)
}

// sorted returns what was noted in the order of the places.
func (n *notes) sorted() Faults {
	for _, s := range n.also {
		if len(s.names) > 0 && s.index < len(n.list) {
			n.list[s.index].Text += " (so too for " + strings.Join(s.names, ", ") + ")"
		}
	}
	n.also = nil
	out := slices.Clone(n.list)
	slices.SortStableFunc(out, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	if n.full && len(out) > 0 {
		last := out[len(out)-1]
		last.Text = fmt.Sprintf("more than %d faults: the rest is not listed; mend these first", maxFaults)
		out = append(out, last)
	}
	return out
}
