package socketcan

import (
	"encoding/binary"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/sys/unix"

	"plumbline/bus"
)

// raw is a frame as the kernel lays it out, of size 16 or 72.
func raw(size int, id uint32, n, flags byte, data ...byte) []byte {
	b := make([]byte, size)
	binary.NativeEndian.PutUint32(b, id)
	b[4], b[5] = n, flags
	copy(b[8:], data)
	return b
}

func TestParseFrame(t *testing.T) {
	tests := []struct {
		name string
		raw  []byte
		want bus.Frame
		err  string
	}{
		{"11 bits", raw(16, 0x123, 3, 0, 1, 2, 3), dataFrame(0x123, 0, 1, 2, 3), ""},
		{"what is beyond the length is left out", raw(16, 0x123, 1, 0, 1, 2, 3), dataFrame(0x123, 0, 1), ""},
		{"29 bits", raw(16, 0x1ABCDEF0|unix.CAN_EFF_FLAG, 8, 0, 8, 7, 6, 5, 4, 3, 2, 1), dataFrame(0x1ABCDEF0, bus.Extended, 8, 7, 6, 5, 4, 3, 2, 1), ""},
		{"upper bits of an 11-bit identifier", raw(16, 0x1FFFF801, 0, 0), dataFrame(1, 0), ""},
		{"remote", raw(16, 0x123|unix.CAN_RTR_FLAG, 4, 0, 9, 9, 9, 9), bus.Frame{ID: 0x123, Flags: bus.Remote, Len: 4}, ""},
		{"error", raw(16, 0x204|unix.CAN_ERR_FLAG, 8, 0, 0, 8, 0, 0, 0, 0, 96, 2), dataFrame(0x204, bus.Error, 0, 8, 0, 0, 0, 0, 96, 2), ""},
		{"FD", raw(72, 0x123, 12, 0x04, 1), func() bus.Frame { f := dataFrame(0x123, bus.FD, 1); f.Len = 12; return f }(), ""},
		{"FD with both flags", raw(72, 0x123, 0, 0x03), dataFrame(0x123, bus.FD|bus.BitRateSwitch|bus.ErrorState), ""},
		{"classic of 9 bytes", raw(16, 0x123, 9, 0), bus.Frame{}, "9 bytes of data, at most 8"},
		{"FD of 65 bytes", raw(72, 0x123, 65, 0), bus.Frame{}, "65 bytes of data, at most 64"},
		{"cut", raw(16, 0x123, 8, 0)[:15], bus.Frame{}, "15 bytes where a frame has 16 or 72"},
		{"empty", nil, bus.Frame{}, "0 bytes where"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var got bus.Frame
			err := parseFrame(tt.raw, &got)
			if tt.err != "" {
				if err == nil || !strings.Contains(err.Error(), tt.err) {
					t.Fatalf("error %v, want one with %q", err, tt.err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(tt.want, got); diff != "" {
				t.Errorf("frame (-want +got):\n%s", diff)
			}
		})
	}
}

// TestKernelFilters applies the filters as the kernel does: received & mask == id & mask.
func TestKernelFilters(t *testing.T) {
	const eff, rtr = unix.CAN_EFF_FLAG, unix.CAN_RTR_FLAG
	tests := []struct {
		name   string
		filter Filter
		pass   []uint32
		stop   []uint32
	}{
		{"11 bits", Filter{ID: 0x123}, []uint32{0x123, 0x123 | rtr}, []uint32{0x122, 0x124, 0x123 | eff}},
		{"29 bits", Filter{ID: 0x123, Extended: true}, []uint32{0x123 | eff}, []uint32{0x123, 0x10000123 | eff}},
		{"group of format 240 and up", Filter{ID: 0x18FEF100, Extended: true, PGN: true}, []uint32{0x18FEF100 | eff, 0x00FEF1FF | eff}, []uint32{0x18FEF200 | eff, 0x19FEF100 | eff, 0x6FEF100}},
		{"format below 240 has a destination", Filter{ID: 0x18EF2700, Extended: true, PGN: true}, []uint32{0x18EF2700 | eff, 0x0CEF01FE | eff}, []uint32{0x18EE2700 | eff, 0x1AEF2700 | eff}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := kernelFilters([]Filter{tt.filter})
			if len(got) != 1 {
				t.Fatalf("%d filters, want 1", len(got))
			}
			passes := func(id uint32) bool { return id&got[0].Mask == got[0].Id&got[0].Mask }
			for _, id := range tt.pass {
				if !passes(id) {
					t.Errorf("%X does not pass %+v", id, got[0])
				}
			}
			for _, id := range tt.stop {
				if passes(id) {
					t.Errorf("%X passes %+v", id, got[0])
				}
			}
		})
	}
	if got := kernelFilters(make([]Filter, maxFilters+1)); got != nil {
		t.Errorf("%d filters for the kernel, want none: it takes %d", len(got), maxFilters)
	}
}

// Rows follow linux/can/error.h.
func TestParseFault(t *testing.T) {
	tests := []struct {
		name  string
		class uint32
		data  []byte
		want  fault
	}{
		{"controller to warning, with counters", 0x204, []byte{0, 0x08, 0, 0, 0, 0, 96, 3}, fault{hasState: true, state: ErrorWarning, counters: true, tx: 96, rx: 3}},
		{"receive passive", 0x004, []byte{0, 0x10}, fault{hasState: true, state: ErrorPassive}},
		{"transmit passive and receive warning", 0x004, []byte{0, 0x24}, fault{hasState: true, state: ErrorPassive}},
		{"back to active", 0x004, []byte{0, 0x40}, fault{hasState: true, state: Active}},
		{"overrun", 0x004, []byte{0, 0x01}, fault{overrun: true}},
		{"overrun of the sender", 0x004, []byte{0, 0x02}, fault{}},
		{"bus-off", 0x040, nil, fault{hasState: true, state: BusOff}},
		{"restarted", 0x100, nil, fault{restarted: true, hasState: true, state: Active}},
		{"no acknowledge", 0x020, nil, fault{noAck: true}},
		{"bus error in the acknowledge slot", 0x088, []byte{0, 0, 0, 0x19}, fault{busError: true, noAck: true}},
		{"bus error in the data", 0x088, []byte{0, 0, 4, 0x0A}, fault{busError: true}},
		{"lost arbitration", 0x002, []byte{5}, fault{}},
		{"counters without their class are something else", 0x004, []byte{0, 0x04, 0, 0, 0, 0, 200, 200}, fault{hasState: true, state: ErrorWarning}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			f := bus.Frame{ID: tt.class, Flags: bus.Error, Len: 8}
			copy(f.Data[:], tt.data)
			if got := parseFault(&f); got != tt.want {
				t.Errorf("got %+v, want %+v", got, tt.want)
			}
		})
	}
}

func FuzzParseFrame(f *testing.F) {
	f.Add(raw(16, 0x123, 3, 0, 1, 2, 3))
	f.Add(raw(72, 0x1ABCDEF0|unix.CAN_EFF_FLAG, 64, 3, 1, 2, 3))
	f.Add(raw(16, 0x2FF|unix.CAN_ERR_FLAG, 8, 0, 0xFF, 0xFF))
	f.Fuzz(func(t *testing.T, b []byte) {
		var got bus.Frame
		if parseFrame(b, &got) != nil {
			return
		}
		limit := 8
		if got.Flags.Has(bus.FD) {
			limit = bus.MaxData
		}
		if int(got.Len) > limit || got.ID > unix.CAN_EFF_MASK || !got.Flags.Has(bus.Extended) && !got.Flags.Has(bus.Error) && got.ID > unix.CAN_SFF_MASK {
			t.Errorf("frame %+v", got)
		}
		for _, c := range got.Data[got.Len:] {
			if c != 0 {
				t.Fatalf("data beyond the length: %+v", got)
			}
		}
		_ = parseFault(&got)
	})
}
