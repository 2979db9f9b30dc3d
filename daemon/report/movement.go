package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"plumbline/checks"
	"plumbline/daemon/compare"
)

// movementSign returns shape and word of what became of a quantity.
func movementSign(m *compare.Movement) string {
	switch {
	case m.State == compare.Moved && m.Size == compare.Within:
		return "▲ moved"
	case m.State == compare.Moved:
		return "✗ MOVED"
	case m.State == compare.Open:
		return "… open"
	case m.Size != compare.Within:
		return "… unclear"
	}
	return "✓ unmoved"
}

// movementVerdict is the state in the colours of verdicts: what moved within its limit is abnormal and no fail.
func movementVerdict(m *compare.Movement) checks.Verdict {
	switch {
	case m.State == compare.Moved && m.Size != compare.Within:
		return checks.Fail
	case m.State == compare.Unmoved && m.Size == compare.Within:
		return checks.Pass
	}
	return checks.Inconclusive
}

// movementCounts says how many quantities became what.
type movementCounts struct{ moved, beyond, maybe, unclear, open, compared int }

func countMovements(c *compare.Comparison) movementCounts {
	n := movementCounts{compared: c.Chance.Compared}
	for i := range c.Movements {
		switch m := &c.Movements[i]; {
		case m.State == compare.Moved:
			n.moved++
			switch m.Size {
			case compare.Beyond:
				n.beyond++
			case compare.Undecided:
				n.maybe++
			case compare.Within:
			}
		case m.State == compare.Open:
			n.open++
		case m.Size != compare.Within:
			n.unclear++
		}
	}
	return n
}

// movementLine is the outcome in one line, and its colour.
func movementLine(c *compare.Comparison) (string, checks.Verdict) {
	n := countMovements(c)
	var parts []string
	add := func(count int, text string) {
		if count > 0 {
			parts = append(parts, fmt.Sprintf(text, count))
		}
	}
	head, verdict := "✓ NOTHING MOVED", checks.Pass
	switch {
	case c.Verdict == compare.Moved && n.beyond+n.maybe > 0:
		head, verdict = "✗ MOVED", checks.Fail
	case c.Verdict == compare.Moved:
		head, verdict = "▲ MOVED", checks.Inconclusive
	case c.Verdict == compare.Open:
		head, verdict = "… NOT ALL COMPARED", checks.Inconclusive
	}
	if n.moved > 0 {
		parts = append(parts, fmt.Sprintf("%d of %d moved by more than chance does", n.moved, n.compared))
		add(n.beyond, "%d beyond the limit")
		add(n.maybe, "%d perhaps beyond the limit")
	} else {
		parts = append(parts, fmt.Sprintf("%d compared", n.compared))
	}
	add(n.unclear, "%d too uncertain to tell")
	add(n.open, "%d not compared")
	return head + " · " + strings.Join(parts, " · "), verdict
}

// moves lists what moved, the gravest first: beyond its limit, perhaps beyond it, within it, and of each the largest
// share of its limit.
func moves(c *compare.Comparison) []*compare.Movement {
	share := func(m *compare.Movement) float64 {
		if m.Change == nil || m.Limit == nil || *m.Limit <= 0 {
			return 0
		}
		return math.Abs(*m.Change) / *m.Limit
	}
	var out []*compare.Movement
	for _, size := range []compare.Size{compare.Beyond, compare.Undecided, compare.Within} {
		from := len(out)
		for i := range c.Movements {
			if m := &c.Movements[i]; m.State == compare.Moved && m.Size == size {
				out = append(out, m)
			}
		}
		slices.SortStableFunc(out[from:], func(a, b *compare.Movement) int { return cmp.Compare(share(b), share(a)) })
	}
	return out
}

// unknownMoves lists what is not known, once for what is said in the same words.
func unknownMoves(c *compare.Comparison) []point {
	var points []point
	for i := range c.Movements {
		m := &c.Movements[i]
		if m.State == compare.Moved || m.State == compare.Unmoved && m.Size == compare.Within {
			continue
		}
		what := strings.TrimSpace(m.Check + " " + m.Channel)
		j := slices.IndexFunc(points, func(p point) bool {
			return p.sentence == m.Sentence && p.next == m.Next && p.subjects[0] == m.Subject
		})
		if j < 0 {
			points = append(points, point{check: what, subjects: []string{m.Subject}, sentence: m.Sentence, next: m.Next})
			continue
		}
		points[j].check += ", " + what
	}
	return points
}

// changeUnit is the unit in which a person reads a change.
func changeUnit(m *compare.Movement) unit {
	if m.Check == "weight" || m.Check == "axes" {
		return unit{"%", 100}
	}
	return readable(m.Unit)
}

// changeText writes a change with its sign and its uncertainty, without the unit.
func changeText(m *compare.Movement) string {
	if m.Change == nil {
		return "–"
	}
	text := quantity(*m.Change, m.Uncertainty, changeUnit(m))
	if *m.Change > 0 && strings.Trim(strings.SplitN(text, " ", 2)[0], "0.") != "" {
		text = "+" + text
	}
	return text
}

// movementNames are the subjects in the order of the comparison, corners first.
func movementNames(c *compare.Comparison) (corners, others []string) {
	for i := range c.Movements {
		m := &c.Movements[i]
		list := &corners
		if m.Check == "clearance" || m.Check == "camber" {
			list = &others
		}
		if !slices.Contains(*list, m.Subject) {
			*list = append(*list, m.Subject)
		}
	}
	return corners, others
}
