package pcapng_test

import (
	"bytes"
	"encoding/binary"
	"strings"
	"testing"

	"plumbline/bus/pcapng"
)

// host returns a packet whose identifier is in the order of a little-endian machine.
func host(id uint32, data ...byte) []byte {
	p := classic(id, data...)
	binary.LittleEndian.PutUint32(p, id)
	return p
}

func TestByteOrder(t *testing.T) {
	tests := []struct {
		name    string
		packets [][]byte
		frames  int
		refused bool
		warning string
	}{
		{"big-endian", [][]byte{classic(0x123), classic(0x98FF1021), classic(0x20000204), classic(0x40000123)}, 4, false, ""},
		{"11 bits turned", [][]byte{host(0x123)}, 0, true, ""},
		// libpcap issue 1247 prints 23 01 00 00 08 … for identifier 0x123 on "any"
		{"11 bits as seen on any", [][]byte{{0x23, 1, 0, 0, 8, 0, 0, 0, 1, 2, 3, 4, 5, 6, 7, 8}}, 0, true, ""},
		{"29 bits turned", [][]byte{host(0x98FF1021)}, 0, true, ""},
		{"remote turned", [][]byte{host(0x40000123)}, 0, true, ""},
		{"error turned", [][]byte{host(0x20000204)}, 0, true, ""},
		{"turned after one that says nothing", [][]byte{host(0x181), host(0x201)}, 0, true, ""},
		{"what says nothing is believed", [][]byte{classic(0x181), classic(0x080), classic(0)}, 3, false, ""},
		{
			"all doubtful",
			[][]byte{host(0x181), host(0x182)},
			2, false,
			"x: the identifiers of interface 0 may be in the byte order of the machine: 2 frames have 29-bit identifiers that end in 0000 " +
				"and would be 11-bit ones turned round, and none speaks against it; check against candump -L",
		},
		{"doubt removed", [][]byte{classic(0x8C000000), classic(0x123)}, 2, false, ""},
		{
			"one damaged among good ones",
			[][]byte{classic(0x123), host(0x123), classic(0x123)},
			2, false,
			"x: block 4 at byte 96: packet of interface 0 skipped: 0x23010000 is not a possible identifier",
		},
		{"order changes", append([][]byte{classic(0x123)}, bytes2(16, host(0x123))...), 0, true, ""},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			b := little().section().iface(227)
			for _, p := range test.packets {
				b.packet(0, 0, p)
			}
			frames, notes, err := everything(t, pcapng.NewReader("x", bytes.NewReader(b.out)), 256)
			if refused := err != nil; refused != test.refused {
				t.Fatalf("error %v, want one: %t", err, test.refused)
			}
			if err != nil && !strings.Contains(err.Error(), "byte order of the machine") {
				t.Errorf("error %q does not say what is wrong", err)
			}
			if len(frames) != test.frames {
				t.Errorf("%d frames, want %d", len(frames), test.frames)
			}
			if err != nil {
				return
			}
			got := ""
			for _, n := range notes {
				got = n.Text
			}
			if got != test.warning || len(notes) > 1 {
				t.Errorf("%d notes, the last %q, want %q", len(notes), got, test.warning)
			}
		})
	}
}

func bytes2(n int, p []byte) [][]byte {
	var all [][]byte
	for range n {
		all = append(all, p)
	}
	return all
}

// TestByteOrderByInterface: one interface does not vouch for another.
func TestByteOrderByInterface(t *testing.T) {
	b := little().section().iface(227).iface(227, nil)
	b.packet(0, 0, classic(0x123)).packet(1, 0, host(0x123))
	_, _, err := everything(t, pcapng.NewReader("x", bytes.NewReader(b.out)), 256)
	want := `x: block 5 at byte 116: the identifiers of interface 1 were written in the byte order of the machine, not big-endian as link type 227 asks ` +
		`(0x23010000 makes sense only turned round): captures of the device "any" have that; nothing of it can be used; record on the interface by name, or with candump -L`
	if err == nil || err.Error() != want {
		t.Errorf("error\n%v, want\n%s", err, want)
	}
}

// TestEveryStandardIdentifier: of all 2048 identifiers written the wrong way
// round, how many show themselves, and none of those written right is refused.
func TestEveryStandardIdentifier(t *testing.T) {
	shown := 0
	for id := range uint32(2048) {
		right := little().section().iface(227).packet(0, 0, classic(id))
		if _, notes, err := everything(t, pcapng.NewReader("x", bytes.NewReader(right.out)), 4); err != nil || len(notes) > 0 {
			t.Fatalf("0x%X written big-endian: %v, %v", id, err, notes)
		}
		wrong := little().section().iface(227).packet(0, 0, host(id))
		if _, notes, err := everything(t, pcapng.NewReader("x", bytes.NewReader(wrong.out)), 4); err != nil || len(notes) > 0 {
			shown++
		}
	}
	// 0 reads the same both ways, 0x20 as an error of no class, 0x40 as a remote request for identifier 0
	if shown != 2048-3 {
		t.Errorf("%d of 2048 show themselves, want all but 0, 0x20 and 0x40", shown)
	}
}
