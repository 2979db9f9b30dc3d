package candump

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"plumbline/bus"
)

const (
	writerSize = 64 << 10
	maxText    = 1024 // bytes of a mark
)

// Writer writes a candump -L log that [Reader], can-utils and others read back.
// It is buffered: what was written is in the file only after Flush. After a
// failed write to the file every further call returns the same error.
type Writer struct {
	w     io.Writer
	buf   []byte
	names []string
	lost  []uint64 // per source, in all
	err   error
}

// NewWriter returns a Writer to w. names is what Frame.Source indexes.
func NewWriter(w io.Writer, names []string) *Writer {
	out := &Writer{w: w, buf: make([]byte, 0, writerSize)}
	out.SetNames(names)
	return out
}

// SetNames replaces the names, where a source has met a further interface.
func (w *Writer) SetNames(names []string) {
	w.names = names
	for len(w.lost) < len(names) {
		w.lost = append(w.lost, 0)
	}
}

// Write writes one frame. A frame that the format cannot carry is refused with
// an error and nothing is written of it: a time before 1970, a length or an
// identifier out of range, an unknown source or a name with a blank in it, a
// Remote FD frame, an Error frame that is also anything else but Transmitted.
func (w *Writer) Write(f *bus.Frame) error {
	if w.err != nil {
		return w.err
	}
	name, err := w.sourceName(f.Source)
	if err == nil {
		err = refusal(f)
	}
	if err != nil {
		return err
	}
	w.buf = Append(w.buf, f, name)
	return w.spill()
}

// Mark writes a person's word as "# mark: TEXT". Control characters become
// blanks. An empty text and one of more than 1024 bytes are refused.
func (w *Writer) Mark(text string) error {
	if w.err != nil {
		return w.err
	}
	text = strings.TrimSpace(strings.Map(func(c rune) rune {
		if c < ' ' || c == 0x7F {
			return ' '
		}
		return c
	}, strings.ToValidUTF8(text, "\ufffd")))
	if text == "" || len(text) > maxText {
		return fmt.Errorf("candump: expected a mark of 1 to %d bytes, got %d", maxText, len(text))
	}
	w.buf = append(w.buf, "# "+markWord+" "...)
	w.buf = append(w.buf, text...)
	w.buf = append(w.buf, '\n')
	return w.spill()
}

// Loss writes that count frames of a source were lost here, in candump's words.
func (w *Writer) Loss(source uint16, count uint64) error {
	if w.err != nil {
		return w.err
	}
	name, err := w.sourceName(source)
	if err != nil || count == 0 {
		return err
	}
	w.lost[source] += count
	frames := " CAN frames on '"
	if count == 1 {
		frames = " CAN frame on '"
	}
	w.buf = append(w.buf, lossWord+" dropped "...)
	w.buf = strconv.AppendUint(w.buf, count, 10)
	w.buf = append(w.buf, frames...)
	w.buf = append(w.buf, name...)
	w.buf = append(w.buf, "' socket (total drops "...)
	w.buf = strconv.AppendUint(w.buf, w.lost[source], 10)
	w.buf = append(w.buf, ")\n"...)
	return w.spill()
}

// Flush hands everything to the underlying writer. It does not sync a file.
func (w *Writer) Flush() error {
	if w.err != nil || len(w.buf) == 0 {
		return w.err
	}
	n, err := w.w.Write(w.buf)
	if err == nil && n < len(w.buf) {
		err = io.ErrShortWrite
	}
	if err != nil {
		w.err = fmt.Errorf("write candump log: %w", err)
		return w.err
	}
	w.buf = w.buf[:0]
	return nil
}

// spill flushes while there is still room for the longest line.
func (w *Writer) spill() error {
	if len(w.buf) > writerSize-2*maxText {
		return w.Flush()
	}
	return nil
}

func (w *Writer) sourceName(source uint16) (string, error) {
	if int(source) >= len(w.names) {
		return "", fmt.Errorf("candump: frame of source %d, but %d names are known", source, len(w.names))
	}
	name := w.names[source]
	// Plain ASCII of a kernel's length is settled here, without a call.
	for i := range len(name) {
		if c := name[i]; c <= ' ' || c >= 0x7F || i > 15 {
			return name, checkName(name)
		}
	}
	if name == "" {
		return name, checkName(name)
	}
	return name, nil
}

func checkName(name string) error {
	if !validName(name) {
		return fmt.Errorf("candump: interface name %q cannot stand in a log: expected 1 to %d bytes, printable, no blank", name, maxName)
	}
	return nil
}

// refusal says why a line cannot carry the frame; nil where it can.
func refusal(f *bus.Frame) error {
	maxLen, maxID := uint8(maxClassic), uint32(maxID11)
	if f.Flags.Has(bus.FD) {
		maxLen = bus.MaxData
	}
	if f.Flags&(bus.Extended|bus.Error) != 0 {
		maxID = maxID29
	}
	switch {
	case f.At < 0:
		return fmt.Errorf("candump: frame %X: expected a time after 1970, got %d ns", f.ID, f.At)
	case f.Flags.Has(bus.Error) && f.Flags&^(bus.Error|bus.Transmitted) != 0:
		return errors.New("candump: an error frame cannot be extended, remote or FD")
	case f.Flags.Has(bus.FD) && f.Flags.Has(bus.Remote):
		return fmt.Errorf("candump: frame %X: an FD frame cannot be remote", f.ID)
	case !f.Flags.Has(bus.FD) && f.Flags&(bus.BitRateSwitch|bus.ErrorState) != 0:
		return fmt.Errorf("candump: frame %X: only an FD frame switches its bit rate or tells an error state", f.ID)
	case f.Len > maxLen:
		return fmt.Errorf("candump: frame %X: expected at most %d bytes, got %d", f.ID, maxLen, f.Len)
	case f.ID > maxID:
		return fmt.Errorf("candump: expected an identifier up to %X, got %X", maxID, f.ID)
	case f.At/1_000_000_000 > maxSeconds:
		return fmt.Errorf("candump: frame %X: expected a time before the year 2262, got %d ns", f.ID, f.At)
	}
	return nil
}
