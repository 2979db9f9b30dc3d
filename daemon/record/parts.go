package record

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// A part is called NAME-20260131T101112Z-000001.pcapng: when its session began,
// UTC, and its number in it. The names sort as the parts follow on each other.
const stampLayout = "20060102T150405Z"

var partPattern = regexp.MustCompile(`^(.+)-(\d{8}T\d{6}Z)-(\d{6,})\.pcapng(\.zst)?$`)

// partName is the name of a part, taken apart.
type partName struct {
	base    string // the file's name
	name    string
	session string // name and stamp
	stamp   string
	number  int
}

func parsePart(base string) (partName, bool) {
	m := partPattern.FindStringSubmatch(base)
	if m == nil {
		return partName{}, false
	}
	number, err := strconv.Atoi(m[3])
	if err != nil {
		return partName{}, false
	}
	return partName{base, m[1], m[1] + "-" + m[2], m[2], number}, true
}

// comparePart orders by name, session and number.
func comparePart(a, b partName) int {
	return cmp.Or(cmp.Compare(a.session, b.session), cmp.Compare(a.number, b.number), cmp.Compare(a.base, b.base))
}

// sessionName returns the name of a session that began at a time.
func sessionName(name string, at time.Time) string {
	return name + "-" + at.UTC().Format(stampLayout)
}

// Session is one run of a recorder, or what is left of it.
type Session struct {
	Name  string   // name and start: "plumbline-20260131T101112Z"
	Parts []string // paths, in order
}

// Sessions returns the sessions recorded in a folder, by name and start. Before each stands what is left of parts
// that are gone: each cut-out around failures as a session of its own, or two that belong together as
// one. A cut-out of a part that is still there is passed over, and so are files that are not called like a part.
func Sessions(dir string) ([]Session, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("record: %w", err)
	}
	var parts []partName
	var cuts []cutName
	for _, e := range entries {
		if p, ok := parsePart(e.Name()); ok && e.Type().IsRegular() {
			parts = append(parts, p)
		} else if c, ok := parseCut(e.Name()); ok && e.Type().IsRegular() {
			cuts = append(cuts, c)
		}
	}
	slices.SortFunc(parts, comparePart)
	list := cutSessions(dir, cuts, parts)
	for _, p := range parts {
		if k := len(list); k == 0 || list[k-1].Name != p.session {
			list = append(list, Session{Name: p.session})
		}
		last := &list[len(list)-1]
		last.Parts = append(last.Parts, filepath.Join(dir, p.base))
	}
	slices.SortStableFunc(list, func(a, b Session) int { return cmp.Compare(a.start(), b.start()) })
	return list, nil
}

// start is the name of the session that it is, or was cut out of.
func (s *Session) start() string {
	if p, ok := parseCut(filepath.Base(s.Parts[0])); ok {
		return p.part.session
	}
	return s.Name
}

// cutSessions makes sessions of the cut-outs whose part is gone.
func cutSessions(dir string, cuts []cutName, parts []partName) []Session {
	slices.SortFunc(cuts, func(a, b cutName) int { return cmp.Or(comparePart(a.part, b.part), cmp.Compare(a.base, b.base)) })
	var list []Session
	var last cutName
	for _, c := range cuts {
		if slices.ContainsFunc(parts, func(p partName) bool { return p.session == c.part.session && p.number == c.part.number }) {
			continue
		}
		path := filepath.Join(dir, c.base)
		if last.more && last.part.session == c.part.session && last.part.number+1 == c.part.number {
			s := &list[len(list)-1]
			s.Parts = append(s.Parts, path)
		} else {
			name, _, _ := strings.Cut(c.base, ".pcapng")
			list = append(list, Session{Name: strings.TrimSuffix(name, "-more"), Parts: []string{path}})
		}
		last = c
	}
	return list
}

// Parts returns the paths of all parts in a folder, session after session.
func Parts(dir string) ([]string, error) {
	sessions, err := Sessions(dir)
	if err != nil {
		return nil, err
	}
	var list []string
	for _, s := range sessions {
		list = append(list, s.Parts...)
	}
	return list, nil
}

// SessionOf returns the name of the session that a file is a part of, by its name alone.
func SessionOf(base string) (session string, ok bool) {
	p, ok := parsePart(base)
	return p.session, ok
}

// SortParts puts the paths of parts of one session in the order in which they follow on each other.
func SortParts(paths []string) {
	slices.SortFunc(paths, func(a, b string) int {
		x, _ := parsePart(filepath.Base(a))
		y, _ := parsePart(filepath.Base(b))
		return comparePart(x, y)
	})
}
