package bus

import "testing"

// The lengths of Davis, Burns, Bril and Lukkien (2007), table 1: a frame of 8 bytes takes at most 135 bits
// with an 11-bit identifier and 160 with a 29-bit one, of 0 bytes 55 and 80.
func TestBits(t *testing.T) {
	for _, c := range []struct {
		name          string
		f             Frame
		nominal, data int
	}{
		{"11-bit, 8 bytes", Frame{Len: 8}, 135, 0},
		{"29-bit, 8 bytes", Frame{Len: 8, Flags: Extended}, 160, 0},
		{"11-bit, none", Frame{}, 55, 0},
		{"29-bit, none", Frame{Flags: Extended}, 80, 0},
		{"a request has no data", Frame{Len: 8, Flags: Remote}, 55, 0},
		// 17 bits of head with 4 stuff bits and 13 of tail; 5 + 64·8 bits of body with 129 stuff bits, 4 of stuff count, 21 of checksum with 7, delimiter.
		{"FD, 64 bytes, two rates", Frame{Len: 64, Flags: FD | BitRateSwitch}, 34, 517 + 129 + 4 + 21 + 7 + 1},
		{"FD, 64 bytes, one rate", Frame{Len: 64, Flags: FD}, 34 + 679, 0},
	} {
		if nominal, data := c.f.Bits(); nominal != c.nominal || data != c.data {
			t.Errorf("%s: %d and %d bits, want %d and %d", c.name, nominal, data, c.nominal, c.data)
		}
	}
}
