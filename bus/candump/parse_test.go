package candump

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
)

const second = 1_000_000_000

// Rows marked lib.h are the examples that can-utils gives for its own parser
// (lib.h, parse_canframe); others follow the code of that function (lib.c).
func TestFrameForms(t *testing.T) {
	eight := "\x11\x22\x33\x44\x55\x66\x77\x88"
	long := strings.Repeat("\x0f\xf0\xA5\x5a", 16)
	for _, tt := range []struct {
		name string
		text string // after "(1.000000) can0 "
		want bus.Frame
	}{
		{"11-bit, empty (lib.h)", "123#", bus.Frame{ID: 0x123}},
		{"29-bit, empty (lib.h)", "12345678#", bus.Frame{ID: 0x12345678, Flags: bus.Extended}},
		{"one byte (lib.h)", "123#00", bus.Frame{ID: 0x123, Len: 1}},
		{"eight bytes (lib.h)", "123#1122334455667788", bus.Frame{ID: 0x123, Len: 8, Data: data(eight)}},
		{"raw length code (lib.h)", "123#1122334455667788_E", bus.Frame{ID: 0x123, Len: 8, Data: data(eight)}},
		{"dots (lib.h)", "123#11.22.33.44.55.66.77.88", bus.Frame{ID: 0x123, Len: 8, Data: data(eight)}},
		{"some dots (lib.h)", "123#11.2233.44556677.88", bus.Frame{ID: 0x123, Len: 8, Data: data(eight)}},
		{"dot first and last", "123#.11.", bus.Frame{ID: 0x123, Len: 1, Data: data("\x11")}},
		{"lower case", "7fa#abcdef0123", bus.Frame{ID: 0x7FA, Len: 5, Data: data("\xab\xcd\xef\x01\x23")}},
		{"lower case 29-bit", "1abcdef9#", bus.Frame{ID: 0x1ABCDEF9, Flags: bus.Extended}},
		{"mixed case", "7Fa#aBCd", bus.Frame{ID: 0x7FA, Len: 2, Data: data("\xab\xcd")}},
		{"11-bit zero", "000#", bus.Frame{}},
		{"11-bit highest", "7FF#", bus.Frame{ID: 0x7FF}},
		{"29-bit zero", "00000000#", bus.Frame{Flags: bus.Extended}},
		{"29-bit highest", "1FFFFFFF#01", bus.Frame{ID: 0x1FFFFFFF, Flags: bus.Extended, Len: 1, Data: data("\x01")}},

		{"remote (lib.h)", "123#R", bus.Frame{ID: 0x123, Flags: bus.Remote}},
		{"remote 0 (lib.h)", "123#R0", bus.Frame{ID: 0x123, Flags: bus.Remote}},
		{"remote 7 (lib.h)", "123#R7", bus.Frame{ID: 0x123, Flags: bus.Remote, Len: 7}},
		{"remote 8 with raw length code (lib.h)", "123#R8_9", bus.Frame{ID: 0x123, Flags: bus.Remote, Len: 8}},
		{"remote lower case (lib.h)", "7A1#r", bus.Frame{ID: 0x7A1, Flags: bus.Remote}},
		{"remote 29-bit", "00000123#R2", bus.Frame{ID: 0x123, Flags: bus.Remote | bus.Extended, Len: 2}},

		{"error frame (lib.h)", "32345678#112233", bus.Frame{ID: 0x12345678, Flags: bus.Error, Len: 3, Data: data("\x11\x22\x33")}},
		{"error frame, class only", "20000004#", bus.Frame{ID: 4, Flags: bus.Error}},
		{"error frame as candump writes it", "20000204#000C000000007F00", bus.Frame{
			ID: 0x204, Flags: bus.Error, Len: 8, Data: data("\x00\x0c\x00\x00\x00\x00\x7f\x00"),
		}},

		{"FD (lib.h)", "123##0112233", bus.Frame{ID: 0x123, Flags: bus.FD, Len: 3, Data: data("\x11\x22\x33")}},
		{"FD, BRS (lib.h)", "123##1112233", bus.Frame{ID: 0x123, Flags: bus.FD | bus.BitRateSwitch, Len: 3, Data: data("\x11\x22\x33")}},
		{"FD, ESI (lib.h)", "123##2112233", bus.Frame{ID: 0x123, Flags: bus.FD | bus.ErrorState, Len: 3, Data: data("\x11\x22\x33")}},
		{"FD, both, empty (lib.h)", "123##3", bus.Frame{ID: 0x123, Flags: bus.FD | bus.BitRateSwitch | bus.ErrorState}},
		{"FD, newer mark 4", "123##4", bus.Frame{ID: 0x123, Flags: bus.FD}},
		{"FD, newer mark with BRS", "123##5AA", bus.Frame{ID: 0x123, Flags: bus.FD | bus.BitRateSwitch, Len: 1, Data: data("\xaa")}},
		{"FD, all bits, lower case", "123##f", bus.Frame{ID: 0x123, Flags: bus.FD | bus.BitRateSwitch | bus.ErrorState}},
		{"FD, dots", "123##1.11.22", bus.Frame{ID: 0x123, Flags: bus.FD | bus.BitRateSwitch, Len: 2, Data: data("\x11\x22")}},
		{"FD, 12 bytes", "12345678##0" + strings.Repeat("A5", 12), bus.Frame{
			ID: 0x12345678, Flags: bus.FD | bus.Extended, Len: 12, Data: data(strings.Repeat("\xa5", 12)),
		}},
		{"FD, 64 bytes", "123##1" + strings.Repeat("0FF0A55A", 16), bus.Frame{
			ID: 0x123, Flags: bus.FD | bus.BitRateSwitch, Len: 64, Data: data(long),
		}},

		{"received", "123#11 R", bus.Frame{ID: 0x123, Len: 1, Data: data("\x11")}},
		{"transmitted", "123#11 T", bus.Frame{ID: 0x123, Flags: bus.Transmitted, Len: 1, Data: data("\x11")}},
		{"transmitted, eight bytes", "123#1122334455667788 T", bus.Frame{ID: 0x123, Flags: bus.Transmitted, Len: 8, Data: data(eight)}},
		{"transmitted, remote", "123#R T", bus.Frame{ID: 0x123, Flags: bus.Transmitted | bus.Remote}},
		{"transmitted, raw length code", "123#1122334455667788_f T", bus.Frame{ID: 0x123, Flags: bus.Transmitted, Len: 8, Data: data(eight)}},
		{"transmitted, empty FD", "123##0 T", bus.Frame{ID: 0x123, Flags: bus.Transmitted | bus.FD}},
		{"blanks at the end", "123#11 \t ", bus.Frame{ID: 0x123, Len: 1, Data: data("\x11")}},
		{"blanks about the direction", "123#11   T  ", bus.Frame{ID: 0x123, Flags: bus.Transmitted, Len: 1, Data: data("\x11")}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tt.want.At = second
			for _, ending := range []string{"\n", "\r\n"} {
				got := read(t, "(1.000000) can0 "+tt.text+ending)
				want := result{Frames: []bus.Frame{tt.want}, Names: []string{"can0"}}
				if diff := cmp.Diff(got, want); diff != "" {
					t.Errorf("ending %q: got -, want +\n%s", ending, diff)
				}
			}
		})
	}
}

