package setup

import (
	"errors"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"

	"plumbline/bus/dbc"
	"plumbline/bus/serialport"
)

// described is what the DBC files say of one source.
type described struct {
	messages []*dbc.Message     // of all files, in their order
	periods  map[string]float64 // s by message, where the setup overrides the file
	blind    bool               // a file is missing or broken: what is not found may stand there
}

// longestInterface is the longest name of a Linux network interface (IFNAMSIZ
// of linux/if.h is 16, with the closing NUL).
const longestInterface = 15

// sources reads the buses and their DBC files.
func (l *loader) sources() {
	list := l.tree.get("sources")
	if len(l.words.Sources) == 0 && (list == nil && !l.tree.given("sources") || list != nil && !list.lost) {
		l.faults.add(l.tree.at("sources"), "no sources: write at least one, as in sources: [{name: wheels, can: can0, dbc: [wheels.dbc]}]")
	}
	matches := map[string]string{} // source by its name in captures
	for i := range l.words.Sources {
		w, n := &l.words.Sources[i], list.items[i]
		l.claim(n, "source", w.Name)
		s := Source{Name: w.Name}
		l.way(n, w, &s)
		if w.Match != nil {
			s.Match = *w.Match
		}
		if s.Match != "" {
			if other, ok := matches[s.Match]; ok {
				l.faults.add(n.place, "sources %s and %s both listen to %s: join them in one source with both DBC files, or write match: where a capture names it otherwise", other, w.Name, s.Match)
			}
			matches[s.Match] = w.Name
		}
		if w.MatchPGN != nil {
			s.PGN = *w.MatchPGN
		}
		l.known = append(l.known, l.describe(n, w, &s))
		l.out.Sources = append(l.out.Sources, s)
		l.out.Checks.Sources = append(l.out.Checks.Sources, w.Name)
	}
}

// way reads how a source is heard.
func (l *loader) way(n *node, w *sourceWords, s *Source) {
	can, serial, adapter := n.given("can"), n.given("serial"), n.given("adapter")
	switch {
	case can && serial:
		l.faults.add(n.place, "source %s has both can and serial: write one source for each", w.Name)
	case can || adapter && !serial:
		l.adapter(n, w, s)
		if w.Stamps != nil && l.oneOf(n, "stamps", *w.Stamps, []string{"software", "hardware"}) {
			s.Hardware = *w.Stamps == "hardware"
		}
		if !can {
			s.Interface, s.Match = w.Name, w.Name
		}
		if w.CAN != nil {
			s.Interface, s.Match = *w.CAN, *w.CAN
			if s.Interface == "" || len(s.Interface) > longestInterface || strings.ContainsAny(s.Interface, "/ \t\n\x00") {
				l.faults.add(n.at("can"), "%s is no CAN interface: write its name, as in can: can0 (1 to %d letters, no blank, no /)", quote(s.Interface), longestInterface)
			}
		}
		for _, key := range []string{"baud", "framing", "checksum", "layout"} {
			if n.given(key) {
				l.faults.add(n.at(key), "%s belongs to a serial source, and %s is CAN: remove %s", key, w.Name, key)
			}
		}
	case serial:
		s.Kind, s.Match = Serial, w.Name
		if w.Serial != nil {
			s.Interface = *w.Serial
			if s.Interface == "" {
				l.faults.add(n.at("serial"), "serial is empty: write the device, as in serial: /dev/serial/by-id/usb-example-if00")
			}
		}
		if n.given("stamps") {
			l.faults.add(n.at("stamps"), "stamps belongs to a CAN source, and %s has serial: remove it; sample times of a serial source are reconstructed by its layout", w.Name)
		}
		if adapter {
			l.faults.add(n.at("adapter"), "adapter belongs to a CAN source, and %s has serial: remove it, a path below /dev/serial/by-id names the adapter", w.Name)
		}
		l.serial(n, w, s)
		s.Format = format(s)
	default:
		l.faults.add(n.place, "source %s has neither can nor adapter nor serial: write can: can0, adapter: SERIAL of the CAN adapter, or serial: DEVICE with baud and framing", w.Name)
	}
}

