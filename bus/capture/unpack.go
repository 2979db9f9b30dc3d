package capture

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
)

// maxWindow bounds what a zstd stream may make the decoder allocate, in bytes:
// the window of zstd --ultra -22 and of --long=27.
const maxWindow = 128 << 20

// format is a way of packing.
type format struct {
	name   string
	magic  [][]byte
	unpack func(io.Reader) (io.Reader, error) // nil: known, not read
	// next is the error for bytes after the end that begin no further stream
	next error
}

// packing returns how a recording that begins with head is packed, nil if not.
func packing(head []byte) *format {
	formats := []format{
		{"gzip", [][]byte{{0x1F, 0x8B}}, func(r io.Reader) (io.Reader, error) { return gzip.NewReader(r) }, gzip.ErrHeader},
		{"zstd", zstdMagic(), unzstd, zstd.ErrMagicMismatch},
		{"xz", [][]byte{{0xFD, '7', 'z', 'X', 'Z', 0}}, nil, nil},
		{"bzip2", [][]byte{[]byte("BZh")}, nil, nil},
		{"lz4", [][]byte{{0x04, 0x22, 0x4D, 0x18}}, nil, nil},
		{"zip", [][]byte{[]byte("PK\x03\x04")}, nil, nil},
	}
	for i := range formats {
		for _, magic := range formats[i].magic {
			if bytes.HasPrefix(head, magic) {
				return &formats[i]
			}
		}
	}
	return nil
}

// zstdMagic is that of a frame and of the sixteen kinds of skippable frame (RFC 8878, 3.1).
func zstdMagic() [][]byte {
	all := [][]byte{{0x28, 0xB5, 0x2F, 0xFD}}
	for kind := range byte(16) {
		all = append(all, []byte{0x50 | kind, 0x2A, 0x4D, 0x18})
	}
	return all
}

// unzstd decodes in the goroutine that reads, so that there is none to be
// ended, and nothing of the decoder that the collector could not take.
func unzstd(r io.Reader) (io.Reader, error) {
	return zstd.NewReader(r, zstd.WithDecoderConcurrency(1), zstd.WithDecoderLowmem(true),
		zstd.WithDecoderMaxMemory(maxWindow), zstd.WithDecoderMaxWindow(maxWindow))
}

// unpacker reads a packed stream. One that ends early ends here without an
// error; ended then says so.
type unpacker struct {
	name   string
	format *format
	in     io.Reader
	out    io.Reader // nil before the first Read
	nuls   int64     // NUL bytes taken off the end of the file
	n      int64     // bytes unpacked
	err    error     // ends every further Read
	ended  string    // a sentence where the stream did not end as it should
}

// Read implements [io.Reader].
func (u *unpacker) Read(p []byte) (int, error) {
	if u.err != nil {
		return 0, u.err
	}
	var n int
	var err error
	if u.out == nil {
		u.out, err = u.format.unpack(u.in)
	}
	if err == nil {
		n, err = u.out.Read(p)
		u.n += int64(n)
	}
	switch {
	case err == nil || errors.Is(err, io.EOF):
	case errors.Is(err, io.ErrUnexpectedEOF):
		u.ended = fmt.Sprintf("%s: the %s stream ends early, after %d unpacked bytes: the recording was cut off, what was there counts", u.name, u.format.name, u.n)
		if u.nuls > 0 {
			u.ended += fmt.Sprintf(", %d NUL bytes behind it do not", u.nuls)
		}
		err = io.EOF
	case errors.Is(err, u.format.next) && u.out != nil && u.n > 0:
		u.ended = fmt.Sprintf("%s: something that is not %s follows the stream of %d unpacked bytes: it is not read", u.name, u.format.name, u.n)
		err = io.EOF
	case errors.Is(err, os.ErrClosed):
		err = fmt.Errorf("read %s: %w", u.name, os.ErrClosed)
	case errors.Is(err, zstd.ErrWindowSizeExceeded), errors.Is(err, zstd.ErrDecoderSizeExceeded):
		err = fmt.Errorf("%s: unpacking asks for a window of more than %d MiB: pack it anew with zstd --long=27 or less: %w", u.name, maxWindow>>20, err)
	default:
		err = fmt.Errorf("%s: the %s stream is damaged after %d unpacked bytes: %w", u.name, u.format.name, u.n, err)
	}
	u.err = err
	return n, err
}
