package serialport

import (
	"hash/crc32"
	"hash/crc64"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"
)

var check = []byte("123456789")

// TestCatalogue compares with testdata/crc-catalogue.tsv: the check value as the
// catalogue states it, and what another implementation made of 256 bytes.
func TestCatalogue(t *testing.T) {
	text, err := os.ReadFile("testdata/crc-catalogue.tsv")
	if err != nil {
		t.Fatal(err)
	}
	counting := make([]byte, 256)
	for i := range counting {
		counting[i] = byte(i)
	}
	n := 0
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		n++
		f := strings.Split(strings.TrimSpace(line), "\t")
		u := func(i int) uint64 {
			v, err := strconv.ParseUint(f[i], 0, 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		t.Run(f[0], func(t *testing.T) {
			c := CRC{Width: int(u(1)), Poly: u(2), Init: u(3), ReflectIn: f[4] == "true", ReflectOut: f[5] == "true", XorOut: u(6)}
			if err := c.validate(); err != nil {
				t.Fatal(err)
			}
			table := newCRCTable(c)
			if got, want := table.sum(check), u(7); got != want {
				t.Errorf("got %#x, want %#x", got, want)
			}
			if got, want := table.sum(counting), u(8); got != want {
				t.Errorf("of 0 to 255: got %#x, want %#x", got, want)
			}
		})
	}
	if n < 80 {
		t.Errorf("only %d rows", n)
	}
}

// TestKnownCRCs has the check values that are written down in many places, by hand.
func TestKnownCRCs(t *testing.T) {
	tests := []struct {
		name string
		crc  CRC
		want uint64
	}{
		{"CRC-16/IBM-3740", CRC{Width: 16, Poly: 0x1021, Init: 0xFFFF}, 0x29B1},
		{"CRC-16/MODBUS", CRC{Width: 16, Poly: 0x8005, Init: 0xFFFF, ReflectIn: true, ReflectOut: true}, 0x4B37},
		{"CRC-16/XMODEM", CRC{Width: 16, Poly: 0x1021}, 0x31C3},
		{"CRC-16/ARC", CRC{Width: 16, Poly: 0x8005, ReflectIn: true, ReflectOut: true}, 0xBB3D},
		{"CRC-32/ISO-HDLC", CRC{Width: 32, Poly: 0x04C11DB7, Init: 0xFFFFFFFF, XorOut: 0xFFFFFFFF, ReflectIn: true, ReflectOut: true}, 0xCBF43926},
		{"CRC-8/SAE-J1850", CRC{Width: 8, Poly: 0x1D, Init: 0xFF, XorOut: 0xFF}, 0x4B},
		{"CRC-8/SMBUS", CRC{Width: 8, Poly: 0x07}, 0xF4},
		// the one entry of the catalogue that is reflected on its way out only
		{"CRC-12/UMTS", CRC{Width: 12, Poly: 0x80F, ReflectOut: true}, 0xDAF},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := newCRCTable(tt.crc).sum(check); got != tt.want {
				t.Errorf("got %#x, want %#x", got, tt.want)
			}
		})
	}
}

// TestCRCAgainstStandardLibrary compares random bytes with hash/crc32 and hash/crc64.
func TestCRCAgainstStandardLibrary(t *testing.T) {
	reflected := func(width int, poly, ends uint64) *crcTable {
		return newCRCTable(CRC{Width: width, Poly: poly, Init: ends, XorOut: ends, ReflectIn: true, ReflectOut: true})
	}
	const all32, all64 = 0xFFFFFFFF, 0xFFFFFFFFFFFFFFFF
	tests := []struct {
		name string
		ours *crcTable
		want func([]byte) uint64
	}{
		{"IEEE", reflected(32, 0x04C11DB7, all32), func(b []byte) uint64 { return uint64(crc32.ChecksumIEEE(b)) }},
		{"Castagnoli", reflected(32, 0x1EDC6F41, all32), func(b []byte) uint64 { return uint64(crc32.Checksum(b, crc32.MakeTable(crc32.Castagnoli))) }},
		{"Koopman", reflected(32, 0x741B8CD7, all32), func(b []byte) uint64 { return uint64(crc32.Checksum(b, crc32.MakeTable(crc32.Koopman))) }},
		{"ISO", reflected(64, 0x1B, all64), func(b []byte) uint64 { return crc64.Checksum(b, crc64.MakeTable(crc64.ISO)) }},
		{"ECMA", reflected(64, 0x42F0E1EBA9EA3693, all64), func(b []byte) uint64 { return crc64.Checksum(b, crc64.MakeTable(crc64.ECMA)) }},
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for range 500 {
				b := make([]byte, rng.IntN(100))
				for i := range b {
					b[i] = byte(rng.Uint32())
				}
				if got, want := tt.ours.sum(b), tt.want(b); got != want {
					t.Fatalf("% x: got %#x, want %#x", b, got, want)
				}
			}
		})
	}
}