// adapter reads which CAN adapter a source is heard with.
func (l *loader) adapter(n *node, w *sourceWords, s *Source) {
	if w.Adapter == nil {
		return // not given, or reported by type
	}
	s.Adapter = *w.Adapter
	if strings.TrimSpace(s.Adapter) != s.Adapter || s.Adapter == "" || strings.ContainsFunc(s.Adapter, func(r rune) bool { return r < ' ' || r == 0x7F }) {
		l.faults.add(n.at("adapter"), "adapter is %s: write the serial number of the adapter, or its place, as in adapter: \"0123ABC\" or adapter: \"1-2.3\" (usb); with /1 behind it for its second channel; plumbline run names those that are there", quote(s.Adapter))
		return
	}
	for i := range l.out.Sources {
		if o := &l.out.Sources[i]; o.Adapter == s.Adapter {
			l.faults.add(n.at("adapter"), "sources %s and %s are both heard with the adapter %s: join them, or write which channel each is, as in adapter: \"%s/1\"", o.Name, w.Name, s.Adapter, s.Adapter)
		}
	}
}

// framings are the ways in which packets are told apart on a serial line.
func framings() []string {
	var words []string
	for _, f := range serialport.Framings() {
		words = append(words, string(f))
	}
	return words
}

// serial reads what only serial sources have.
func (l *loader) serial(n *node, w *sourceWords, s *Source) {
	switch {
	case !n.given("baud"):
		l.faults.add(n.place, "serial source %s has no baud: write the bit rate of the device, as in baud: 921600", w.Name)
	case w.Baud != nil:
		s.Baud = *w.Baud
		l.above(n, "baud", float64(s.Baud), "bit/s, as the device is set")
	}
	switch {
	case !n.given("framing"):
		l.faults.add(n.place, "serial source %s has no framing: write framing: with one of %s", w.Name, strings.Join(framings(), ", "))
	case w.Framing != nil:
		s.Framing = *w.Framing
		l.oneOf(n, "framing", s.Framing, framings())
	}
	if w.Layout != nil {
		s.Layout = *w.Layout
	}
	if w.Checksum == nil {
		return
	}
	c := n.get("checksum")
	s.Checksum = &Checksum{
		Poly: w.Checksum.Poly, Init: w.Checksum.Init, XorOut: w.Checksum.XorOut,
		ReflectIn: w.Checksum.ReflectIn, ReflectOut: w.Checksum.ReflectOut,
	}
	if s.Framing == "slcan" {
		l.faults.add(c.place, "slcan carries no checksum of its own: remove checksum")
	}
	if !c.given("poly") {
		l.faults.add(c.place, "checksum has no poly: write it as the CRC catalogue does, as in poly: 0x1021")
	}
	switch {
	case !c.given("width"):
		l.faults.add(c.place, "checksum has no width: write its bits, as in width: 16")
	case w.Checksum.Width != nil:
		s.Checksum.Width = *w.Checksum.Width
		width := s.Checksum.Width
		if width < 8 || width > 64 || width%8 != 0 {
			l.faults.add(c.at("width"), "width is %d: write the bits of the checksum, whole bytes from 8 to 64", width)
			return
		}
		for _, p := range []struct {
			key   string
			value uint64
		}{{"poly", s.Checksum.Poly}, {"init", s.Checksum.Init}, {"xor_out", s.Checksum.XorOut}} {
			if width < 64 && p.value>>width != 0 {
				l.faults.add(c.at(p.key), "%s is 0x%X, which has more than the %d bits of width: write one that fits", p.key, p.value, width)
			}
		}
	}
}

// oneOf reports a word that is none of those valid.
func (l *loader) oneOf(n *node, key, given string, valid []string) bool {
	if slices.Contains(valid, given) {
		return true
	}
	l.faults.add(n.at(key), "%s is %s: %s", key, quote(given), advise(given, valid))
	return false
}