func TestStamps(t *testing.T) {
	for _, tt := range []struct {
		text string
		want int64
	}{
		{"1436509052.249713", 1436509052_249713000},
		{"1436509052.249713123", 1436509052_249713123},
		{"1436509052.000000", 1436509052_000000000},
		{"0000000000.000000", 0},
		{"0000000000.000000001", 1},
		{"000.000000", 0}, // candump -t z
		{"0.1", 100_000_000},
		{"0.12", 120_000_000},
		{"1.999999999", 1_999_999_999},
		{"1436509052.2497", 1436509052_249700000},
		{"1436509052.2497131", 1436509052_249713100},
		{"9223372035.999999999", 9223372035_999999999},
		{"0009223372035.5", 9223372035_500000000},
	} {
		t.Run(tt.text, func(t *testing.T) {
			got := read(t, "("+tt.text+") can0 123#\n")
			if len(got.Frames) != 1 || got.Frames[0].At != tt.want {
				t.Errorf("got %+v, want one frame at %d", got, tt.want)
			}
		})
	}
}

// The usual width and any width are two pieces of code that must agree.
func TestStampAgrees(t *testing.T) {
	for _, text := range []string{
		"(1436509052.249713) can0 123#", "(1436509052.249713987) can0 123#", "(9999999999.249713) can0 123#",
		"(143650905x.249713) can0 123#", "(14365x9052.249713) can0 123#", "(1436509052.2497x3) can0 123#",
		"(1436509052.2497130x7) can0 123#", "(1436509052.24971300x) can0 123#", "(1436509052.) can0 123#1122334455",
		"(1436509052.249713 can0 123#)", "(:436509052.249713) can0 123#", "(1436509052./49713) can0 123#",
	} {
		at, next, want := stamp([]byte(text))
		at2, next2, want2 := oddStamp([]byte(text))
		if at != at2 || next != next2 || want != want2 {
			t.Errorf("%s: got %d %d %q, want %d %d %q", text, at, next, want, at2, next2, want2)
		}
	}
}

