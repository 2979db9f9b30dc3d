package pcapng

import (
	"errors"
	"fmt"
	"math"
	"math/bits"
)

// The link types that are read (tcpdump.org/linktypes.html). Of those that are
// free to all users only what the description shows to be our own.
const (
	linkSerial = 147 // LINKTYPE_USER0
	linkEvents = 148 // LINKTYPE_USER1
	linkCAN    = 227 // LINKTYPE_CAN_SOCKETCAN
)

// notCAN is the source of an interface that has none: its packets are skipped,
// but for those of the events.
const notCAN = -1

// iface is an interface as a section describes it.
type iface struct {
	name   string
	about  string // if_description
	link   uint16
	kind   Kind
	source int // index into the names, or notCAN
	clock  clock
	order  order
	drops  uint64 // lost frames told so far
	told   bool   // that its packets are skipped
	why    string // for notCAN: the reason, as it ends a sentence
}

// describe reads an interface description block. It returns an error, as it
// ends a sentence, where the packets of the interface cannot be dated.
func (b *blocks) describe(body []byte, index int) (iface, error) {
	i := iface{name: fmt.Sprintf("interface %d", index), source: notCAN, clock: newClock(6, 0)}
	if len(body) < 8 {
		return i, fmt.Errorf("its description is %d bytes long instead of at least 8", len(body))
	}
	i.link = b.uint16(body)
	resolution, offset := uint8(6), int64(0) // the standard's defaults: µs, no offset
	list := body[8:]
	for {
		o, ok, damaged := b.nextOption(&list)
		if damaged {
			return i, errors.New("its description is damaged, so that the unit of its times is not known")
		}
		if !ok {
			break
		}
		switch {
		case o.code == optionName:
			if name := clean(o.value[:min(len(o.value), maxName)]); name != "" {
				i.name = name
			}
		case o.code == optionDescription:
			i.about = clean(o.value[:min(len(o.value), maxName)])
		case o.code == optionResolution && len(o.value) >= 1:
			resolution = o.value[0]
		case o.code == optionOffset && len(o.value) >= 8:
			offset = int64(b.uint64(o.value))
		}
	}
	if offset > maxSeconds || offset < -maxSeconds {
		return i, fmt.Errorf("its time offset of %d s lies outside the years 1677 to 2262", offset)
	}
	i.clock = newClock(resolution, offset)
	return i, nil
}

// maxSeconds is the largest time in s that fits into ns of an int64.
const maxSeconds = math.MaxInt64 / 1_000_000_000

// clock turns the ticks of an interface into ns since 1970-01-01 UTC.
type clock struct {
	mul, div uint64 // ns = ticks·mul/div where shift is 0
	shift    uint   // ns = ticks·10⁹/2^shift where it is not
	offset   int64  // ns
	plain    uint64 // up to so many ticks, ns = ticks·mul and nothing else; 0: none
}

// newClock takes if_tsresol (bit 7 clear: 10^-n s; set: 2^-n s) and if_tsoffset in s.
func newClock(resolution uint8, offset int64) clock {
	c := clock{mul: 1, div: 1, offset: offset * 1_000_000_000}
	n := uint(resolution & 0x7F)
	if resolution&0x80 != 0 {
		if n == 0 {
			c.mul = 1_000_000_000
		}
		c.shift = n
		return c
	}
	for ; n < 9; n++ {
		c.mul *= 10
	}
	if n > 28 {
		c.mul = 0 // all that 64 bits can hold is less than 1 ns
		return c
	}
	for ; n > 9; n-- {
		c.div *= 10
	}
	if c.div == 1 && c.offset == 0 {
		c.plain = math.MaxInt64 / c.mul
	}
	return c
}

// at returns the time of ticks, rounded down to ns; ok is false outside the
// years 1677 to 2262.
func (c *clock) at(ticks uint64) (ns int64, ok bool) {
	var hi, lo uint64
	if c.shift == 0 {
		if hi, lo = bits.Mul64(ticks, c.mul); hi != 0 {
			return 0, false
		}
		lo /= c.div
	} else {
		hi, lo = bits.Mul64(ticks, 1_000_000_000)
		switch {
		case c.shift < 64:
			lo = lo>>c.shift | hi<<(64-c.shift)
			hi >>= c.shift
		default:
			lo, hi = hi>>(c.shift-64), 0
		}
		if hi != 0 {
			return 0, false
		}
	}
	if lo > math.MaxInt64 {
		return 0, false
	}
	ns = int64(lo) + c.offset
	return ns, c.offset <= 0 || ns >= 0
}

// linkName puts a link type into words (tcpdump.org/linktypes.html).
func linkName(link uint16) string {
	var what string
	switch link {
	case 1:
		what = "Ethernet"
	case 101:
		what = "raw IP"
	case 113, 276:
		what = `Linux cooked, as captures of the device "any" have it`
	case 189, 220:
		what = "USB"
	case 190:
		what = "CAN 2.0b, withdrawn"
	case 210:
		what = "FlexRay"
	case 212:
		what = "LIN"
	case linkCAN:
		what = "SocketCAN"
	default:
		return fmt.Sprintf("link type %d", link)
	}
	return fmt.Sprintf("link type %d (%s)", link, what)
}