// TestCRCOrder: sent in its natural order, data and checksum have a CRC that
// does not depend on the data (the residue of the catalogue).
func TestCRCOrder(t *testing.T) {
	for _, c := range []CRC{
		{Width: 16, Poly: 0x1021, Init: 0xFFFF},
		{Width: 16, Poly: 0x8005, Init: 0xFFFF, ReflectIn: true, ReflectOut: true},
		{Width: 32, Poly: 0x04C11DB7, Init: 0xFFFFFFFF, XorOut: 0xFFFFFFFF, ReflectIn: true, ReflectOut: true},
	} {
		sum := Checksum{CRC: c}
		table := newCRCTable(c)
		one, other := table.sum(sealed(check, &sum, nil)), table.sum(sealed([]byte("another text"), &sum, nil))
		if one != other {
			t.Errorf("%+v: residues %#x and %#x differ: the bytes are in the wrong order", c, one, other)
		}
	}
}

func TestSums(t *testing.T) {
	tests := []struct {
		name string
		kind Kind
		data string
		want uint64
	}{
		{"sum of nothing", KindSum8, "", 0},
		{"sum8 wraps", KindSum8, "\xff\x02", 1},
		{"sum8", KindSum8, "123456789", 0xDD}, // 477 = 0x1DD, by hand
		{"sum16", KindSum16, "123456789", 0x1DD},
		{"sum16 of high bytes has no sign", KindSum16, "\xff\xff", 0x1FE},
		{"lrc8", KindLRC8, "123456789", 0x23},
		{"lrc8 of nothing", KindLRC8, "", 0},
		{"xor8", KindXor8, "123456789", 0x31}, // '1'^'9' = 8, '2'^…^'8' = 0x39^… by hand: 0x31
		// the example sentence of NMEA 0183 that is found everywhere
		{"xor8 of a sentence", KindXor8, "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,", 0x47},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			v := newVerifier(&Checksum{Kind: tt.kind})
			if got := v.sum([]byte(tt.data)); got != tt.want {
				t.Errorf("got %#x, want %#x", got, tt.want)
			}
		})
	}
}

func TestChecksumFaults(t *testing.T) {
	tests := []struct {
		name string
		sum  Checksum
		want string
	}{
		{"too narrow", Checksum{CRC: CRC{Width: 7, Poly: 1}}, "width of 7 bits: expected 8 to 64"},
		{"too wide", Checksum{CRC: CRC{Width: 65, Poly: 1}}, "width of 65 bits"},
		{"no poly", Checksum{CRC: CRC{Width: 16}}, "no poly"},
		{"poly too large", Checksum{CRC: CRC{Width: 16, Poly: 0x11021}}, "poly 0x11021 has more than the 16 bits"},
		{"xor_out too large", Checksum{CRC: CRC{Width: 8, Poly: 7, XorOut: 0x100}}, "xor_out 0x100"},
		{"unknown kind", Checksum{Kind: "md5"}, `kind "md5": expected crc, sum8`},
		{"unknown order", Checksum{Kind: KindXor8, Order: "middle"}, `order "middle"`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			err := tt.sum.validate()
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %v, want %q in it", err, tt.want)
			}
		})
	}
}
