package setup

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"plumbline/bus/dbc"
	"plumbline/checks"
)

// Write writes a first setup in YAML from the names and units in DBC files.
// paths are written as they are given: they begin at the folder that the setup
// will stand in. readFile gives their bytes; nil reads the files.
//
// What names cannot tell is left out as a comment with an arrow that says what
// to write; Parse then names what is missing. A guess has a comment beginning
// with "unsure". An error tells which DBC file cannot be read; then nothing is
// written.
func Write(w io.Writer, paths []string, readFile func(string) ([]byte, error)) error {
	if readFile == nil {
		readFile = func(path string) ([]byte, error) {
			text, err := readAtMost(path, maxDBCBytes)
			return text, Located(path, err)
		}
	}
	var files []*dbc.File
	var faults []error
	var read []string
	for _, path := range paths {
		text, err := readFile(path)
		if err != nil {
			faults = append(faults, fmt.Errorf("first setup: %w", err))
			continue
		}
		file, err := dbc.Parse(path, text)
		if err != nil {
			faults = append(faults, fmt.Errorf("first setup: %w", err))
			continue
		}
		files, read = append(files, file), append(read, path)
	}
	if len(paths) == 0 {
		faults = append(faults, errors.New("first setup: no DBC file given: name at least one"))
	}
	if err := errors.Join(faults...); err != nil {
		return err
	}
	var b writer
	b.plan(guessPlan(read, files))
	_, err := w.Write(b.Bytes())
	return err
}

// writer collects the text of a first setup.
type writer struct{ bytes.Buffer }

// line adds a line, indented by steps of two blanks.
func (b *writer) line(indent int, format string, args ...any) {
	b.WriteString(strings.Repeat("  ", indent))
	fmt.Fprintf(b, format, args...)
	b.WriteByte('\n')
}

// missing adds a line that a person completes.
func (b *writer) missing(indent int, example, what string) {
	b.line(indent, "# %-24s <- %s", example, what)
}

// unsure adds a comment on the line that follows.
func (b *writer) unsure(indent int, format string, args ...any) {
	b.line(indent, "# unsure: "+format, args...)
}

