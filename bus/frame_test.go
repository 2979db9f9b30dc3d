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

// TestBitsFD: Linux 6.12 counts in include/linux/can/length.h (Debian's linux-headers, can_frame_bits with stuffing and the pause) the fields before
// the data, 22 bits or 41, with the data and a stuff bit for each four after the first; then 28 bits of checksum up to 16 bytes or 33
// beyond, 9 of the end and 3 of the pause. We have one more, of the acknowledge slot.
func TestBitsFD(t *testing.T) {
	for _, n := range []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64} {
		for flags, head := range map[Flags]int{FD: 22, FD | Extended: 41} {
			stuffed := head + 8*n + (head+8*n-1)/4
			crc := 28
			if n > 16 {
				crc = 33
			}
			f := Frame{Len: uint8(n), Flags: flags}
			all, none := f.Bits()
			f.Flags |= BitRateSwitch
			slow, fast := f.Bits()
			if want := stuffed + crc + 9 + 3 + 1; all != want || none != 0 || slow+fast != want {
				t.Errorf("%d bytes, flags %b: %d bits, at two rates %d and %d, want %d", n, flags, all, slow, fast, want)
			}
		}
	}
}
