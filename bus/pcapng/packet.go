package pcapng

import (
	"errors"
	"fmt"
	"io"
	"math"

	"plumbline/bus"
)

// block reads one block of a pcapng, or as many plain packets as are at hand.
func (r *Reader) block(b *bus.Batch) error {
	if r.plain(b) {
		return nil
	}
	kind, body, err := r.blocks.next()
	if err != nil {
		return r.broken(b, kind, err)
	}
	if kind == blockSection {
		r.leaveSection(b)
		r.openSection(b, body)
		return nil
	}
	if r.section.skip {
		return nil
	}
	switch kind {
	case blockEnhanced, blockPacket:
		return r.packet(b, kind, body)
	case blockInterface:
		r.describe(b, body)
	case blockStatistics:
		r.statistics(b, body)
	case blockSimple:
		if len(r.ifaces) > 0 && r.ifaces[0].source != notCAN {
			r.warn(b, r.last, "packet skipped: a simple packet block has no time; record with dumpcap or candump -L")
		}
	}
	return nil // all other types may be passed over
}

// broken goes on after a block that could not be read, or says why it cannot.
func (r *Reader) broken(b *bus.Batch, kind uint32, err error) error {
	_, damaged := errors.AsType[*damageError](err)
	switch {
	case errors.Is(err, io.EOF):
		return io.EOF
	case !damaged && !errors.Is(err, errCut):
		return fmt.Errorf("%s: after block %d, at byte %d: %w", r.name, r.blocks.number-1, r.blocks.at, err)
	}
	r.torn()
	number, at := r.blocks.number, r.blocks.at
	// A wrong length can look like the end of the recording: search in both cases.
	skipped, searched := r.blocks.resync()
	if searched != nil && !errors.Is(searched, io.EOF) {
		return fmt.Errorf("%s: after damage in block %d at byte %d: %w", r.name, number, at, searched)
	}
	if !damaged && searched != nil {
		r.note(b, r.last, fmt.Sprintf("%s: the recording ends inside block %d at byte %d: its last %d bytes are dropped, the rest counts", r.name, number, at, skipped))
		return io.EOF
	}
	if searched != nil {
		r.note(b, r.last, fmt.Sprintf("%s: block %d at byte %d is damaged: %v; the last %d bytes hold no whole block and are dropped, the rest counts", r.name, number, at, err, skipped))
		return io.EOF
	}
	r.section.damaged = true
	r.note(b, r.last, fmt.Sprintf("%s: block %d at byte %d is damaged: %v; %d bytes skipped, up to the next whole block", r.name, number, at, err, skipped))
	return nil
}

// openSection starts over with the interfaces.
func (r *Reader) openSection(b *bus.Batch, body []byte) {
	r.ifaces = r.ifaces[:0]
	r.section = section{}
	r.readSection(body[sectionMin-blockFrame:])
	major, minor := r.blocks.uint16(body[4:]), r.blocks.uint16(body[6:])
	if major != 1 || minor != 0 && minor != 2 { // 1.2 is to be read as 1.0
		r.section.skip = true
		r.torn()
		r.warn(b, r.last, "section skipped: version %d.%d is not known, only 1.0", major, minor)
	}
}

// describe takes in an interface description.
func (r *Reader) describe(b *bus.Batch, body []byte) {
	if r.section.damaged {
		// What was lost may have been a description: every number after it is uncertain.
		r.warn(b, r.last, "an interface described after damage cannot be numbered: its packets are skipped")
		return
	}
	if len(r.ifaces) >= maxInterfaces {
		r.warn(b, r.last, "more than %d interfaces in a section: the packets of this one are skipped", maxInterfaces)
		return
	}
	i, err := r.blocks.describe(body, len(r.ifaces))
	if err != nil {
		i.why = err.Error()
	} else {
		r.register(&i)
		for n := range r.ifaces {
			if o := &r.ifaces[n]; i.source != notCAN && o.source == i.source && o.kind == i.kind {
				r.warn(b, r.last, "a second interface is called %s: both are taken for the same bus", i.name)
				break
			}
		}
	}
	r.ifaces = append(r.ifaces, i)
}

