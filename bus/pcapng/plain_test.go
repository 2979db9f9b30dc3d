package pcapng_test

import (
	"bytes"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus/pcapng"
)

// TestPlainPacketsAreLikeOthers: packets that come byte by byte are read one after the other, those that are at hand
// by the short way, and both must say the same, whichever byte of a plain packet is another one.
func TestPlainPacketsAreLikeOthers(t *testing.T) {
	same(t, -1, recording(t, 1000))
	for _, file := range files {
		same(t, -1, read(t, file))
	}
	const (
		block = 48 // of a classic frame
		front = 3  // the first ones show the byte order
	)
	base := little().section().iface(227).iface(227, little().opt(9, []byte{9})).iface(147)
	begin := len(base.out) + front*block
	for n := range uint64(front + 3) {
		base.packet(uint32(n%2), 1_700_000_000_000_000+n, classic(0x123, 1, 2, 3, 4, 5, 6, 7, 8))
	}
	for at := begin; at < begin+block; at++ {
		for _, bit := range []byte{0x01, 0x02, 0x04, 0x08, 0x10, 0x20, 0x40, 0x80} {
			p := bytes.Clone(base.out)
			p[at] ^= bit
			same(t, at-begin, p)
		}
	}
	same(t, -1, little().section().iface(227).packet(0, 1<<63, classic(0x123)).packet(0, 1, classic(0x80000123, 1)).packet(0, 1<<62, classic(0x123)).out)
}

// same reads a recording both ways.
func same(t *testing.T, at int, p []byte) {
	t.Helper()
	frames, notes, err := everything(t, pcapng.NewReader("x", bytes.NewReader(p)), 7)
	slow, slowNotes, slowErr := everything(t, pcapng.NewReader("x", iotest.OneByteReader(bytes.NewReader(p))), 7)
	if diff := cmp.Diff(frames, slow); diff != "" {
		t.Errorf("byte %d of a packet: frames (-got +want):\n%s", at, diff)
	}
	if diff := cmp.Diff(notes, slowNotes); diff != "" {
		t.Errorf("byte %d of a packet: notes (-got +want):\n%s", at, diff)
	}
	if cmp.Diff(text(err), text(slowErr)) != "" {
		t.Errorf("byte %d of a packet: error %v, want %v", at, err, slowErr)
	}
}

func text(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}
