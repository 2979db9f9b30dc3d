package serialport

import (
	"errors"
	"fmt"
	"math/bits"
)

// CRC is a cyclic redundancy check in the parameters of Greg Cook's catalogue
// of parametrised CRC algorithms (the Rocksoft model of Ross Williams, 1993).
type CRC struct {
	Width      int    // bits, 8–64
	Poly       uint64 // without its highest term, most significant bit first
	Init       uint64 // register before the first byte
	XorOut     uint64 // combined with the register at the end
	ReflectIn  bool   // bytes are taken least significant bit first
	ReflectOut bool   // the register is turned round before XorOut
}

// validate tells what keeps the parameters from being a CRC.
func (c CRC) validate() error {
	if c.Width < 8 || c.Width > 64 {
		return fmt.Errorf("crc: width of %d bits: expected 8 to 64", c.Width)
	}
	if c.Poly == 0 {
		return errors.New("crc: no poly: expected the polynomial as the CRC catalogue writes it, as in 0x1021")
	}
	for _, p := range []struct {
		name  string
		value uint64
	}{{"poly", c.Poly}, {"init", c.Init}, {"xor_out", c.XorOut}} {
		if c.Width < 64 && p.value>>c.Width != 0 {
			return fmt.Errorf("crc: %s 0x%X has more than the %d bits of width", p.name, p.value, c.Width)
		}
	}
	return nil
}

// crcTable computes one CRC, a byte a step. A register that takes bytes most
// significant bit first is kept at the top of 64 bits, else at their bottom:
// so one loop serves every width.
type crcTable struct {
	crc   CRC
	start uint64
	table [256]uint64
}

// newCRCTable makes the table of a CRC that is valid.
func newCRCTable(c CRC) *crcTable {
	t := &crcTable{crc: c}
	up := 64 - c.Width
	if c.ReflectIn {
		poly := bits.Reverse64(c.Poly) >> up
		t.start = bits.Reverse64(c.Init) >> up
		for i := range t.table {
			r := uint64(i)
			for range 8 {
				r = r>>1 ^ poly&-(r&1)
			}
			t.table[i] = r
		}
		return t
	}
	poly := c.Poly << up
	t.start = c.Init << up
	for i := range t.table {
		r := uint64(i) << 56
		for range 8 {
			r = r<<1 ^ poly&-(r>>63)
		}
		t.table[i] = r
	}
	return t
}

// sum returns the CRC of data.
func (t *crcTable) sum(data []byte) uint64 {
	r := t.start
	if t.crc.ReflectIn {
		for _, b := range data {
			r = t.table[byte(r)^b] ^ r>>8
		}
	} else {
		for _, b := range data {
			r = t.table[byte(r>>56)^b] ^ r<<8
		}
		r >>= 64 - t.crc.Width
	}
	if t.crc.ReflectIn != t.crc.ReflectOut {
		r = bits.Reverse64(r) >> (64 - t.crc.Width)
	}
	return r ^ t.crc.XorOut
}
