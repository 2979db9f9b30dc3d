package setup

import (
	"regexp"
	"strings"

	"plumbline/checks"
)

// maxCorners bounds the work for a file that is no setup; the largest vehicles
// have some twenty wheels.
const maxCorners = 64

// tyre is the size in a tyre designation: width in mm, aspect ratio in percent,
// construction, rim diameter code; load index and speed symbol may follow
// (UN Regulations No. 30 and No. 54).
var tyre = regexp.MustCompile(`^(?:P|LT)?\d{3}/\d{2,3} ?(?:ZR|R|D|B|-) ?\d{2}(?:\.5)?C?(?: .*)?$`)

// corners reads the wheel positions.
func (l *loader) corners() {
	l.channels, l.messages = map[signalKey]user{}, map[messageKey]int{}
	defaults := l.tree.get("defaults")
	l.fit(defaults, &l.words.Defaults)
	list := l.tree.get("corners")
	switch {
	case len(l.words.Corners) == 0 && (list == nil && !l.tree.given("corners") || list != nil && !list.lost):
		l.faults.add(l.tree.at("corners"), "no corners: write at least one, as in corners: [{name: FL, axle: 1, side: left, load_n: 4000}]")
	case len(l.words.Corners) > maxCorners:
		l.faults.add(l.tree.at("corners"), "%d corners: a vehicle has up to %d", len(l.words.Corners), maxCorners)
		return
	}
	serials := map[uint64]string{}
	for i := range l.words.Corners {
		w, n := &l.words.Corners[i], list.items[i]
		named := l.claim(n, "corner", w.Name)
		for j := range l.out.Checks.Corners {
			if other := l.out.Checks.Corners[j].Name; named && other != w.Name && strings.EqualFold(other, w.Name) {
				l.warnings.add(n.at("name"), "corners %s and %s differ in upper and lower case only: people will take them for one", other, w.Name)
			}
		}
		l.fit(n, &w.fitWords)
		c := l.corner(n, w)
		if c.HasSerial {
			if other, taken := serials[c.Serial]; taken {
				l.faults.add(n.at("serial"), "corners %s and %s have the same serial number %d: write that of each transducer", other, c.Name, c.Serial)
			}
			serials[c.Serial] = c.Name
		}
		wants := l.cornerChannels(n, w, &c)
		l.complete(n, w, &c, &wants)
		l.out.Checks.Corners = append(l.out.Checks.Corners, c)
	}
}

// fit checks the words that defaults and corners share, where they stand.
func (l *loader) fit(n *node, w *fitWords) {
	if n.get("forces") != nil {
		l.oneOf(n, "forces", *w.Forces, []string{"rotating", "fixed"})
	}
	if w.AngleCounts != nil {
		l.above(n, "angle_counts", float64(*w.AngleCounts), "encoder counts per revolution")
	}
	if w.Bolts != nil {
		l.above(n, "bolts", float64(*w.Bolts), "wheel bolts")
	}
	if w.WheelMassKg != nil {
		l.above(n, "wheel_mass_kg", *w.WheelMassKg, "kg, everything outboard of the measuring element")
	}
	if w.LoadN != nil {
		l.above(n, "load_n", *w.LoadN, "N, the static contact load from the corner scales")
	}
	if w.Tyre != nil && !tyre.MatchString(*w.Tyre) {
		l.faults.add(n.at("tyre"), "tyre is %s: write its size as on the sidewall, as in 225/75 R16", quote(*w.Tyre))
	}
}

// corner reads everything of a corner but its channels.
func (l *loader) corner(n *node, w *cornerWords) checks.Corner {
	d := &l.words.Defaults
	c := checks.Corner{
		Name:        w.Name,
		AngleCounts: or(w.AngleCounts, d.AngleCounts),
		Bolts:       or(w.Bolts, d.Bolts),
		WheelMassKg: or(w.WheelMassKg, d.WheelMassKg),
		OverhangM:   or(w.OverhangM, d.OverhangM),
		LoadN:       or(w.LoadN, d.LoadN),
		Tyre:        or(w.Tyre, d.Tyre),
		Channels:    checks.NoChannels(),
	}
	if or(w.Forces, d.Forces) == "fixed" {
		c.Forces = checks.Fixed
	}
	if w.Serial != nil {
		c.Serial, c.HasSerial = *w.Serial, true
	}
	switch {
	case w.Axle != nil && *w.Axle < 1:
		l.faults.add(n.at("axle"), "axle is %d: axles count from 1 at the front", *w.Axle)
	case w.Axle != nil:
		c.Axle = *w.Axle
	case !n.given("axle"):
		l.faults.add(n.place, "corner %s has no axle: write axle: 1 for the front one, then 2 and so on", w.Name)
	}
	switch {
	case w.Side != nil:
		if l.oneOf(n, "side", *w.Side, []string{"left", "right"}) && *w.Side == "right" {
			c.Side = checks.Right
		}
	case !n.given("side"):
		l.faults.add(n.place, "corner %s has no side: write side: left or side: right", w.Name)
	}
	return c
}

