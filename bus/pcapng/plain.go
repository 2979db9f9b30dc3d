package pcapng

import (
	"encoding/binary"

	"plumbline/bus"
)

// plainBlock is the length of the block that nearly all frames come in: an enhanced packet block of 16 bytes, without options.
const plainBlock = packetHead + classicCAN + 4

// plain takes the plain packets that are at hand and reports whether there were any: classic frames with data, in blocks
// of that length, little-endian, of a CAN interface that has shown in which order its identifiers stand. At the first
// block of which anything else could be said it stops, and block reads that one.
func (r *Reader) plain(b *bus.Batch) bool {
	if r.blocks.big || r.section.skip {
		return false
	}
	p := r.blocks.atHand()
	frames, n := b.Frames[:cap(b.Frames)], len(b.Frames)
	first, last := n, r.last
	var (
		i         *iface // of the packet before; nil: there is none
		described uint32 // its number
	)
	for ; n < len(frames) && len(p) >= plainBlock; p = p[plainBlock:] {
		block := p[:plainBlock:plainBlock]
		if binary.LittleEndian.Uint64(block) != blockEnhanced|plainBlock<<32 ||
			binary.LittleEndian.Uint64(block[20:]) != classicCAN|classicCAN<<32 ||
			binary.LittleEndian.Uint32(block[plainBlock-4:]) != plainBlock {
			break
		}
		if index := binary.LittleEndian.Uint32(block[8:]); i == nil || index != described {
			if uint64(index) >= uint64(len(r.ifaces)) {
				break
			}
			i, described = &r.ifaces[index], index
		}
		ticks := uint64(binary.LittleEndian.Uint32(block[12:]))<<32 | uint64(binary.LittleEndian.Uint32(block[16:]))
		if i.kind != CAN || i.source == notCAN || i.order.network == 0 || ticks > i.clock.plain {
			break
		}
		id, size, fd := binary.BigEndian.Uint32(block[packetHead:]), block[packetHead+4], block[packetHead+5]
		flags := bus.Flags(0)
		if id&flagExtended != 0 {
			flags, id = bus.Extended, id&^uint32(flagExtended)
		} else if id > maskStandard {
			break
		}
		if id > maskExtended || size > 8 || fd&flagFD != 0 {
			break
		}
		last = int64(ticks * i.clock.mul)
		f := &frames[n]
		f.At, f.ID, f.Source, f.Flags, f.Len, f.Data = last, id, uint16(i.source), flags, size, [bus.MaxData]byte{}
		data := binary.LittleEndian.Uint64(block[packetHead+headerSize:])
		binary.LittleEndian.PutUint64(f.Data[:], data&(1<<(8*size)-1)) // what stands behind the data is padding
		n++
	}
	if n == first {
		return false
	}
	b.Frames, r.last = frames[:n], last
	r.blocks.pass((n-first)*plainBlock, n-first)
	return true
}