// packet reads a packet block: enhanced, or the obsolete one that has the
// interface in 16 bits and a drop count beside it.
func (r *Reader) packet(b *bus.Batch, kind uint32, body []byte) error {
	if len(body) < 20 {
		r.torn()
		r.warn(b, r.last, "packet skipped: a packet block of %d bytes is too short", len(body)+blockFrame)
		return nil
	}
	index, drops := uint64(r.blocks.uint32(body)), uint64(0)
	if kind == blockPacket {
		index = uint64(r.blocks.uint16(body))
		if n := r.blocks.uint16(body[2:]); n != math.MaxUint16 { // all ones: not known
			drops = uint64(n)
		}
	}
	ticks := uint64(r.blocks.uint32(body[4:]))<<32 | uint64(r.blocks.uint32(body[8:]))
	captured, size := r.blocks.uint32(body[12:]), r.blocks.uint32(body[16:])
	if index >= uint64(len(r.ifaces)) {
		r.torn()
		r.warn(b, r.last, "packet skipped: interface %d is not described before it", index)
		return nil
	}
	i := &r.ifaces[index]
	at, ok := i.clock.at(ticks)
	if !ok {
		r.torn()
		r.warn(b, r.last, "packet of %s skipped: its time lies outside the years 1677 to 2262", i.name)
		return nil
	}
	rest := body[20:]
	padded := (uint64(captured) + 3) &^ 3
	if padded > uint64(len(rest)) {
		r.torn()
		r.warn(b, at, "packet of %s skipped: it claims %d bytes and its block has room for %d", i.name, captured, len(rest))
		return nil
	}
	var more bus.Flags
	if list := rest[padded:]; len(list) > 0 {
		more = r.packetOptions(b, i, kind, at, list, drops)
	} else {
		r.lost(b, i, at, drops)
	}
	switch {
	case i.kind == Events && i.why == "":
		r.event(b, at, rest[:captured])
		return nil
	case i.source == notCAN:
		if !i.told {
			i.told = true
			r.warn(b, at, "packets of %s are skipped: %s", i.name, i.why)
		}
		return nil
	case i.kind == Serial:
		r.chunk(b, i, at, rest[:captured], captured < size)
		return nil
	}
	return r.frame(b, i, at, rest[:captured], size, more)
}

// packetOptions turns the options of a packet into notes and flags. Marks stay
// even where the packet is skipped: a person may have put one on any packet.
func (r *Reader) packetOptions(b *bus.Batch, i *iface, kind uint32, at int64, list []byte, drops uint64) (more bus.Flags) {
	own := i.kind == Events // its first comment repeats what its data says
	for {
		o, ok, damaged := r.blocks.nextOption(&list)
		if damaged {
			r.warn(b, at, "options of a packet of %s are damaged: what follows them in the block is not read", i.name)
		}
		if !ok {
			break
		}
		switch {
		case o.code == optionComment && own:
			own = false
		case o.code == optionComment:
			if text := mark(o.value); text != "" {
				b.Notes = append(b.Notes, bus.Note{Before: len(b.Frames), At: at, Kind: bus.Mark, Text: text})
			}
		case o.code == optionFlags && len(o.value) >= 4:
			if r.blocks.uint32(o.value)&3 == 2 { // direction: outbound
				more |= bus.Transmitted
			}
		case o.code == optionDropCount && kind == blockEnhanced && len(o.value) >= 8:
			drops = r.blocks.uint64(o.value)
		}
	}
	r.lost(b, i, at, drops)
	return more
}

// chunk appends bytes of a serial port; cut says that others behind them were left out, as by a program that shortens packets.
func (r *Reader) chunk(b *bus.Batch, i *iface, at int64, data []byte, cut bool) {
	h := r.hole(i.source)
	r.mend(b, h, at)
	h.open = cut
	r.bytes = append(r.bytes[:0], data...) // the block is gone with the next one
	b.Chunks = append(b.Chunks, bus.Chunk{Before: len(b.Frames), At: at, Source: uint16(i.source), Data: r.bytes})
}

// statistics compares the drop counts of an interface, which run from the
// start of the recording, with what was told already.
func (r *Reader) statistics(b *bus.Batch, body []byte) {
	if len(body) < 12 {
		r.warn(b, r.last, "interface statistics skipped: a block of %d bytes is too short", len(body)+blockFrame)
		return
	}
	index := r.blocks.uint32(body)
	if uint64(index) >= uint64(len(r.ifaces)) {
		r.warn(b, r.last, "interface statistics skipped: interface %d is not described before them", index)
		return
	}
	i := &r.ifaces[index]
	at, ok := i.clock.at(uint64(r.blocks.uint32(body[4:]))<<32 | uint64(r.blocks.uint32(body[8:])))
	if !ok || at == i.clock.offset {
		at = r.last // no time given
	}
	var total uint64
	list := body[12:]
	for {
		o, ok, damaged := r.blocks.nextOption(&list)
		if damaged {
			r.warn(b, at, "options of the statistics of %s are damaged: drop counts may be missing", i.name)
		}
		if !ok {
			break
		}
		if (o.code == optionInterfaceDrops || o.code == optionSystemDrops) && len(o.value) >= 8 {
			if n := r.blocks.uint64(o.value); n != math.MaxUint64 { // all ones: not known
				total += min(n, ^total)
			}
		}
	}
	if total > i.drops {
		r.lost(b, i, at, total-i.drops)
	}
}
