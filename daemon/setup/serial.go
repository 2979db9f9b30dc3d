package setup

import (
	"strings"

	"plumbline/bus/serialport"
)

// format is what a serial source sends, as far as the setup file alone says it.
func format(s *Source) serialport.Format {
	f := serialport.Format{Framing: serialport.Framing(s.Framing)}
	if c := s.Checksum; c != nil {
		f.Checksum = &serialport.Checksum{Kind: serialport.KindCRC, CRC: serialport.CRC{
			Width: c.Width, Poly: c.Poly, Init: c.Init, XorOut: c.XorOut, ReflectIn: c.ReflectIn, ReflectOut: c.ReflectOut,
		}}
	}
	return f
}

// layout reads the file that describes the packets of a serial source: what tells them apart, and
// their fields, as messages beside those of the DBC files.
func (l *loader) layout(n *node, w *sourceWords, s *Source, d *described) {
	if w.Layout == nil {
		d.blind = true // reported by type
		return
	}
	at := n.at("layout")
	text, ok := l.fileText(at, "layout file", "layout: optics.layout.yaml", *w.Layout)
	if !ok {
		d.blind = true
		return
	}
	f, file, err := serialport.ParseLayout(*w.Layout, text, s.Format)
	if err != nil {
		d.blind = true
		for line := range strings.SplitSeq(err.Error(), "\n") {
			l.faults.add(at, "the layout file is broken: %s", line)
		}
		return
	}
	s.Format = f
	l.out.DBC = append(l.out.DBC, DBCFile{*w.Layout, hash(text)})
	for i := range file.Messages {
		d.messages = append(d.messages, &file.Messages[i])
	}
}
