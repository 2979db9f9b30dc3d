package daemon

import (
	"fmt"
	"slices"
	"strings"

	"plumbline/daemon/setup"
)

// match finds for each interface of a capture the source of the setup that it is.
type match struct {
	file    string
	sources []setup.Source
	strict  bool // take no interface for a source that names another

	names   []string // of the capture, as far as known
	to      []int    // by name: index into sources; -1: no source wants it
	left    []uint64 // by name: frames that no source wanted
	matched bool     // a source wanted one by its name
	adopted int      // index into names of the one that was taken without being named; -1: none
}

func newMatch(file string, sources []setup.Source, strict bool) match {
	return match{file: file, sources: sources, strict: strict, adopted: -1}
}

// meet takes the names that the capture knows by now. It reports false when an
// interface was taken for a source that names another and it turns out now that
// the capture has more than this one.
func (m *match) meet(names []string) bool {
	from := len(m.names)
	if len(names) <= from {
		return true
	}
	for _, name := range names[from:] {
		to := slices.IndexFunc(m.sources, func(s setup.Source) bool { return wants(&s, name) })
		m.names = append(m.names, name)
		m.to = append(m.to, to)
		m.left = append(m.left, 0)
		m.matched = m.matched || to >= 0
	}
	if m.adopted >= 0 {
		return false
	}
	if can := m.onlyCAN(); !m.matched && !m.strict && len(m.names) == 1 && can >= 0 {
		m.adopted = 0
		m.to[0] = can
	}
	return true
}

// wants reports whether a source is heard on the interface of that name.
func wants(s *setup.Source, name string) bool { return wanted(s) == name }

// wanted is the interface that a source is heard on in a capture.
func wanted(s *setup.Source) string {
	if s.Match != "" {
		return s.Match
	}
	switch s.Kind {
	case setup.CAN:
		return s.Interface
	case setup.Serial:
	}
	return s.Name
}

// onlyCAN returns the index of the setup's CAN source, -1 unless there is exactly one.
func (m *match) onlyCAN() int {
	only := -1
	for i := range m.sources {
		if m.sources[i].Kind != setup.CAN {
			continue
		}
		if only >= 0 {
			return -1
		}
		only = i
	}
	return only
}

// warnings says what was taken and what was left out.
func (m *match) warnings() []string {
	var out []string
	if m.adopted >= 0 {
		s := &m.sources[m.to[m.adopted]]
		out = append(out, fmt.Sprintf("%s speaks of %s, the setup of %s: taken as %s; write match: %s",
			m.file, m.names[m.adopted], wanted(s), s.Name, m.names[m.adopted]))
	}
	for i, n := range m.left {
		if n > 0 {
			out = append(out, fmt.Sprintf("%s: %s of %s, which no source of the setup names, left out", m.file, frames(n), m.names[i]))
		}
	}
	return out
}

// unusable says why none of the frames could be used; empty where some could.
func (m *match) unusable() string {
	if m.matched || m.adopted >= 0 || len(m.names) == 0 {
		return ""
	}
	var of, write []string
	for i := range m.sources {
		s := &m.sources[i]
		of = append(of, fmt.Sprintf("%s (%s)", wanted(s), s.Name))
	}
	for _, name := range m.names {
		write = append(write, "match: "+name)
	}
	const most = 8 // a capture of a hundred interfaces is told in one line as well
	if len(write) > most {
		write = append(write[:most], "…")
	}
	return fmt.Sprintf("%s speaks of %s, the setup of %s: write %s under the source that it is",
		m.file, list(m.names, most), strings.Join(of, ", "), strings.Join(write, " or "))
}

func list(names []string, most int) string {
	if len(names) > most {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), len(names)-most)
	}
	return strings.Join(names, ", ")
}

func frames(n uint64) string {
	if n == 1 {
		return "1 frame"
	}
	return fmt.Sprintf("%d frames", n)
}