// describe reads the DBC files of a source.
func (l *loader) describe(n *node, w *sourceWords, s *Source) described {
	d := described{periods: map[string]float64{}}
	switch dbcNode := n.get("dbc"); {
	case dbcNode == nil && n.given("dbc"):
		d.blind = true // reported by type
	case len(w.DBC) > 0 || dbcNode != nil && dbcNode.lost:
		d.blind = dbcNode.lost
	case n.given("layout"):
	default:
		d.blind = true
		l.faults.add(n.at("dbc"), "source %s has no dbc: write the files that describe its messages, as in dbc: [wheels.dbc]", w.Name)
	}
	seen := map[string]bool{}
	for i, path := range w.DBC {
		at := n.item("dbc", i)
		if seen[path] {
			l.faults.add(at, "%s stands twice in dbc: remove one", path)
			continue
		}
		seen[path] = true
		file, whole := l.dbcFile(at, path)
		d.blind = d.blind || !whole
		if file == nil {
			continue
		}
		for j := range file.Messages {
			d.messages = append(d.messages, &file.Messages[j])
		}
	}
	if n.given("layout") && n.given("serial") && slices.Contains(framings(), s.Framing) {
		l.layout(n, w, s, &d)
	}
	l.periods(n, w, &d)
	return d
}

// dbcFile reads a DBC file, once for all sources that name it. Its second
// result is false where something of it is missing.
func (l *loader) dbcFile(at place, path string) (*dbc.File, bool) {
	if file, ok := l.files[path]; ok {
		return file, file != nil
	}
	if l.files == nil {
		l.files = map[string]*dbc.File{}
	}
	l.files[path] = nil
	text, ok := l.fileText(at, "DBC file", "dbc: [wheels.dbc]", path)
	if !ok {
		return nil, false
	}
	file, err := dbc.Parse(path, text)
	if err != nil {
		for line := range strings.SplitSeq(err.Error(), "\n") {
			l.faults.add(at, "the DBC file is broken: %s", line)
		}
		return file, false
	}
	l.out.DBC = append(l.out.DBC, DBCFile{path, hash(text)})
	l.dbcWarnings = append(l.dbcWarnings, file.Warnings...)
	l.files[path] = file
	return file, true
}

// fileText reads a file that the setup names.
func (l *loader) fileText(at place, what, example, path string) ([]byte, bool) {
	full := path
	if !filepath.IsAbs(path) {
		full = filepath.Join(l.dir, path)
	}
	text, err := l.read(full)
	switch {
	case path == "":
		l.faults.add(at, "the path of a %s is empty: write one, as in %s", what, example)
	case errors.Is(err, fs.ErrNotExist):
		advice := l.near(full)
		if advice == "" {
			advice = ": write its path from the folder of the setup file, or the whole path"
		}
		l.faults.add(at, "there is no file %s%s", full, advice)
	case err != nil:
		l.faults.add(at, "the %s cannot be read: %s", what, err)
	default:
		l.keep(path, text)
		return text, true
	}
	return nil, false
}

// keep keeps what was read of a file, so that a signed test can hold it.
func (l *loader) keep(path string, text []byte) {
	if !slices.ContainsFunc(l.out.Files, func(f File) bool { return f.Path == path }) {
		l.out.Files = append(l.out.Files, File{path, text})
	}
}

// periods reads the cycle times that the setup knows better than the DBC file.
func (l *loader) periods(n *node, w *sourceWords, d *described) {
	for i := range w.Periods {
		p, at := &w.Periods[i], n.get("periods").items[i]
		if !at.given("message") || !at.given("ms") {
			l.faults.add(at.place, "a period needs a message and its cycle time: write {message: NAME, ms: 5}")
			continue
		}
		if at.get("message") == nil || at.get("ms") == nil {
			continue // reported by type
		}
		l.above(at, "ms", p.Ms, "milliseconds between two messages")
		if _, ok := d.periods[p.Message]; ok {
			l.faults.add(at.at("message"), "message %s has two periods: remove one", p.Message)
		}
		d.periods[p.Message] = p.Ms / 1000
		if names := messageNames(d.messages); !d.blind && !slices.Contains(names, p.Message) {
			l.faults.add(at.at("message"), "no DBC file of %s has a message %s: %s", w.Name, quote(p.Message), advise(p.Message, names))
		}
	}
}

// messageNames lists the names of messages.
func messageNames(messages []*dbc.Message) []string {
	names := make([]string, len(messages))
	for i, m := range messages {
		names[i] = m.Name
	}
	return names
}
