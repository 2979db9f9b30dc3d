package report

import (
	"slices"

	"plumbline/checks"
	"plumbline/daemon"
)

// groupOf returns the group of a check, which is a column of the overview. A
// check that this program does not know (a result of a newer one) is in other.
func groupOf(all []checks.Check, check string) checks.Group {
	if i := placeOf(all, check); i >= 0 {
		return all[i].Group
	}
	return other
}

const other checks.Group = "other"

// placeOf returns where a check stands in the order of results, -1 for an unknown one.
func placeOf(all []checks.Check, check string) int {
	return slices.IndexFunc(all, func(c checks.Check) bool { return c.Name == check })
}

// groupsOf returns all groups in the order of results.
func groupsOf(all []checks.Check) []checks.Group {
	var groups []checks.Group
	for i := range all {
		if !slices.Contains(groups, all[i].Group) {
			groups = append(groups, all[i].Group)
		}
	}
	return append(groups, other)
}

// overview is the matrix of subjects and groups.
type overview struct {
	subjects []string // in the order of the result
	groups   []string // those that have a finding
	cells    [][]cell // by subject, group
}

type cell struct {
	known   bool // there is a finding
	verdict checks.Verdict
	held    bool // verdict is inconclusive, and required
}

// add folds a finding into the cell: the worst is shown. What is open but not
// required shows only where nothing else was judged.
func (c *cell) add(f *daemon.Finding) {
	held := f.Required && f.Verdict == checks.Inconclusive
	if !c.known || rank(f.Verdict, held) > rank(c.verdict, c.held) {
		c.verdict, c.held = f.Verdict, held
	}
	c.known = true
}

func rank(v checks.Verdict, held bool) int {
	switch {
	case v == checks.Fail:
		return 4
	case held:
		return 3
	case v == checks.Pass:
		return 2
	case v == checks.Inconclusive:
		return 1
	}
	return 0
}

func overviewOf(findings []daemon.Finding) overview {
	all := checks.All()
	groups := groupsOf(all)
	used := make([]bool, len(groups))
	rows := map[string][]cell{}
	var o overview
	for i := range findings {
		f := &findings[i]
		g := slices.Index(groups, groupOf(all, f.Check))
		used[g] = true
		if rows[f.Subject] == nil {
			o.subjects = append(o.subjects, f.Subject)
			rows[f.Subject] = make([]cell, len(groups))
		}
		rows[f.Subject][g].add(f)
	}
	o.cells = make([][]cell, len(o.subjects))
	for g := range groups {
		if !used[g] {
			continue
		}
		o.groups = append(o.groups, string(groups[g]))
		for i, s := range o.subjects {
			o.cells[i] = append(o.cells[i], rows[s][g])
		}
	}
	return o
}