// or returns what the corner says, else what the defaults say, else nothing.
func or[T any](own, common *T) T {
	switch {
	case own != nil:
		return *own
	case common != nil:
		return *common
	}
	var nothing T
	return nothing
}

// wants tells which quantities a corner or optic asks for, found or not.
type wants [checks.Quantities]bool

// cornerChannels lays the corner's channels over the defaults, quantity by
// quantity, and finds their signals.
func (l *loader) cornerChannels(n *node, w *cornerWords, c *checks.Corner) (asked wants) {
	own, common := n.get("channels"), l.tree.get("defaults").get("channels")
	for q := range checks.Quantities {
		from, words := own, w.Channels
		if !own.given(q.String()) {
			from, words = common, l.words.Defaults.Channels
		}
		c.Channels[q] = l.owned(from, words, &wantedChannel{quantity: q, owner: w.Name, corner: w.Name}, q <= checks.Counter, "corners", &asked)
	}
	return asked
}

// owned resolves one quantity of a corner or an optic. An empty text takes a
// default away.
func (l *loader) owned(from *node, words channelWords, w *wantedChannel, fits bool, owners string, asked *wants) int32 {
	key := w.quantity.String()
	channel := from.get(key)
	if channel == nil {
		asked[w.quantity] = from.given(key) // reported by type
		return checks.None
	}
	w.node, w.word = channel, words[key]
	switch {
	case !channel.given("signal"):
		l.faults.addOf(channel.place, w.owner, "%s names no signal: write {signal: \"message.signal\", …}", key)
	case channel.get("signal") == nil: // reported by type
	case w.word.Signal == "":
		return checks.None
	case !fits:
		l.faults.addOf(channel.place, w.owner, "%s is no channel of %s: %s", key, owners, elsewhere(w.quantity))
	default:
		asked[w.quantity] = true
		return l.channel(w)
	}
	asked[w.quantity] = true
	return checks.None
}

// elsewhere says where a quantity belongs.
func elsewhere(q checks.Quantity) string {
	switch {
	case q <= checks.Counter:
		return "write it under channels of a corner"
	case q <= checks.Camber:
		return "write it under channels of an optic of kind camber"
	default:
		return "write it under channels of an optic of kind ground_speed"
	}
}

// complete reports what a corner needs for the channels that it has, and warns
// of checks that will be weaker or absent.
func (l *loader) complete(n *node, w *cornerWords, c *checks.Corner, asked *wants) {
	defaults := l.tree.get("defaults")
	given := func(key string) bool { return n.given(key) || defaults.given(key) }
	at := n.place
	if n.given("channels") {
		at = n.at("channels")
	}
	if *asked == (wants{}) && (n.get("channels") != nil || !n.given("channels")) {
		l.faults.add(at, "corner %s has no channels: write channels under defaults or here, as in channels: {fz: \"message.signal\"}", w.Name)
		return
	}
	forces, moments := asked[checks.Fx] || asked[checks.Fz], asked[checks.Mx] || asked[checks.Mz]
	for _, pair := range [][2]checks.Quantity{{checks.Fx, checks.Fz}, {checks.Mx, checks.Mz}} {
		if has, lacks := pair[0], pair[1]; asked[has] != asked[lacks] {
			if asked[lacks] {
				has, lacks = lacks, has
			}
			l.faults.add(at, "corner %s has %s and no %s: the wheel plane needs both; name the signal of %s, or take %s away with %s: \"\"", w.Name, has, lacks, lacks, has, has)
		}
	}
	if (forces || moments) && !asked[checks.Angle] {
		if c.Forces == checks.Rotating {
			l.faults.add(at, "corner %s sends rotating components and has no angle: name the signal of angle, or write forces: fixed where the amplifier resolves them", w.Name)
		} else {
			l.warnings.add(at, "corner %s has no angle: what needs it, zero and weight among it, is absent", w.Name)
		}
	}
	if forces && !given("load_n") {
		l.faults.add(n.place, "corner %s has no load_n: write load_n: with the static contact load in N from the corner scales; it tells a lifted wheel from a loaded one", w.Name)
	}
	if forces && !given("wheel_mass_kg") {
		l.warnings.add(n.place, "corner %s has no wheel_mass_kg: weight is absent and placement is weaker", w.Name)
	}
	if asked[checks.Angle] && !given("angle_counts") {
		l.warnings.add(n.place, "corner %s has no angle_counts: the resolution of the angle is not judged", w.Name)
	}
	if c.HasSerial && !asked[checks.Serial] {
		l.warnings.add(n.at("serial"), "corner %s has a serial number and no serial channel: identity is absent", w.Name)
	}
	x, z := c.Channels[checks.Fx], c.Channels[checks.Fz]
	if c.Forces == checks.Fixed && x != checks.None && z != checks.None {
		channels := l.out.Checks.Channels
		if channels[x].Message != channels[z].Message {
			l.warnings.add(at, "corner %s sends fixed fx and fz in different messages: turning them back into rotating axes mixes two instants", w.Name)
		}
	}
}
