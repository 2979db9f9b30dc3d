package setup

import (
	"slices"
	"strings"

	"plumbline/bus/dbc"
	"plumbline/checks"
)

// plan is a first setup as it is guessed from DBC files.
type plan struct {
	sources []plannedSource
	corners []plannedCorner
	optics  []plannedOptic
	certain bool     // names tell axle and side of each corner
	single  bool     // no name tells corners apart: all is one wheel
	unused  []string // signals with a unit that nothing was made of
}

type plannedSource struct {
	name  string
	paths []string
	files []*dbc.File
}

type plannedCorner struct {
	name     string
	axle     int
	side     checks.Side
	channels [checks.Quantities]plannedChannel
}

type plannedOptic struct {
	name     string
	kind     checks.OpticKind
	corner   string // empty: none told
	channels [checks.Quantities]plannedChannel
}

// plannedChannel is a signal with what made it likely.
type plannedChannel struct {
	text    string // as the setup writes it; empty: none
	pattern string // the same with {corner}
	guess   guess
	others  []string // signals that are as likely
}

// offer takes a signal for a quantity where it is the better guess.
func (c *plannedChannel) offer(o plannedChannel) {
	switch {
	case c.text == "" || o.guess.score > c.guess.score:
		*c = o
	case o.guess.score == c.guess.score:
		c.others = append(c.others, o.text)
	}
}

// guessPlan reads the names of all messages and signals.
func guessPlan(paths []string, files []*dbc.File) *plan {
	p := &plan{sources: planSources(paths, files), certain: true}
	find := p.cornerFinder()
	for _, s := range p.sources {
		for _, f := range s.files {
			for i := range f.Messages {
				if m := &f.Messages[i]; usable(m.Name) {
					p.message(s.name, m, find)
				}
			}
		}
	}
	slices.SortStableFunc(p.corners, func(a, b plannedCorner) int {
		if a.axle != b.axle {
			return a.axle - b.axle
		}
		return int(a.side) - int(b.side)
	})
	p.uniqueNames()
	return p
}

// usable reports whether a name can stand in the text of a channel.
func usable(name string) bool { return name != "" && !strings.ContainsAny(name, ".:{} \t") }

// planSources puts all files on one bus, or each on its own where they
// describe messages of one name or identifier.
func planSources(paths []string, files []*dbc.File) []plannedSource {
	type identifier struct {
		id       uint32
		extended bool
	}
	names, ids := map[string]int{}, map[identifier]int{}
	apart := false
	for i, f := range files {
		for j := range f.Messages {
			m := &f.Messages[j]
			id := identifier{m.ID, m.Extended}
			if other, ok := names[m.Name]; ok && other != i {
				apart = true
			}
			if other, ok := ids[id]; ok && other != i {
				apart = true
			}
			names[m.Name], ids[id] = i, i
		}
	}
	if !apart {
		return []plannedSource{{name: "bus", paths: paths, files: files}}
	}
	out := make([]plannedSource, len(files))
	for i := range files {
		out[i] = plannedSource{name: "bus " + string(rune('A'+i%26)) + strings.Repeat("'", i/26), paths: paths[i : i+1], files: files[i : i+1]}
	}
	return out
}

