package setup

import (
	"regexp"
	"strings"

	"plumbline/checks"
)

// limits reads the bounds that findings are judged by. Those that the file
// does not name have their default from checks.LimitKeys.
func (l *loader) limits() {
	n := l.tree.get("limits")
	l.out.Checks.Limits = checks.DefaultLimits()
	for _, key := range checks.LimitKeys() {
		if n.get(key.Key) == nil {
			continue
		}
		given := l.words.Limits[key.Key]
		switch at := n.at(key.Key); {
		case key.Range && given[0] >= given[1]:
			l.faults.add(at, "%s is [%v, %v]: write the lower bound first, as in [%g, %g]", key.Key, given[0], given[1], key.Default[0], key.Default[1])
		case !key.Range && given[0] < 0:
			l.faults.add(at, "%s is %v: a limit is a size, write 0 or more (default %g)", key.Key, given[0], key.Default[0])
		default:
			key.Set(&l.out.Checks.Limits, given...)
		}
	}
}

// turnOrder reads the order in which the workshop turns the wheels.
func (l *loader) turnOrder() {
	given := map[int]bool{}
	for i, name := range l.words.TurnOrder {
		index, at := l.cornerIndex(name), l.tree.item("turn_order", i)
		switch {
		case index < 0 && l.cornersLost():
		case index < 0:
			l.faults.add(at, "turn_order names %s, which is no corner: %s", quote(name), advise(name, l.cornerNames()))
		case given[index]:
			l.faults.add(at, "turn_order names %s twice: each wheel is turned once", name)
		default:
			given[index] = true
			l.out.Checks.TurnOrder = append(l.out.Checks.TurnOrder, index)
		}
	}
	if n := l.tree.get("turn_order"); n != nil && len(n.items) > 0 && !n.lost {
		var missing []string
		for i, name := range l.cornerNames() {
			if !given[i] {
				missing = append(missing, name)
			}
		}
		if len(missing) > 0 {
			l.warnings.add(n.place, "turn_order leaves out %s: placement cannot use it for them", strings.Join(missing, ", "))
		}
	}
}

// confirmID is what pages and reports can use as a name of a field.
var confirmID = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]*$`)

// confirmations reads what a person confirms.
func (l *loader) confirmations() {
	lines := map[string]int{}
	for i := range l.words.Confirm {
		w, n := &l.words.Confirm[i], l.tree.get("confirm").items[i]
		c := Confirmation{ID: w.ID, Text: strings.TrimSpace(w.Text)}
		first, taken := lines[c.ID]
		switch {
		case n.given("id") && n.get("id") == nil: // reported by type
		case c.ID == "":
			l.faults.add(n.at("id"), "a confirmation without an id: write a short one, as in id: wheel-bolts")
		case !confirmID.MatchString(c.ID):
			l.faults.add(n.at("id"), "the id %s cannot be used in a form: write letters, digits and hyphens only", quote(c.ID))
		case taken:
			l.faults.add(n.at("id"), "the id %s stands in line %d already: each confirmation has its own", c.ID, first)
		}
		lines[c.ID] = n.at("id").line
		if c.Text == "" && (!n.given("text") || n.get("text") != nil) {
			l.faults.add(n.at("text"), "confirmation %s has no text: write the sentence that a person confirms", c.ID)
		}
		if w.Value != nil {
			l.confirmedValue(n.get("value"), w, &c)
		}
		l.out.Confirm = append(l.out.Confirm, c)
	}
}

// confirmedValue reads the range of a value that a person reads off.
func (l *loader) confirmedValue(n *node, w *confirmationWords, c *Confirmation) {
	c.HasValue, c.Unit = true, w.Value.Unit
	if !n.given("min") || !n.given("max") {
		l.faults.add(n.place, "the value of %s has no range: write {unit: N·m, min: 150, max: 170}", c.ID)
		return
	}
	if w.Value.Min == nil || w.Value.Max == nil {
		return // reported by type
	}
	c.Min, c.Max = *w.Value.Min, *w.Value.Max
	if c.Min >= c.Max {
		l.faults.add(n.at("min"), "the value of %s has min %v and max %v: write the smaller one as min", c.ID, c.Min, c.Max)
	}
}
