package serialport

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
)

func TestSLCAN(t *testing.T) {
	sixty := strings.Repeat("AB", 64)
	tests := []struct {
		name string
		line string
		want string // candump notation, "" for garbage, "-" for a line that is left alone
		flag bus.Flags
	}{
		// the examples in drivers/net/can/slcan/slcan-core.c of Linux
		{"no data", "t1230", "123#", 0},
		{"three bytes", "t4563112233", "456#112233", 0},
		{"29 bits", "T12ABCDEF2AA55", "12ABCDEF#AA55", bus.Extended},
		{"remote", "r1230", "123#R", bus.Remote},
		{"time stamp", "T1111222281122334455667788EA5F", "11112222#1122334455667788", bus.Extended},

		{"lower case", "tabc2fedc", "", 0}, // 11 bits are at most 7FF
		{"lower case digits", "t7bc2fedc", "7BC#FEDC", 0},
		{"time stamp of microseconds", "t123112000F4240", "123#12", 0},
		{"remote with a length and a time stamp", "R1234567881234", "12345678#R8", bus.Extended | bus.Remote},
		{"FD", "d1239" + strings.Repeat("0F", 12), "123##0" + strings.Repeat("0F", 12), bus.FD},
		{"FD, fast, 64 bytes", "B12345678F" + sixty, "12345678##1" + sixty, bus.Extended | bus.FD | bus.BitRateSwitch},
		{"FD with a time stamp, sender passive", "b1231AA12345678S", "123##3AA", bus.FD | bus.BitRateSwitch | bus.ErrorState},

		{"data cut off", "t456311223", "", 0},
		{"a digit too many", "t45631122334", "", 0},
		{"length 9 of a classic frame", "t1239" + strings.Repeat("00", 9), "", 0},
		{"no hexadecimal digit", "t45631122G3", "", 0},
		{"identifier of 30 bits", "T20000000" + "0", "", 0},
		{"only the type", "t", "", 0},
		{"something else", "hello", "", 0},

		{"answer to a command", "z", "-", 0},
		{"version", "V1013", "-", 0},
		{"status", "F04", "-", 0},

		// the examples in drivers/net/can/slcan/slcan-core.c; values of linux/can/error.h
		{"state bus-off", "sb256256", "20000040#0000000000000000", bus.Error},
		{"state active", "sa057033", "20000204#0040000000002139", bus.Error},
		{"state passive, by what is sent", "sp010130", "20000204#002000000000820A", bus.Error},
		{"state warning, both", "sw100100", "20000204#000C000000006464", bus.Error},
		{"no acknowledge", "e1a", "200000A8#0000001900000000", bus.Error},
		{"three errors", "e3bcO", "2000008C#0002090800000000", bus.Error},
		{"errors cut off", "e3bc", "", 0},
		{"unknown error", "e1x", "", 0},
		{"unknown state", "sx000000", "", 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			h, stats := cut(t, Format{Framing: SLCAN}, "\r"+strings.Repeat("t0000\r", 40)+tt.line+"\r")
			h.frames = h.frames[40:]
			want, left := []string{tt.want}, uint64(0)
			switch tt.want {
			case "":
				want = nil
				if stats.Garbage != uint64(len(tt.line)+1) {
					t.Errorf("got %d bytes of garbage, want %d", stats.Garbage, len(tt.line)+1)
				}
			case "-":
				want, left = nil, 1
			}
			if diff := cmp.Diff(want, dump(h.frames)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			if stats.Ignored != left {
				t.Errorf("got %d lines left alone, want %d", stats.Ignored, left)
			}
			if len(h.frames) == 1 && h.frames[0].Flags != tt.flag {
				t.Errorf("got flags %b, want %b", h.frames[0].Flags, tt.flag)
			}
		})
	}
}

// TestForeignSLCAN reads what python-can wrote; see testdata/README.md.
func TestForeignSLCAN(t *testing.T) {
	text, err := os.ReadFile("testdata/slcan-python-can.txt")
	if err != nil {
		t.Fatal(err)
	}
	list, err := os.ReadFile("testdata/slcan-python-can.want")
	if err != nil {
		t.Fatal(err)
	}
	var want []string
	for line := range strings.Lines(string(list)) {
		if !strings.HasPrefix(line, "#") {
			want = append(want, strings.TrimSpace(line))
		}
	}
	h, stats := cut(t, Format{Framing: SLCAN}, string(text))
	if diff := cmp.Diff(want, dump(h.frames)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if len(want) < 30 || stats.Garbage != 0 || stats.Frames != uint64(bytes.Count(text, []byte{'\r'})-1) { // the first line opens the channel
		t.Errorf("%d frames wanted, got %+v", len(want), stats)
	}
}
