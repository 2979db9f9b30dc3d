package setup

import (
	"slices"

	"plumbline/checks"
)

// Clearance of a sensor bar where the setup says nothing; common practice.
const (
	defaultClearanceM          = 0.20
	defaultClearanceToleranceM = 0.03
)

// opticKinds are the kinds of optical sensor as setup files name them, in the
// order of the constants of package checks.
func opticKinds() []string { return []string{"camber", "ground_speed"} }

// optics reads the optical sensors.
func (l *loader) optics() {
	list := l.tree.get("optics")
	for i := range l.words.Optics {
		w, n := &l.words.Optics[i], list.items[i]
		l.claim(n, "optic", w.Name)
		o := checks.Optic{Name: w.Name, Corner: -1, Channels: checks.NoChannels()}
		switch {
		case w.Kind != nil:
			l.oneOf(n, "kind", *w.Kind, opticKinds())
			if at := slices.Index(opticKinds(), *w.Kind); at >= 0 {
				o.Kind = checks.OpticKind(at)
			}
		case !n.given("kind"):
			l.faults.add(n.place, "optic %s has no kind: write kind: camber or kind: ground_speed", w.Name)
		}
		if w.Corner != nil {
			o.Corner = l.cornerIndex(*w.Corner)
			if o.Corner < 0 && !l.cornersLost() {
				l.faults.add(n.at("corner"), "optic %s belongs to %s, which is no corner: %s", w.Name, quote(*w.Corner), advise(*w.Corner, l.cornerNames()))
			}
		}
		l.opticSizes(n, w, &o)
		l.opticChannels(n, w, &o)
		l.out.Checks.Optics = append(l.out.Checks.Optics, o)
	}
}

// opticSizes reads the lengths of a sensor bar.
func (l *loader) opticSizes(n *node, w *opticWords, o *checks.Optic) {
	if w.BaselineM != nil {
		o.BaselineM = *w.BaselineM
		l.above(n, "baseline_m", o.BaselineM, "m, between the outer and the inner height")
	}
	if w.BaselineThirdM != nil {
		o.BaselineThirdM = *w.BaselineThirdM
		if o.BaselineThirdM == 0 {
			l.faults.add(n.at("baseline_third_m"), "baseline_third_m is 0: write the distance of the third height along the vehicle in m, positive to the front")
		}
	}
	if w.Kind == nil || *w.Kind != "camber" {
		return
	}
	o.ClearanceM, o.ClearanceToleranceM = defaultClearanceM, defaultClearanceToleranceM
	if w.ClearanceM != nil {
		o.ClearanceM = *w.ClearanceM
		l.above(n, "clearance_m", o.ClearanceM, "m, from the sensor bar to the ground")
	}
	if w.ClearanceToleranceM != nil {
		o.ClearanceToleranceM = *w.ClearanceToleranceM
		l.above(n, "clearance_tolerance_m", o.ClearanceToleranceM, "m, to either side")
	}
}

// opticChannels finds the signals of an optical sensor.
func (l *loader) opticChannels(n *node, w *opticWords, o *checks.Optic) {
	from := n.get("channels")
	var asked wants
	corner := ""
	if w.Corner != nil {
		corner = *w.Corner
	}
	for q := range checks.Quantities {
		fits, owners := q >= checks.Temperature, "optics"
		if w.Kind != nil && q >= checks.HeightOuter {
			camber := q <= checks.Camber
			fits = camber == (o.Kind == checks.CamberBar)
			owners = "an optic of kind " + *w.Kind
		}
		o.Channels[q] = l.owned(from, w.Channels, &wantedChannel{quantity: q, owner: w.Name, corner: corner}, fits, owners, &asked)
	}
	if asked == (wants{}) && (from != nil || !n.given("channels")) {
		l.faults.add(n.at("channels"), "optic %s has no channels: write them, as in channels: {height_outer: \"message.signal\"}", w.Name)
	}
	if asked[checks.HeightOuter] && asked[checks.HeightInner] && !n.given("baseline_m") {
		l.faults.add(n.place, "optic %s has two heights and no baseline_m: write the distance between them in m", w.Name)
	}
	if asked[checks.HeightThird] && !n.given("baseline_third_m") {
		l.faults.add(n.place, "optic %s has a third height and no baseline_third_m: write its distance along the vehicle in m, positive to the front", w.Name)
	}
}

// cornerNames lists the corners in the order of the file.
func (l *loader) cornerNames() []string {
	names := make([]string, len(l.out.Checks.Corners))
	for i := range names {
		names[i] = l.out.Checks.Corners[i].Name
	}
	return names
}

// cornerIndex returns the index of a corner, -1 where there is none.
func (l *loader) cornerIndex(name string) int { return slices.Index(l.cornerNames(), name) }

// cornersLost reports that a corner was faulty: a name that is not found may be its own.
func (l *loader) cornersLost() bool {
	list := l.tree.get("corners")
	if list == nil {
		return l.tree.given("corners")
	}
	if list.lost {
		return true
	}
	for _, c := range list.items {
		if c.given("name") && c.get("name") == nil {
			return true
		}
	}
	return false
}