func TestNames(t *testing.T) {
	got := read(t, `(1.0)  can0 001#
(1.0) vcan1 002#
(1.0)	 can1 003#
(1.0)    any	004#
(1.0) can10 005#
(1.0)  can1 006#
(1.0) /dev/ttyÄ0 007#
(1.0)  can0 008#
`)
	want := []string{"can0", "vcan1", "can1", "any", "can10", "/dev/ttyÄ0"}
	if diff := cmp.Diff(got.Names, want); diff != "" {
		t.Errorf("names: got -, want +\n%s", diff)
	}
	var sources []uint16
	for _, f := range got.Frames {
		sources = append(sources, f.Source)
	}
	if diff := cmp.Diff(sources, []uint16{0, 1, 2, 3, 4, 2, 5, 0}); diff != "" {
		t.Errorf("sources: got -, want +\n%s", diff)
	}
}

func TestTooManyNames(t *testing.T) {
	var text strings.Builder
	for i := range maxNames + 1 {
		fmt.Fprintf(&text, "(1.0) can%d 123#\n", i)
	}
	got := read(t, text.String())
	if len(got.Names) != maxNames || len(got.Frames) != maxNames || len(got.Notes) != 1 {
		t.Fatalf("got %d names, %d frames, notes %v, want %d, %[4]d and one note", len(got.Names), len(got.Frames), got.Notes, maxNames)
	}
	if want := `t.log:257: expected at most 256 interfaces in one log at column 7, found "can256 123#"; line skipped`; got.Notes[0].Text != want {
		t.Errorf("got %s\nwant %s", got.Notes[0].Text, want)
	}
}