// quoted quotes for YAML, in the escapes that its double quotes know.
func quoted(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < ' ' || r == 0x7F || r >= 0x80 && r < 0xA0 || r == 0x2028 || r == 0x2029 || r == 0xFEFF || r > 0xFFFF:
			fmt.Fprintf(&b, "\\U%08X", r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// comment keeps a text on one line.
func comment(s string) string { return strings.Trim(quoted(s), `"`) }

// plan writes the whole file.
func (b *writer) plan(p *plan) {
	b.line(0, "# A first setup, made from the names and units in DBC files. Remove the # before a line")
	b.line(0, "# with <- and write its value; look at each line after \"unsure\".")
	b.missing(0, "vehicle: NAME", "write the name under which reports file this vehicle")
	b.missing(0, "mass_kg: 2000", "if known, write the mass of the whole vehicle in kg")
	b.line(0, "")
	b.sources(p)
	b.defaults(p)
	b.corners(p)
	b.optics(p)
	b.line(0, "")
	b.line(0, "# What no signal can show; a person confirms it:")
	b.line(0, "# confirm:")
	b.line(0, `#   - {id: wheel-bolts, text: "Wheel bolts tightened in sequence with a torque wrench", value: {unit: N·m, min: 150, max: 170}}`)
	if len(p.unused) > 0 {
		b.line(0, "")
		b.line(0, "# Signals that are no channel here:")
		for _, name := range p.unused {
			b.line(0, "#   %s", comment(name))
		}
	}
}

func (b *writer) sources(p *plan) {
	b.line(0, "sources:")
	for i, s := range p.sources {
		b.line(1, "- name: %s", quoted(s.name))
		b.unsure(2, "the files do not tell the interface")
		b.line(2, "can: can%d", i)
		names := make([]string, len(s.paths))
		for j := range s.paths {
			names[j] = quoted(s.paths[j])
		}
		b.line(2, "dbc: [%s]", strings.Join(names, ", "))
	}
}

func (b *writer) defaults(p *plan) {
	b.line(0, "")
	b.line(0, "defaults:")
	b.unsure(1, "the files do not tell whether the amplifier sends rotating or fixed components")
	b.line(1, "forces: rotating")
	b.missing(1, "angle_counts: 2048", "write the encoder counts per revolution")
	b.missing(1, "wheel_mass_kg: 30.0", "write the mass of everything outboard of the measuring element in kg")
	b.missing(1, "overhang_m: 0.010", "write how far its centre of gravity lies outboard of the measuring plane in m")
	b.missing(1, "bolts: 5", "write the number of wheel bolts")
	b.missing(1, "tyre: 225/75 R16", "write the tyre size")
	headed := false
	for q := range checks.Quantities {
		if pattern := p.shared(q); pattern != "" {
			if !headed {
				b.line(1, "channels:")
				headed = true
			}
			c := p.corners[0].channels[q]
			c.text = pattern
			b.channel(2, q, &c)
		}
	}
}

// channel writes one channel, as a comment where it would not be right yet.
func (b *writer) channel(indent int, q checks.Quantity, c *plannedChannel) {
	if c.guess.score == 1 {
		b.unsure(indent, "the name tells little: this may be something else than %s", q)
	}
	if len(c.others) > 0 {
		others := make([]string, len(c.others))
		for i := range c.others {
			others[i] = comment(c.others[i])
		}
		b.unsure(indent, "%s could as well be %s", q, strings.Join(others, ", "))
	}
	switch {
	case c.guess.noUnit:
		b.missing(indent, fmt.Sprintf("%s: {signal: %s, unit: N}", q, quoted(c.text)), "the DBC file gives no unit: write the right one")
	case q == checks.Status:
		b.missing(indent, fmt.Sprintf("%s: {signal: %s, good: [0]}", q, quoted(c.text)), "write which raw values, or texts of the value table, mean that all is well")
	default:
		b.line(indent, "%s: %s", q, quoted(c.text))
	}
}

func (b *writer) corners(p *plan) {
	b.line(0, "")
	if len(p.corners) == 0 {
		b.unsure(0, "no signal looks like a force or the angle of a wheel")
		b.line(0, "corners: []")
		return
	}
	b.line(0, "corners:")
	for i := range p.corners {
		c := &p.corners[i]
		if !p.certain {
			b.unsure(1, "no name tells which wheel this is")
		}
		b.line(1, "- name: %s", quoted(c.name))
		b.line(2, "axle: %d", c.axle)
		b.line(2, "side: %s", []string{"left", "right"}[c.side])
		b.missing(2, "load_n: 4000", "write the static contact load from the corner scales in N")
		if c.channels[checks.Serial].text != "" {
			b.missing(2, "serial: 40117", "write the serial number of the transducer")
		}
		b.own(p, c)
	}
}

// own writes the channels that a corner has for itself.
func (b *writer) own(p *plan, c *plannedCorner) {
	headed := false
	for q := range checks.Quantities {
		if c.channels[q].text == "" || p.shared(q) != "" {
			continue
		}
		if !headed {
			b.line(2, "channels:")
			headed = true
		}
		b.channel(3, q, &c.channels[q])
	}
}

func (b *writer) optics(p *plan) {
	if len(p.optics) == 0 {
		return
	}
	b.line(0, "")
	b.line(0, "optics:")
	for i := range p.optics {
		o := &p.optics[i]
		b.line(1, "- name: %s", quoted(o.name))
		b.line(2, "kind: %s", opticKinds()[o.kind])
		switch {
		case o.corner != "":
			b.line(2, "corner: %s", quoted(o.corner))
		case o.kind == checks.CamberBar:
			b.missing(2, "corner: FL", "write the corner that it stands at")
		}
		if o.kind == checks.CamberBar {
			b.missing(2, "baseline_m: 0.400", "write the distance between the outer and the inner height in m")
			if o.channels[checks.HeightThird].text != "" {
				b.missing(2, "baseline_third_m: 0.200", "write the distance of the third height along the vehicle in m")
			}
			b.missing(2, "clearance_m: 0.200", "write the distance to the ground in m, if it is another")
		}
		b.line(2, "channels:")
		for q := range checks.Quantities {
			if o.channels[q].text != "" {
				b.channel(3, q, &o.channels[q])
			}
		}
	}
}
