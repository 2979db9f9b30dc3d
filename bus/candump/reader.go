package candump

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"sync/atomic"

	"plumbline/bus"
)

const (
	bufferSize = 256 << 10
	maxLine    = 8 << 10 // bytes; a frame of 64 bytes with dots needs 230
	maxNotes   = bus.BatchSize
	emptyReads = 100 // reads without a byte or an error, after which the input is given up
)

// mode says what the next bytes belong to.
type mode uint8

const (
	atLine     mode = iota // the start of a line
	inNULs                 // a run of NUL bytes
	inLongLine             // a line that is longer than maxLine
)

// Reader reads a candump -L log as a [bus.Source]. Frames are delivered as they
// stand there, whatever their time stamps do. It holds one buffer and the names
// of the interfaces, however long the log is.
type Reader struct {
	name   string
	r      io.Reader
	closed atomic.Bool
	err    error // what ended the input, once its last note has been made

	buf        []byte
	start, end int   // buf[start:end] is still to be read
	readErr    error // from r, to be acted on when buf is used up
	mode       mode
	skipped    uint64 // NUL bytes in the run under way
	cut        bool   // a line stood before that run

	line     uint64 // lines taken so far
	frames   uint64
	strange  bool  // a comment was met that is neither blank nor begins with "#"
	at       int64 // of the last frame
	warnings bus.Warnings

	names    []string
	last     uint16 // source of the last frame
	lastName string
}

// NewReader returns a Reader over r. Messages begin with name and the number of
// the line: "NAME:LINE: …". Nothing is read before the first Read.
func NewReader(name string, r io.Reader) *Reader {
	return &Reader{name: name, r: r}
}

// Names returns the interfaces in the order in which they were first met.
func (r *Reader) Names() []string { return r.names }

// Close closes the underlying reader if it is an [io.Closer]; then a Read under
// way returns, else it returns with the next bytes. Reads that follow return an
// error that is [os.ErrClosed].
func (r *Reader) Close() error {
	if r.closed.Swap(true) {
		return nil
	}
	if c, ok := r.r.(io.Closer); ok {
		if err := c.Close(); err != nil {
			return fmt.Errorf("close %s: %w", r.name, err)
		}
	}
	return nil
}

// Read fills the batch with the frames that are at hand and waits for input only
// where there are none: a log that is still being written is delivered line by
// line. It returns io.EOF after the last frame and note; any other error is of
// the underlying reader.
func (r *Reader) Read(b *bus.Batch) error {
	b.Reset()
	for {
		if r.closed.Load() {
			return fmt.Errorf("read %s: %w", r.name, os.ErrClosed)
		}
		r.take(b)
		switch {
		case len(b.Frames)+len(b.Notes) > 0:
			return nil
		case r.err != nil:
			return r.err
		}
		r.fill(b)
	}
}

// take reads the whole lines of the buffer until the batch is full.
func (r *Reader) take(b *bus.Batch) {
	for len(b.Frames) < cap(b.Frames) && len(b.Notes) < maxNotes {
		rest := r.buf[r.start:r.end]
		if r.mode != atLine {
			if !r.skip(b, rest) {
				return
			}
			continue
		}
		n := bytes.IndexByte(rest, '\n')
		if n > 0 && n <= maxLine && rest[0] == '(' {
			line := rest[:n]
			if line[n-1] == '\r' {
				line = line[:n-1]
			}
			i := len(b.Frames)
			b.Frames = b.Frames[:i+1]
			f := &b.Frames[i]
			*f = bus.Frame{}
			if want, _ := r.frame(line, f); want == "" {
				r.at = f.At
				r.frames++
				r.line++
				r.start += n + 1
				continue
			}
			b.Frames = b.Frames[:i]
		}
		if !r.other(b, rest, n) {
			return
		}
	}
}

// other takes what is not simply a frame. rest is what the buffer holds, n the
// index of its first newline, below zero where there is none. It reports false
// when more input is needed.
func (r *Reader) other(b *bus.Batch, rest []byte, n int) bool {
	// What is decided here must not depend on how much has been read so far.
	line := rest
	if n >= 0 {
		line = rest[:n]
	}
	if i := bytes.IndexByte(line[:min(len(line), maxLine+1)], 0); i >= 0 {
		r.mode, r.cut = inNULs, len(bytes.TrimSpace(line[:i])) > 0
		r.start += i
		return true
	}
	if len(line) > maxLine {
		r.mode = inLongLine
		return true
	}
	if n < 0 {
		return false
	}
	r.start += n + 1
	r.line++
	r.text(b, line)
	return true
}

// skip drops the rest of a run of NUL bytes or of an overlong line. It reports
// false when more input is needed.
func (r *Reader) skip(b *bus.Batch, rest []byte) bool {
	if r.mode == inNULs {
		i := 0
		for i < len(rest) && rest[i] == 0 {
			i++
		}
		r.skipped += uint64(i)
		r.start += i
		if i == len(rest) {
			return false
		}
		r.endNULs(b)
		return true
	}
	i := bytes.IndexAny(rest, "\x00\n")
	if i < 0 {
		r.start = r.end
		return false
	}
	r.start += i
	r.endLongLine(b)
	if rest[i] == '\n' {
		r.start++
		r.line++
	} else {
		r.mode = inNULs
	}
	return true
}

// fill reads once from the underlying reader. At its end it makes the last notes
// and sets r.err.
func (r *Reader) fill(b *bus.Batch) {
	if r.readErr != nil {
		r.finish(b)
		return
	}
	if r.buf == nil {
		r.buf = make([]byte, bufferSize)
	}
	if r.end == len(r.buf) {
		r.end = copy(r.buf, r.buf[r.start:])
		r.start = 0
	}
	for range emptyReads {
		n, err := r.r.Read(r.buf[r.end:])
		if n < 0 || n > len(r.buf)-r.end {
			n, err = 0, fmt.Errorf("reader returned a count of %d for %d bytes", n, len(r.buf)-r.end)
		}
		r.end += n
		r.readErr = err
		if n > 0 || err != nil {
			return
		}
	}
	r.readErr = io.ErrNoProgress
}

// finish deals with what is left without a newline, and ends the input.
func (r *Reader) finish(b *bus.Batch) {
	r.err = io.EOF
	if !errors.Is(r.readErr, io.EOF) {
		r.err = fmt.Errorf("read %s after line %d: %w", r.name, r.line, r.readErr)
	}
	rest := r.buf[r.start:r.end]
	r.start = r.end
	switch {
	case r.mode == inNULs:
		r.endNULs(b)
	case r.mode == inLongLine:
		r.endLongLine(b)
	case len(bytes.TrimSpace(rest)) > 0:
		r.warn(b, r.line+1, "last line has no newline and is dropped: the recording was cut there")
	}
	if r.frames == 0 && r.strange {
		r.warn(b, r.line, `no frame found: expected lines such as "(1436509052.249713) can0 201#1027F0D8", as candump -L writes them`)
	}
	r.total(b)
}
