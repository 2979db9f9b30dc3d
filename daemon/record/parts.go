package record

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
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

// Sessions returns the sessions recorded in a folder, by name and start. Files
// that are not called like a part are passed over.
func Sessions(dir string) ([]Session, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("record: %w", err)
	}
	var parts []partName
	for _, e := range entries {
		if p, ok := parsePart(e.Name()); ok && e.Type().IsRegular() {
			parts = append(parts, p)
		}
	}
	slices.SortFunc(parts, comparePart)
	var list []Session
	for _, p := range parts {
		if k := len(list); k == 0 || list[k-1].Name != p.session {
			list = append(list, Session{Name: p.session})
		}
		last := &list[len(list)-1]
		last.Parts = append(last.Parts, filepath.Join(dir, p.base))
	}
	return list, nil
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