func TestBrokenLines(t *testing.T) {
	for _, tt := range []struct {
		name string
		line string
		want string // of the warning, between "t.log:2: expected " and "; line skipped"
	}{
		{"no fraction", "(1436509052) can0 123#", wantFraction + ` at column 12, found ") can0 123#"`},
		{"empty fraction", "(1436509052.) can0 123#", wantDecimals + ` at column 13, found ") can0 123#"`},
		{"ten decimals", "(1.1234567890) can0 123#", wantDecimals + ` at column 4, found "1234567890) can0 123#"`},
		{"date", "(2024-03-04 10:15:30.000000) can0 123#", wantNoDate + ` at column 2, found "2024-03-04 10:15:30.0000"`},
		{"negative", "(-1.0) can0 123#", wantSeconds + ` at column 2, found "-1.0) can0 123#"`},
		{"too late", "(9223372036.000000) can0 123#", wantSeconds + ` at column 2, found "9223372036.000000) can0 "`},
		{"letter in the seconds", "(143650905x.249713) can0 123#", wantSeconds + ` at column 2, found "143650905x.249713) can0 "`},
		{"letter in the fraction", "(1436509052.24971x) can0 123#", wantDecimals + ` at column 13, found "24971x) can0 123#"`},
		{"stamp not closed", "(1436509052.249713", wantClosing + " at column 19, found the end of the line"},
		{"no blank", "(1.0)can0 123#", wantBlank + ` at column 6, found "can0 123#"`},
		{"only a stamp", "(1.0)", wantBlank + " at column 6, found the end of the line"},
		{"only an interface", "(1.0) can0", wantFrame + " at column 11, found the end of the line"},
		{"interface and blank", "(1.0) can0 ", wantFrame + " at column 11, found the end of the line"},
		{"terminal output", "(1.0)  can0  123   [2]  11 22", wantFrame + ` at column 14, found "123   [2]  11 22"`},
		{"control character in the name", "(1.0) can\x7f0 123#", `an interface name of printable characters at column 7, found "can\x7f0 123#"`},
		{"long name", "(1.0) " + strings.Repeat("n", 65) + " 123#", `an interface name of 1 to 64 bytes at column 7, found "` + strings.Repeat("n", 24) + `"`},
		{"no #", "(1.0) can0 12311", wantFrame + ` at column 12, found "12311"`},
		{"two digits", "(1.0) can0 12#11", wantID + ` at column 12, found "12#11"`},
		{"four digits", "(1.0) can0 1234#11", wantID + ` at column 12, found "1234#11"`},
		{"not hex", "(1.0) can0 12G#11", wantID + ` at column 12, found "12G#11"`},
		{"not hex, 8 digits", "(1.0) can0 1234567G#11", wantID + ` at column 12, found "1234567G#11"`},
		{"12 bits", "(1.0) can0 800#", wantID11 + ` at column 12, found "800#"`},
		{"30 bits and more", "(1.0) can0 40000000#", wantID29 + ` at column 12, found "40000000#"`},
		{"CAN XL (lib.h)", "(1.0) can0 45123#81:00:12345678#11223344.556677", wantNoXL + ` at column 12, found "45123#81:00:12345678#112"`},
		{"half a byte", "(1.0) can0 123#112", wantPair + ` at column 18, found "2"`},
		{"letter in the data", "(1.0) can0 123#1122334455667x88", wantPair + ` at column 28, found "7x88"`},
		{"two dots", "(1.0) can0 123#11..22", wantPair + ` at column 19, found ".22"`},
		{"nine bytes", "(1.0) can0 123#112233445566778899", wantMax8 + ` at column 32, found "99"`},
		{"65 bytes", "(1.0) can0 123##0" + strings.Repeat("00", 65), wantMax64 + ` at column 146, found "00"`},
		{"FD without flags", "(1.0) can0 123##", wantNibble + " at column 17, found the end of the line"},
		{"FD flags not hex", "(1.0) can0 123##x", wantNibble + ` at column 17, found "x"`},
		{"FD with raw length code", "(1.0) can0 123##01122334455667788_9", wantPair + ` at column 34, found "_9"`},
		{"remote 9", "(1.0) can0 123#R9", wantLength + ` at column 17, found "9"`},
		{"remote and data", "(1.0) can0 123#R1122", wantDirection + ` at column 18, found "122"`},
		{"raw length code 8", "(1.0) can0 123#1122334455667788_8", wantDLC + ` at column 32, found "_8"`},
		{"raw length code of 7 bytes", "(1.0) can0 123#11223344556677_9", wantPair + ` at column 30, found "_9"`},
		{"remote raw length code missing", "(1.0) can0 123#R8_", wantDLC + ` at column 18, found "_"`},
		{"remote error frame", "(1.0) can0 20000001#R", wantPlain + ` at column 21, found "R"`},
		{"FD error frame", "(1.0) can0 20000001##0", wantPlain + ` at column 21, found "#0"`},
		{"two directions", "(1.0) can0 123#11 R T", wantDirection + ` at column 21, found "T"`},
		{"something after", "(1.0) can0 123#11 x", wantDirection + ` at column 19, found "x"`},
		{"direction with a tail", "(1.0) can0 123#11 Tx", wantDirection + ` at column 19, found "Tx"`},
		{"two lines in one", "(1.0) can0 12(2.0) can0 123#11", wantID + ` at column 12, found "12(2.0) can0 123#11"`},
		{"blanks before", "  (1.0) can0 12#11", wantID + ` at column 14, found "12#11"`},
		{"return inside", "(1.0) can0 123#\r11", wantPair + ` at column 16, found "\r11"`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := read(t, "(7.5) can0 001#\n"+tt.line+"\n(8.0) can0 002#\n")
			if len(got.Frames) != 2 || got.Frames[1].ID != 2 || len(got.Names) != 1 {
				t.Errorf("the lines about it: got %d frames, names %q, want 2 of can0", len(got.Frames), got.Names)
			}
			want := []bus.Note{{Before: 1, At: 7_500_000_000, Kind: bus.Warning, Text: "t.log:2: expected " + tt.want + "; line skipped"}}
			if diff := cmp.Diff(got.Notes, want); diff != "" {
				t.Errorf("notes: got -, want +\n%s", diff)
			}
		})
	}
}

// Every byte at every place of eight digits, against strconv.
func TestHex8(t *testing.T) {
	for place := range 8 {
		for c := range 256 {
			s := []byte("0a9FbC7e")
			s[place] = byte(c)
			got, ok := hex8(s)
			want, err := strconv.ParseUint(string(s), 16, 32)
			if ok != (err == nil) || uint64(got) != want && ok {
				t.Errorf("%q: got %x %t, want %x %v", s, got, ok, want, err)
			}
			if one := hexValue[c]; one <= 0xF != ok || ok && uint32(one) != got>>(28-4*place)&0xF {
				t.Errorf("digit 0x%02x: got %x %t", c, one, ok)
			}
		}
	}
}
