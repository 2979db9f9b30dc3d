package record

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"plumbline/bus"
	"plumbline/bus/capture"
)

// Open returns a source that reads parts one after the other as one stream, in
// the order given: those of a [Session]. Sources are known by name, so that
// each has one number throughout. A part that cannot be read, or not to its end,
// is a [bus.Warning], and so are numbers that are missing between two; a [bus.Loss] of no count says of each serial port that
// it has a hole there. The rest counts. The source implements [capture.Progress].
//
// The error is that there is no part. Read fails, other than with io.EOF, when
// not one of them could be read.
func Open(parts []string) (bus.Source, error) {
	if len(parts) == 0 {
		return nil, errors.New("record: there are no parts to read")
	}
	return &joined{parts: parts, index: make(map[string]uint16)}, nil
}

// joined reads parts one after the other.
type joined struct {
	parts []string
	names []string
	index map[string]uint16
	last  int64    // event time of the last frame, ns
	lines []uint16 // the serial ports of which bytes came

	mu     sync.Mutex // guards what Close and Fraction use
	now    bus.Source // nil between two parts
	next   int        // part
	closed bool

	number []uint16 // of each source of the part, its number here
	read   bool     // something could be
	errs   []error  // of the parts that could not
}

// Names implements [bus.Source].
func (j *joined) Names() []string { return j.names }

// Read implements [bus.Source].
func (j *joined) Read(b *bus.Batch) error {
	for {
		b.Reset()
		src, err := j.source(b)
		if err != nil {
			return err
		}
		if src == nil {
			return nil // there is a warning
		}
		err = src.Read(b)
		if err == nil {
			j.renumber(src.Names(), b)
			j.read = true
			return nil
		}
		if j.shut() {
			return os.ErrClosed
		}
		b.Reset()
		path := j.parts[j.next-1]
		switch {
		case errors.Is(err, io.EOF):
			j.read = true // nothing can be all there is
			err = j.leave()
		default:
			j.errs = append(j.errs, err)
			err = errors.Join(err, j.leave())
		}
		if err != nil {
			j.torn(b)
			j.warn(b, fmt.Sprintf("%s: not read to its end: %v", filepath.Base(path), err))
			return nil
		}
	}
}

// source returns the part to read from, opening the next one; nil where a
// warning was given instead.
func (j *joined) source(b *bus.Batch) (bus.Source, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	switch {
	case j.closed:
		return nil, os.ErrClosed
	case j.now != nil:
		return j.now, nil
	case j.next == len(j.parts):
		if !j.read && len(j.errs) > 0 {
			return nil, errors.Join(j.errs...)
		}
		return nil, io.EOF
	}
	path := j.parts[j.next]
	j.next++
	src, err := capture.Open(path)
	if err != nil {
		j.errs = append(j.errs, err)
		j.torn(b)
		j.warn(b, fmt.Sprintf("%s: not read: %v", filepath.Base(path), err))
		return nil, nil //nolint:nilnil // said in the comment above
	}
	j.now, j.number = src, j.number[:0]
	if j.next > 1 {
		if text := missing(j.parts[j.next-2], path); text != "" {
			j.torn(b)
			j.warn(b, text)
			return nil, nil //nolint:nilnil // said in the comment above
		}
	}
	return src, nil
}

// missing says which parts of a session are missing between two; "" none.
func missing(before, after string) string {
	a, okA := parsePart(filepath.Base(before))
	c, okC := parsePart(filepath.Base(after))
	if !okA || !okC || a.session != c.session || c.number <= a.number+1 {
		return ""
	}
	return fmt.Sprintf("%s: the parts between number %d and number %d are missing", c.session, a.number, c.number)
}

// torn says that nobody knows how many bytes of each serial port are missing here.
func (j *joined) torn(b *bus.Batch) {
	for _, source := range j.lines {
		b.Notes = append(b.Notes, bus.Note{
			Before: len(b.Frames), At: j.last, Kind: bus.Loss, Source: source, Place: bus.Recorder,
			Text: "what was recorded of " + j.names[source] + " here is not there any more",
		})
	}
}

func (j *joined) warn(b *bus.Batch, text string) {
	b.Notes = append(b.Notes, bus.Note{Before: len(b.Frames), At: j.last, Kind: bus.Warning, Text: text})
}

// renumber puts the numbers of this stream in place of those of the part.
func (j *joined) renumber(names []string, b *bus.Batch) {
	for n := len(j.number); n < len(names); n++ {
		index, ok := j.index[names[n]]
		if !ok {
			index = uint16(len(j.names))
			j.names = append(j.names, names[n])
			j.index[names[n]] = index
		}
		j.number = append(j.number, index)
	}
	for i := range b.Frames {
		f := &b.Frames[i]
		f.Source = j.number[f.Source]
		j.last = f.At
	}
	for i := range b.Notes {
		n := &b.Notes[i]
		switch n.Kind {
		case bus.Loss, bus.LinkChanged, bus.Garbage:
			n.Source = j.number[n.Source]
		case bus.Mark, bus.Clock, bus.Warning, bus.Tick, bus.Told, bus.BothClocks: // of no source
		}
	}
	for i := range b.Chunks {
		c := &b.Chunks[i]
		c.Source = j.number[c.Source]
		if !slices.Contains(j.lines, c.Source) {
			j.lines = append(j.lines, c.Source)
		}
	}
}

// leave closes the part.
func (j *joined) leave() error {
	j.mu.Lock()
	defer j.mu.Unlock()
	src := j.now
	j.now = nil
	if src == nil || j.closed {
		return nil
	}
	return src.Close()
}

// shut reports whether Close was called.
func (j *joined) shut() bool {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.closed
}

// Close implements [bus.Source].
func (j *joined) Close() error {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.closed {
		return nil
	}
	j.closed = true
	if j.now == nil {
		return nil
	}
	return j.now.Close()
}

// Fraction implements [capture.Progress]: parts count alike.
func (j *joined) Fraction() (done float64, known bool) {
	j.mu.Lock()
	defer j.mu.Unlock()
	done = float64(j.next)
	if p, ok := j.now.(capture.Progress); ok {
		if part, known := p.Fraction(); known {
			done += part - 1
		} else {
			done--
		}
	}
	return done / float64(len(j.parts)), true
}

var (
	_ bus.Source       = (*joined)(nil)
	_ capture.Progress = (*joined)(nil)
)
