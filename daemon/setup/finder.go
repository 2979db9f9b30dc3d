package setup

import (
	"slices"
	"strings"

	"plumbline/bus/dbc"
	"plumbline/checks"
)

// finder finds the corner in a name: its spelling, and where it stands.
type finder func(name string) (spelled string, at mark, ok bool)

// cornerFinder returns the way to find corners in these files: by words that
// usually mean one, else by what differs between messages that are built alike.
func (p *plan) cornerFinder() finder {
	usual := func(name string) (string, mark, bool) {
		for _, m := range marks(name) {
			return name[m.start:m.end], m, true
		}
		return "", mark{}, false
	}
	alike := map[string][]string{} // messages by their signals
	wheels := map[string]bool{}    // some signal belongs to a wheel
	var order []string
	for _, s := range p.sources {
		for _, f := range s.files {
			for i := range f.Messages {
				m := &f.Messages[i]
				if _, _, ok := usual(m.Name); ok {
					return usual
				}
				for j := range m.Signals {
					if _, _, ok := usual(m.Signals[j].Name); ok && forceOrAngle(&m.Signals[j]) {
						return usual
					}
				}
				key := strings.Join(signalNames(m), " ")
				wheels[key] = wheels[key] || slices.ContainsFunc(m.Signals, func(s dbc.Signal) bool { return forceOrAngle(&s) })
				if alike[key] == nil {
					order = append(order, key)
				}
				if !slices.Contains(alike[key], m.Name) {
					alike[key] = append(alike[key], m.Name)
				}
			}
		}
	}
	parts := map[string]mark{} // by message
	numbered := map[string]mark{}
	for _, key := range order {
		names := alike[key]
		if len(names) < 2 || !wheels[key] {
			continue
		}
		before, after := common(names)
		if start, ok := telling(names, before, after); ok {
			for _, name := range names {
				m := marks(name[start : len(name)-after])[0]
				m.start, m.end = start, len(name)-after
				parts[name] = m
			}
			continue
		}
		p.certain = false
		for _, name := range names {
			part := name[before : len(name)-after]
			m, ok := numbered[part]
			if !ok {
				n := len(numbered)
				m = mark{axle: 1 + n/2, side: checks.Side(n % 2)}
				numbered[part] = m
			}
			m.start, m.end = before, len(name)-after
			parts[name] = m
		}
	}
	if len(parts) == 0 {
		p.single, p.certain = true, false
	}
	return func(name string) (string, mark, bool) {
		m, ok := parts[name]
		return name[m.start:m.end], m, ok
	}
}

// telling looks whether what differs between names is a usual word for a
// corner, perhaps with the letter before it: of XDFL and XDFR, L and R alone
// do not tell the axle, FL and FR do. It returns where the words begin.
func telling(names []string, before, after int) (start int, ok bool) {
	for start = before; start >= max(0, before-1); start-- {
		if !slices.ContainsFunc(names, func(name string) bool {
			part := name[start : len(name)-after]
			found := marks(part)
			return len(found) != 1 || found[0].end-found[0].start != len(part)
		}) {
			return start, true
		}
	}
	return 0, false
}

// forceOrAngle reports whether a signal belongs to a wheel by its unit.
func forceOrAngle(s *dbc.Signal) bool {
	c, ok := dbc.Unit(s.Unit)
	return ok && slices.Contains([]string{"force", "moment", "angle", "rotation"}, c.Dimension)
}

// common returns how many bytes all names begin and end with alike. The rest
// of no name is empty.
func common(names []string) (before, after int) {
	shortest := slices.MinFunc(names, func(a, b string) int { return len(a) - len(b) })
	all := func(same func(name string) bool) bool {
		return !slices.ContainsFunc(names, func(name string) bool { return !same(name) })
	}
	for before < len(shortest)-1 && all(func(n string) bool { return n[before] == shortest[before] }) {
		before++
	}
	for after < len(shortest)-before-1 && all(func(n string) bool { return n[len(n)-1-after] == shortest[len(shortest)-1-after] }) {
		after++
	}
	return before, after
}
