package socketcan

import (
	"encoding/binary"
	"testing"

	"golang.org/x/sys/unix"
)

// cmsg is one control message, padded; the numbers are of the kernel's word size.
func cmsg(level, kind int32, body []byte) []byte {
	b := make([]byte, unix.CmsgSpace(len(body)))
	put(b, int64(unix.CmsgLen(len(body))))
	binary.NativeEndian.PutUint32(b[wordSize:], uint32(level))
	binary.NativeEndian.PutUint32(b[wordSize+4:], uint32(kind))
	copy(b[unix.CmsgLen(0):], body)
	return b
}

func put(b []byte, v int64) {
	if wordSize == 4 {
		binary.NativeEndian.PutUint32(b, uint32(v))
		return
	}
	binary.NativeEndian.PutUint64(b, uint64(v))
}

func words(v ...int64) []byte {
	b := make([]byte, len(v)*wordSize)
	for i, x := range v {
		put(b[i*wordSize:], x)
	}
	return b
}

func join(parts ...[]byte) []byte {
	var b []byte
	for _, p := range parts {
		b = append(b, p...)
	}
	return b
}

func TestParseControl(t *testing.T) {
	stamps := cmsg(unix.SOL_SOCKET, unix.SO_TIMESTAMPING, words(1700000000, 123456789, 0, 0, 77, 5))
	software := cmsg(unix.SOL_SOCKET, unix.SO_TIMESTAMPING, words(1700000000, 1, 0, 0, 0, 0))
	drops := cmsg(unix.SOL_SOCKET, unix.SO_RXQ_OVFL, []byte{7, 0, 0, 0})
	if binary.NativeEndian.Uint16([]byte{1, 0}) != 1 {
		drops = cmsg(unix.SOL_SOCKET, unix.SO_RXQ_OVFL, []byte{0, 0, 0, 7})
	}
	full := control{software: 1700000000_123456789, hardware: 77_000000005, dropped: 7, drops: true}
	tests := []struct {
		name string
		b    []byte
		want control
	}{
		{"nothing", nil, control{}},
		{"software only", software, control{software: 1700000000_000000001}},
		{"both stamps and drops", join(stamps, drops), full},
		{"the other way round", join(drops, stamps), full},
		{"what is not known is skipped", join(cmsg(unix.SOL_SOCKET, unix.SCM_RIGHTS, []byte{1, 2, 3}), stamps, cmsg(unix.SOL_CAN_RAW, unix.SO_RXQ_OVFL, []byte{9, 9, 9, 9}), drops), full},
		{"the last one without its padding", join(stamps, drops)[:len(stamps)+unix.CmsgLen(4)], full},
		{"stamps cut short", cmsg(unix.SOL_SOCKET, unix.SO_TIMESTAMPING, words(1, 2, 3)), control{}},
		{"a header alone", stamps[:headerSize-1], control{}},
		{"longer than there is", join(drops, words(1000)), control{dropped: 7, drops: true}},
		{"length zero", join(make([]byte, headerSize), stamps), control{}},
		{"length below zero", join(words(-1), make([]byte, headerSize)), control{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := parseControl(tt.b); got != tt.want {
				t.Errorf("got %+v, want %+v", got, tt.want)
			}
		})
	}
}

func FuzzParseControl(f *testing.F) {
	f.Add(join(cmsg(unix.SOL_SOCKET, unix.SO_TIMESTAMPING, words(1700000000, 1, 0, 0, 7, 5)), cmsg(unix.SOL_SOCKET, unix.SO_RXQ_OVFL, []byte{7, 0, 0, 0})))
	f.Add(words(-1, -1, -1))
	f.Fuzz(func(t *testing.T, b []byte) {
		got := parseControl(b)
		// x/sys reads the same structure; where it finds no fault, the drop count must agree
		messages, err := unix.ParseSocketControlMessage(b)
		if err != nil {
			return
		}
		want, found := uint32(0), false
		for _, m := range messages {
			if m.Header.Level == unix.SOL_SOCKET && m.Header.Type == unix.SO_RXQ_OVFL && len(m.Data) >= 4 {
				want, found = binary.NativeEndian.Uint32(m.Data), true
			}
		}
		if got.drops != found || got.dropped != want {
			t.Errorf("dropped %d (%v), x/sys says %d (%v)", got.dropped, got.drops, want, found)
		}
	})
}
