package candump

import "encoding/binary"

// hexValue maps a character to its value as a hex digit, anything else to 0xFF.
// A constant string, so that it needs no variable and indexing by a byte needs
// no bounds check.
const (
	none16   = "\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff"
	none64   = none16 + none16 + none16 + none16
	letters  = "\xff\x0a\x0b\x0c\x0d\x0e\x0f\xff\xff\xff\xff\xff\xff\xff\xff\xff" + none16
	hexValue = none16 + none16 + none16 +
		"\x00\x01\x02\x03\x04\x05\x06\x07\x08\x09\xff\xff\xff\xff\xff\xff" +
		letters + letters + none64 + none64
)

const (
	hexDigits = "0123456789ABCDEF"

	each = 0x0101010101010101 // times b: b in each byte
	high = 0x80 * each
)

// hex8 reads eight hex digits. s has at least eight bytes.
//
// All eight at once in one word: with d = c^'0' a digit has d < 10, with
// l = (c|0x20)^0x60 a letter has 1 ≤ l ≤ 6; additions that lift the bound to
// 0x80 leave the answer in the high bit of each byte and never carry over,
// because d and l are below 0x80 where c is.
func hex8(s []byte) (uint32, bool) {
	x := binary.BigEndian.Uint64(s)
	d := x ^ 0x30*each
	l := (x | 0x20*each) ^ 0x60*each
	isDigit := ^(d + 0x76*each)
	isLetter := (l + 0x7f*each) &^ (l + 0x79*each)
	if (x|^(isDigit|isLetter))&high != 0 {
		return 0, false
	}
	// The low nibble of a letter counts from 1, and bit 6 tells a letter.
	x = x&(0x0f*each) + 9*(x>>6&each)
	x = (x | x>>4) & 0x00ff00ff00ff00ff
	x = (x | x>>8) & 0x0000ffff0000ffff
	return uint32(x | x>>16), true
}

// decimal8 reads eight decimal digits, the first in the lowest byte of x.
func decimal8(x uint64) (uint64, bool) {
	if (x&(0xf0*each))|((x+0x06*each)&(0xf0*each)>>4) != 0x33*each {
		return 0, false
	}
	x -= 0x30 * each
	x = x*10 + x>>8 // pairs, in every second byte
	const pairs = 0x000000ff000000ff
	x = ((x&pairs)*(100+1000000<<32) + (x>>16&pairs)*(1+10000<<32)) >> 32
	return x & 0xffffffff, true
}

// decimal reads all of s, at most 19 digits, as an unsigned decimal number.
func decimal(s []byte) (uint64, bool) {
	if len(s) == 0 || len(s) > 19 {
		return 0, false
	}
	var v uint64
	for _, c := range s {
		if c -= '0'; c > 9 {
			return 0, false
		}
		v = v*10 + uint64(c)
	}
	return v, true
}

// power10 is 10^n for n from 0 to 9.
func power10(n int) uint64 {
	v := uint64(1)
	for range n {
		v *= 10
	}
	return v
}
