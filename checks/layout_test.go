package checks

import (
	"testing"
	"unsafe"
)

// TestChannelLayout: what every sample touches lies in the first two cache lines of a channel, and each channel begins on one.
func TestChannelLayout(t *testing.T) {
	const line = 64
	var c channel
	if end := unsafe.Offsetof(c.signal) + unsafe.Offsetof(c.signal.leaps) + unsafe.Sizeof(c.signal.leaps.least); end > 2*line {
		t.Errorf("the hot part of a channel ends at byte %d, want %d at the most", end, 2*line)
	}
	if size := unsafe.Sizeof(c); size%line != 0 {
		t.Errorf("a channel takes %d bytes, want a multiple of %d: change the padding at its end", size, line)
	}
}
