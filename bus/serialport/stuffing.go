package serialport

// decodeCOBS undoes Consistent Overhead Byte Stuffing of one packet without its
// delimiting zero, in place, and returns what remains. A code byte n stands
// before n−1 bytes that are taken over; a zero follows them unless n is 255 or
// the packet ends there. ok is false where a code reaches beyond the end.
//
// Cheshire, Baker: Consistent Overhead Byte Stuffing, IEEE/ACM Transactions on Networking 7 (1999), 2.
func decodeCOBS(b []byte) (payload []byte, ok bool) {
	n := 0
	for i := 0; i < len(b); {
		code := int(b[i])
		i++
		if code == 0 || i+code-1 > len(b) {
			return nil, false
		}
		n += copy(b[n:], b[i:i+code-1])
		i += code - 1
		if code < 0xFF && i < len(b) {
			b[n] = 0
			n++
		}
	}
	return b[:n], true
}

// The special characters of SLIP (RFC 1055).
const (
	slipEnd    = 0xC0
	slipEsc    = 0xDB
	slipEscEnd = 0xDC // after slipEsc: a slipEnd of the payload
	slipEscEsc = 0xDD // after slipEsc: a slipEsc of the payload
)

// decodeSLIP undoes the stuffing of RFC 1055 of one packet without its end
// characters, in place. ok is false where an escape is followed by neither of
// the two characters that may follow: the RFC leaves that to the receiver.
func decodeSLIP(b []byte) (payload []byte, ok bool) {
	n := 0
	for i := 0; i < len(b); i++ {
		c := b[i]
		if c == slipEsc {
			i++
			switch {
			case i < len(b) && b[i] == slipEscEnd:
				c = slipEnd
			case i < len(b) && b[i] == slipEscEsc:
				c = slipEsc
			default:
				return nil, false
			}
		}
		b[n] = c
		n++
	}
	return b[:n], true
}
