package serialport

import (
	"errors"
	"fmt"
	"strings"
)

// Kind says how a checksum is computed.
type Kind string

// The kinds of checksum. The sums take bytes as numbers without sign.
const (
	KindCRC   Kind = ""      // Checksum.CRC says the rest
	KindSum8  Kind = "sum8"  // sum of the bytes, modulo 2^8
	KindSum16 Kind = "sum16" // sum of the bytes, modulo 2^16
	KindLRC8  Kind = "lrc8"  // the number that makes the sum of all bytes, itself included, 0 modulo 2^8
	KindXor8  Kind = "xor8"  // exclusive or of the bytes
)

// Order is the order of a checksum's bytes on the line.
type Order string

// The orders. A CRC that is reflected on its way out goes least significant
// byte first by nature, every other checksum most significant byte first: then
// the CRC over data and checksum is a constant.
const (
	Natural      Order = ""
	LittleEndian Order = "little"
	BigEndian    Order = "big"
)

// Checksum stands at the end of each packet. Of lines it stands as hexadecimal
// digits after a "*" and covers what comes before that, a leading "$" or "!" left out.
type Checksum struct {
	Kind      Kind
	CRC       CRC // for KindCRC
	Order     Order
	CoverSync bool // it covers the sync bytes too; by default it begins after them
}

// validate tells what is wrong with the checksum.
func (c *Checksum) validate() error {
	var faults []error
	switch c.Order {
	case Natural, LittleEndian, BigEndian:
	default:
		faults = append(faults, fmt.Errorf("checksum: order %q: expected little or big", c.Order))
	}
	switch c.Kind {
	case KindCRC:
		faults = append(faults, c.CRC.validate())
	case KindSum8, KindSum16, KindLRC8, KindXor8:
	default:
		faults = append(faults, fmt.Errorf("checksum: kind %q: expected %s", c.Kind, strings.Join(kindWords(), ", ")))
	}
	return errors.Join(faults...)
}

// kindWords are the kinds as a layout file writes them.
func kindWords() []string {
	return []string{"crc", string(KindSum8), string(KindSum16), string(KindLRC8), string(KindXor8)}
}

// size is how many bytes the checksum takes.
func (c *Checksum) size() int {
	switch c.Kind {
	case KindCRC:
		return (c.CRC.Width + 7) / 8
	case KindSum16:
		return 2
	default:
		return 1
	}
}

// verifier compares checksums.
type verifier struct {
	kind   Kind
	size   int // bytes; 0: there is no checksum
	little bool
	table  *crcTable
}

// newVerifier makes one for a valid checksum; nil is none.
func newVerifier(c *Checksum) verifier {
	if c == nil {
		return verifier{}
	}
	v := verifier{kind: c.Kind, size: c.size(), little: c.Order == LittleEndian}
	if c.Kind == KindCRC {
		v.table = newCRCTable(c.CRC)
		if c.Order == Natural {
			v.little = c.CRC.ReflectOut
		}
	}
	return v
}

// sum computes the checksum of data.
func (v *verifier) sum(data []byte) uint64 {
	if v.kind == KindCRC {
		return v.table.sum(data)
	}
	var r uint64
	if v.kind == KindXor8 {
		for _, b := range data {
			r ^= uint64(b)
		}
		return r
	}
	for _, b := range data {
		r += uint64(b)
	}
	switch v.kind {
	case KindSum16:
		return r & 0xFFFF
	case KindLRC8:
		return -r & 0xFF
	default:
		return r & 0xFF
	}
}

// holds reports whether the checksum as it was received is that of data.
func (v *verifier) holds(data, received []byte) bool {
	return v.sum(data) == number(received, !v.little)
}

// number reads up to 8 bytes as a number without sign.
func number(b []byte, bigEndian bool) uint64 {
	var n uint64
	for i := range b {
		if bigEndian {
			n = n<<8 | uint64(b[i])
		} else {
			n |= uint64(b[i]) << (8 * i)
		}
	}
	return n
}
