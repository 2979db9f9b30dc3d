package socketcan

import (
	"encoding/binary"
	"unsafe"

	"golang.org/x/sys/unix"
)

// control is what the kernel says beside a frame.
type control struct {
	software int64  // ns since 1970-01-01 UTC, 0: none
	hardware int64  // ns on the adapter's own time base, 0: none
	dropped  uint32 // frames that the queue has lost so far, modulo 2³²
	drops    bool   // dropped was there; the kernel leaves it out while it is zero
}

const (
	wordSize     = int(unsafe.Sizeof(uintptr(0)))
	headerSize   = unix.SizeofCmsghdr
	controlSpace = 128 // bytes: a scm_timestamping of 64 bits and a u32, each with its header, and some
)

// parseControl reads the control messages of one receive:
//
//	struct cmsghdr { size_t cmsg_len; int cmsg_level, cmsg_type; };
//	SCM_TIMESTAMPING: struct timespec ts[3], software, unused, raw hardware
//	SO_RXQ_OVFL:      u32
//
// What it does not know it skips; a message with a wrong length ends it.
func parseControl(b []byte) control {
	var c control
	for len(b) >= headerSize {
		n := length(b)
		if n < headerSize || n > len(b) {
			return c
		}
		level := int32(binary.NativeEndian.Uint32(b[wordSize:]))
		kind := int32(binary.NativeEndian.Uint32(b[wordSize+4:]))
		body := b[headerSize:n]
		if level == unix.SOL_SOCKET {
			switch {
			case kind == unix.SO_TIMESTAMPING && len(body) >= 3*2*wordSize:
				c.software = timespec(body)
				c.hardware = timespec(body[2*2*wordSize:])
			case kind == unix.SO_RXQ_OVFL && len(body) >= 4:
				c.dropped, c.drops = binary.NativeEndian.Uint32(body), true
			}
		}
		// the next message begins at a multiple of the word size
		n = (n + wordSize - 1) &^ (wordSize - 1)
		if n > len(b) {
			return c
		}
		b = b[n:]
	}
	return c
}

func length(b []byte) int {
	if wordSize == 4 {
		return int(int32(binary.NativeEndian.Uint32(b)))
	}
	return int(int64(binary.NativeEndian.Uint64(b)))
}

// timespec returns ns of a struct timespec of the kernel's word size.
func timespec(b []byte) int64 {
	if wordSize == 4 {
		return int64(int32(binary.NativeEndian.Uint32(b)))*1e9 + int64(int32(binary.NativeEndian.Uint32(b[4:])))
	}
	return int64(binary.NativeEndian.Uint64(b))*1e9 + int64(binary.NativeEndian.Uint64(b[8:]))
}