// message looks at each signal of a message.
func (p *plan) message(source string, m *dbc.Message, find finder) {
	dimensions := make([]string, len(m.Signals))
	var heights, speeds bool
	for i := range m.Signals {
		if c, ok := dbc.Unit(m.Signals[i].Unit); ok {
			dimensions[i] = c.Dimension
		}
		heights = heights || dimensions[i] == "length"
		speeds = speeds || dimensions[i] == "speed"
	}
	var optic *plannedOptic
	prefix := ""
	if p.named(m.Name) > 1 {
		prefix = source + ":"
	}
	for i := range m.Signals {
		s := &m.Signals[i]
		if s.Switch || !usable(s.Name) || m.Find(s.Name) != i {
			continue
		}
		g, ok := recognise(s.Name, dimensions[i])
		if ok && g.quantity == checks.Angle && heights { // an angle beside heights is theirs
			g.quantity = checks.Camber
		}
		if ok && g.quantity == checks.Angle && speeds {
			g.quantity = checks.Slip
		}
		c := plannedChannel{text: prefix + m.Name + "." + s.Name, guess: g}
		name, at, inMessage := find(m.Name)
		inSignal := false
		if !inMessage {
			name, at, inSignal = find(s.Name)
		}
		switch {
		case !ok:
			if dimensions[i] != "number" && dimensions[i] != "" {
				p.unused = append(p.unused, c.text)
			}
		case g.quantity >= checks.HeightOuter:
			if optic == nil {
				p.optics = append(p.optics, plannedOptic{name: m.Name, kind: checks.CamberBar, corner: name})
				optic = &p.optics[len(p.optics)-1]
				if speeds && !heights {
					optic.kind = checks.GroundSpeed
				}
			}
			if (g.quantity <= checks.Camber) == (optic.kind == checks.CamberBar) {
				optic.channels[g.quantity].offer(c)
			} else {
				p.unused = append(p.unused, c.text)
			}
		case inMessage:
			signal := s.Name
			if again, at, ok := find(s.Name); ok && again == name { // it stands in both
				signal = at.replace(s.Name)
			}
			c.pattern = prefix + at.replace(m.Name) + "." + signal
			p.corner(name, at).channels[g.quantity].offer(c)
		case inSignal:
			c.pattern = prefix + m.Name + "." + at.replace(s.Name)
			p.corner(name, at).channels[g.quantity].offer(c)
		case p.single:
			p.corner("W1", mark{axle: 1}).channels[g.quantity].offer(c)
		default:
			p.unused = append(p.unused, c.text)
		}
	}
}

// named counts the messages of a name.
func (p *plan) named(name string) int {
	n := 0
	for _, s := range p.sources {
		for _, f := range s.files {
			for i := range f.Messages {
				if f.Messages[i].Name == name {
					n++
				}
			}
		}
	}
	return n
}

// corner returns the corner at a place of the vehicle, made where it is new.
// Another spelling of a known place is the same corner.
func (p *plan) corner(name string, at mark) *plannedCorner {
	for i := range p.corners {
		c := &p.corners[i]
		if c.name == name || p.certain && c.axle == at.axle && c.side == at.side {
			return c
		}
	}
	p.corners = append(p.corners, plannedCorner{name: name, axle: max(1, at.axle), side: at.side})
	return &p.corners[len(p.corners)-1]
}

// uniqueNames makes all names differ, as results need them.
func (p *plan) uniqueNames() {
	taken := map[string]bool{"vehicle": true}
	unique := func(name, what string) string {
		for n := name; ; n += " " + what {
			if !taken[n] {
				taken[n] = true
				return n
			}
		}
	}
	for i := range p.sources {
		taken[p.sources[i].name] = true
	}
	for i := range p.corners {
		c := &p.corners[i]
		old := c.name
		c.name = unique(old, "wheel")
		for q := range c.channels {
			if c.name != old {
				c.channels[q].pattern = ""
			}
		}
	}
	for i := range p.optics {
		p.optics[i].name = unique(p.optics[i].name, "sensor")
		if p.optics[i].corner != "" && !slices.ContainsFunc(p.corners, func(c plannedCorner) bool { return c.name == p.optics[i].corner }) {
			p.optics[i].corner = ""
		}
	}
}

// shared returns the pattern of a quantity that gives each corner its own
// signal; empty where there is none.
func (p *plan) shared(q checks.Quantity) string {
	if len(p.corners) == 0 {
		return ""
	}
	pattern := p.corners[0].channels[q].pattern
	for i := range p.corners {
		c := &p.corners[i]
		if c.channels[q].pattern != pattern || strings.ReplaceAll(pattern, "{corner}", c.name) != c.channels[q].text {
			return ""
		}
	}
	return pattern
}
