package web

import (
	"cmp"
	"slices"
	"strings"
	"unicode"

	"plumbline/checks"
)

// mark is the state of something: a class, which gives shape and colour, and a word.
type mark struct {
	State string // pass, fail, open, absent or none
	Word  string
}

// Size is a class that says how much room the word needs.
func (m mark) Size() string { return wordSize(m.Word) }

// wordSize is a class that says how much room a bold word needs, from s to l; x needs all there is.
func wordSize(word string) string {
	switch w := wide(word); {
	case w <= 3:
		return "w-s"
	case w <= 3.25:
		return "w-m"
	case w <= 4:
		return "w-l"
	}
	return "w-x"
}

// wide is about how wide a bold word is, em.
func wide(word string) float64 {
	em := 0.0
	for _, r := range word {
		switch {
		case strings.ContainsRune("fijlrtIJ ", r):
			em += 0.42
		case strings.ContainsRune("mwMW", r):
			em += 1.05
		case unicode.IsUpper(r):
			em += 0.8
		default:
			em += 0.7
		}
	}
	return em
}

func (c *composer) mark(state string) mark { return mark{state, c.t("state." + state)} }

// verdict is the mark of one finding.
func (c *composer) verdict(v checks.Verdict) mark {
	switch v {
	case checks.Pass:
		return c.mark("pass")
	case checks.Fail:
		return c.mark("fail")
	case checks.Absent:
		return c.mark("absent")
	case checks.Inconclusive:
	}
	return c.mark("open")
}

// vehicleMap is the vehicle from above, front at the top.
type vehicleMap struct {
	Axles  []axle
	Others []other
}

// axle is the wheels of one axle, outermost first on the left and last on the right.
type axle struct {
	Number      int
	Left, Right []tile
}

// tile is one corner.
type tile struct {
	Name, Href string
	Mark       mark
	Groups     []groupMark
	Hang       string // word
	Forward    *progress
	Back       *progress
	Turning    bool
}

// Fit is a class that says whether the name leaves room beside it.
func (t *tile) Fit() string {
	switch w := wide(t.Name); {
	case w <= 1.7:
		return "n-short"
	case w <= 4:
		return "n-middle"
	}
	return "n-long"
}

// groupMark is the state of one group of checks.
type groupMark struct {
	Label string
	Mark  mark
}

// other is a subject that is no corner.
type other struct {
	Name string
	Mark mark
	Href string // empty: it has no page
}

func (c *composer) vehicle() vehicleMap {
	var out vehicleMap
	setup := &c.m.snapshot.Setup.Checks
	order := make([]int, len(setup.Corners))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(setup.Corners[a].Axle, setup.Corners[b].Axle) })
	corners := map[string]bool{}
	for _, i := range order {
		k := &setup.Corners[i]
		corners[k.Name] = true
		if n := len(out.Axles); n == 0 || out.Axles[n-1].Number != k.Axle {
			out.Axles = append(out.Axles, axle{Number: k.Axle})
		}
		a := &out.Axles[len(out.Axles)-1]
		if k.Side == checks.Right {
			a.Right = append(a.Right, c.tile(i))
		} else {
			a.Left = append(a.Left, c.tile(i))
		}
	}
	for i := range c.m.result.Findings {
		name := c.m.result.Findings[i].Subject
		if corners[name] {
			continue
		}
		corners[name] = true
		m := c.state(name)
		if m.State == "absent" {
			continue // there is nothing that could be judged
		}
		label := name
		if name == "vehicle" {
			label = c.t("vehicle")
		}
		o := other{Name: label, Mark: m}
		if opticOf(c.m, name) >= 0 {
			o.Href = opticPath(name) + c.query
		}
		out.Others = append(out.Others, o)
	}
	return out
}

func (c *composer) tile(i int) tile {
	k := &c.m.snapshot.Setup.Checks.Corners[i]
	now := &c.m.snapshot.Now.Corners[i]
	t := tile{Name: k.Name, Href: cornerPath(k.Name) + c.query, Mark: c.cornerState(i), Hang: c.hang(now.Hang)}
	for _, g := range []checks.Group{checks.Connection, checks.ZeroGroup, checks.AngleGroup} {
		t.Groups = append(t.Groups, groupMark{c.t("group." + string(g)), c.cornerState(i, g)})
	}
	if now.Hang == checks.Lifted || now.Forward > 0 || now.Back > 0 {
		t.Forward, t.Back = c.turns(now.Forward), c.turns(now.Back)
		t.Turning = now.Turning && now.Hang == checks.Lifted
	}
	return t
}

func (c *composer) hang(h checks.Hang) string {
	switch h {
	case checks.Lifted:
		return c.t("hang.lifted")
	case checks.Loaded:
		return c.t("hang.loaded")
	case checks.Unknown:
	}
	return c.t("hang.unknown")
}

// cornerState is the state of a corner in some groups of checks, or in all. Where nothing has come from it
// nothing is known, whatever has not failed.
func (c *composer) cornerState(i int, groups ...checks.Group) mark {
	k := &c.m.snapshot.Setup.Checks.Corners[i]
	m := c.state(k.Name, groups...)
	for _, ch := range k.Channels {
		if ch != checks.None && c.m.snapshot.Now.Channels[ch].Known {
			return m
		}
	}
	if m.State == "fail" {
		return m
	}
	return c.mark("none")
}

// state is the state of a subject: failed where anything has, open where something is that is required,
// passed where something has. What was never asked is no state that looks good.
func (c *composer) state(subject string, groups ...checks.Group) mark {
	group := groupsOf()
	open, pass, absent := false, false, false
	for i := range c.m.result.Findings {
		f := &c.m.result.Findings[i]
		if f.Subject != subject || len(groups) > 0 && !slices.Contains(groups, group[f.Check]) {
			continue
		}
		switch f.Verdict {
		case checks.Fail:
			return c.mark("fail")
		case checks.Inconclusive:
			open = open || f.Required
		case checks.Pass:
			pass = true
		case checks.Absent:
			absent = true
		}
	}
	switch {
	case c.m.state == nothing:
		return c.mark("none")
	case open:
		return c.mark("open")
	case pass:
		return c.mark("pass")
	case absent:
		return c.mark("absent")
	}
	return c.mark("open")
}

// groupsOf returns the group of each check.
func groupsOf() map[string]checks.Group {
	out := map[string]checks.Group{}
	for _, c := range checks.All() {
		out[c.Name] = c.Group
	}
	return out
}
