package pcapng

import (
	"encoding/binary"
	"fmt"
	"math/bits"

	"plumbline/bus"
)

// The header in front of the data, LINKTYPE_CAN_SOCKETCAN on tcpdump.org:
//
//	0  identifier and flags, big-endian
//	4  data length; bit 7 set: CAN XL
//	5  FD flags
//	6  reserved
//	7  reserved; Linux: raw length code of a classic frame
//	8  data, then padding to 16 (classic) or 72 (FD) bytes in all
const (
	headerSize = 8
	sizeFD     = 72 // of a CAN FD packet in all; decides where the FD flag was not written

	flagExtended = 0x80000000
	flagRemote   = 0x40000000
	flagError    = 0x20000000
	maskExtended = 0x1FFFFFFF
	maskStandard = 0x7FF

	flagXL            = 0x80 // in the length byte
	flagBitRateSwitch = 0x01
	flagErrorState    = 0x02
	flagFD            = 0x04
)

// unpack fills f, all but At and Source, from the bytes of a packet that was
// size bytes long before it was captured. It returns what is wrong, as it ends
// a sentence, or "".
func unpack(f *bus.Frame, packet []byte, size uint32) string {
	if len(packet) < headerSize {
		return fmt.Sprintf("its %d bytes are less than the header of %d", len(packet), headerSize)
	}
	id := binary.BigEndian.Uint32(packet)
	n, extra := packet[4], packet[5]
	if n&flagXL != 0 {
		return "CAN XL frames are not read"
	}
	if n > bus.MaxData {
		return fmt.Sprintf("a data length of %d is more than a frame can have", n)
	}
	if !plausible(id) {
		return fmt.Sprintf("0x%08X is not a possible identifier", id)
	}
	f.Len = n
	f.Flags = 0
	// more than 8 bytes cannot be classic, whatever the padding
	if extra&flagFD != 0 || size == sizeFD || n > 8 {
		f.Flags = bus.FD
		if extra&flagBitRateSwitch != 0 {
			f.Flags |= bus.BitRateSwitch
		}
		if extra&flagErrorState != 0 {
			f.Flags |= bus.ErrorState
		}
	}
	switch {
	case id&flagError != 0:
		f.Flags |= bus.Error
		f.ID = id & maskExtended
	case id&flagExtended != 0:
		f.Flags |= bus.Extended
		f.ID = id & maskExtended
	default:
		f.ID = id & maskStandard
	}
	f.Data = [bus.MaxData]byte{}
	if id&flagRemote != 0 {
		if f.Flags&bus.FD != 0 {
			return "a CAN FD frame cannot be a remote request"
		}
		f.Flags |= bus.Remote
		return ""
	}
	if len(packet)-headerSize < int(n) {
		return fmt.Sprintf("only %d of its %d data bytes were captured; record with a longer snap length", len(packet)-headerSize, n)
	}
	copy(f.Data[:n], packet[headerSize:])
	return ""
}

// maxErrorClass bounds the class of an error frame. linux/can/error.h defines
// bits up to 0x200; the rest is room for what is to come.
const maxErrorClass = 0xFFFF

// plausible reports whether id can be identifier and flags of a frame.
func plausible(id uint32) bool {
	switch {
	case id&flagError != 0:
		return id&(flagExtended|flagRemote) == 0 && id&maskExtended <= maxErrorClass
	case id&flagExtended != 0:
		return true
	default:
		return id&maskExtended <= maskStandard
	}
}

// maxTurned is how many identifiers that make sense only when turned round are
// put down to damage once others have shown that the order is right. One comes
// about by chance in some 2^20 damaged headers.
const maxTurned = 16

// order gathers evidence about the byte order in which identifiers were written.
type order struct {
	network uint64 // make sense big-endian only
	turned  uint64 // make sense the other way round only
	odd     uint64 // make sense both ways, but every one is 29 bits long and ends in 0000
}

// add takes one packet and reports whether the identifiers of its interface
// are in host order. An identifier of 0x123 written little-endian reads as an
// error frame of class 0x3010000, which does not exist; most identifiers show
// themselves like that, and the first one that does decides.
func (o *order) add(packet []byte) bool {
	if len(packet) < headerSize || packet[4]&flagXL != 0 { // CAN XL has no identifier there
		return false
	}
	id := binary.BigEndian.Uint32(packet)
	back := bits.ReverseBytes32(id)
	switch here, there := plausible(id), plausible(back); {
	case here && !there:
		o.network++
	case !here && there:
		o.turned++
		return o.network == 0 || o.turned >= maxTurned
	case here && id&flagExtended != 0 && back <= maskStandard:
		o.odd++
	}
	return false
}

// doubtful reports whether all that was seen could as well be turned round.
func (o *order) doubtful() bool { return o.odd > 0 && o.network == 0 }
