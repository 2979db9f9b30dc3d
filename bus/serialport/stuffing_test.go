package serialport

import (
	"bytes"
	"math/rand/v2"
	"testing"
)

// encodeCOBS is StuffData of the paper with its finish block, for tests: it is
// written after the paper's figure and shares nothing with decodeCOBS.
func encodeCOBS(data []byte) []byte {
	out, code := []byte{0}, 0
	n := byte(1)
	finish := func() { out[code] = n; code = len(out); out = append(out, 0); n = 1 }
	for _, c := range data {
		if c == 0 {
			finish()
			continue
		}
		out = append(out, c)
		if n++; n == 0xFF {
			finish()
		}
	}
	out[code] = n
	return out
}

func encodeSLIP(data []byte) []byte {
	var out []byte
	for _, c := range data {
		switch c {
		case 0xC0:
			out = append(out, 0xDB, 0xDC)
		case 0xDB:
			out = append(out, 0xDB, 0xDD)
		default:
			out = append(out, c)
		}
	}
	return out
}

// ones returns n bytes of 1.
func ones(n int) string { return string(bytes.Repeat([]byte{1}, n)) }

func TestDecodeCOBS(t *testing.T) {
	run := func(from, to int) string {
		var b []byte
		for c := from; c <= to; c++ {
			b = append(b, byte(c))
		}
		return string(b)
	}
	tests := []struct {
		name    string
		encoded string
		want    string
		ok      bool
	}{
		// Cheshire, Baker: Consistent Overhead Byte Stuffing, IEEE/ACM Transactions on Networking 7 (1999), 2
		{
			"figure 2: 679 bytes without a zero, then one",
			"\xff" + ones(254) + "\xff" + ones(254) + "\xac" + ones(171) + "\x01", ones(679) + "\x00", true,
		},
		{
			"figure 3: the beginning of an IP header",
			"\x02\x45\x01\x04\x2C\x4C\x79\x01\x05\x40\x06\x4F\x37", "\x45\x00\x00\x2C\x4C\x79\x00\x00\x40\x06\x4F\x37", true,
		},
		// the examples of Wikipedia, Consistent Overhead Byte Stuffing
		{"1", "\x01\x01", "\x00", true},
		{"2", "\x01\x01\x01", "\x00\x00", true},
		{"3", "\x01\x02\x11\x01", "\x00\x11\x00", true},
		{"4", "\x03\x11\x22\x02\x33", "\x11\x22\x00\x33", true},
		{"5", "\x05\x11\x22\x33\x44", "\x11\x22\x33\x44", true},
		{"6", "\x02\x11\x01\x01\x01", "\x11\x00\x00\x00", true},
		{"7", "\xff" + run(1, 254), run(1, 254), true},
		{"8", "\x01\xff" + run(1, 254), "\x00" + run(1, 254), true},
		{"9", "\xff" + run(1, 254) + "\x02\xff", run(1, 255), true},
		{"10", "\xff" + run(2, 255) + "\x01\x01", run(2, 255) + "\x00", true},
		{"11", "\xfe" + run(3, 255) + "\x02\x01", run(3, 255) + "\x00\x01", true},
		// a last block of 254 may be closed by an empty one (the paper's own code does)
		{"closed by an empty block", "\xff" + run(1, 254) + "\x01", run(1, 254), true},
		{"a code beyond the end", "\x05\x11\x22", "", false},
		{"255 beyond the end", "\xff\x11", "", false},
		{"a zero", "\x01\x00\x01", "", false},
		{"one code", "\x01", "", true},
		{"nothing", "", "", true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, ok := decodeCOBS([]byte(tt.encoded))
			if string(got) != tt.want || ok != tt.ok {
				t.Errorf("got % x, %t, want % x, %t", got, ok, tt.want, tt.ok)
			}
		})
	}
}

func TestDecodeSLIP(t *testing.T) {
	tests := []struct {
		name    string
		encoded string
		want    string
		ok      bool
	}{
		// RFC 1055: END is sent as ESC ESC_END, ESC as ESC ESC_ESC
		{"plain", "abc", "abc", true},
		{"end", "a\xdb\xdcb", "a\xc0b", true},
		{"escape", "\xdb\xdd", "\xdb", true},
		{"escaped codes stay", "\xdc\xdd", "\xdc\xdd", true},
		{"both", "\xdb\xdc\xdb\xdd\xdb\xdd", "\xc0\xdb\xdb", true},
		{"neither", "a\xdbb", "", false},
		{"cut off", "a\xdb", "", false},
		{"nothing", "", "", true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, ok := decodeSLIP([]byte(tt.encoded))
			if string(got) != tt.want || ok != tt.ok {
				t.Errorf("got % x, %t, want % x, %t", got, ok, tt.want, tt.ok)
			}
		})
	}
}

func TestStuffingRoundTrip(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 2000 {
		data := make([]byte, rng.IntN(600))
		for i := range data {
			data[i] = []byte{0, 1, 0xC0, 0xDB, 0xDC, 0xDD, byte(rng.Uint32())}[rng.IntN(7)]
		}
		if rng.IntN(4) == 0 {
			data = bytes.ReplaceAll(data, []byte{0}, []byte{9})
		}
		if got, ok := decodeCOBS(encodeCOBS(data)); !ok || !bytes.Equal(got, data) {
			t.Fatalf("cobs: got % x, %t, want % x", got, ok, data)
		}
		if got, ok := decodeSLIP(encodeSLIP(data)); !ok || !bytes.Equal(got, data) {
			t.Fatalf("slip: got % x, %t, want % x", got, ok, data)
		}
	}
}
