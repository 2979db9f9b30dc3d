package candump

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"plumbline/bus"
)

const (
	maxNames = 256 // interfaces in one log; more is taken for damage
	maxName  = 64  // bytes; Linux allows 15, other writers put paths here

	markWord = "mark:"
	lossWord = "DROPCOUNT:"
)

// text takes a whole line that is not simply a frame.
func (r *Reader) text(b *bus.Batch, line []byte) {
	full := len(line)
	if r.line == 1 {
		line = bytes.TrimPrefix(line, []byte("\ufeff")) // byte order mark of a text editor
	}
	line = bytes.TrimLeft(line, " \t")
	column := full - len(line)
	line = bytes.TrimRight(line, " \t\r")
	if len(line) == 0 {
		return
	}
	switch {
	case line[0] == '(':
		i := len(b.Frames)
		b.Frames = b.Frames[:i+1]
		f := &b.Frames[i]
		*f = bus.Frame{}
		want, where := r.frame(line, f)
		if want == "" {
			r.at = f.At
			r.frames++
			return
		}
		b.Frames = b.Frames[:i]
		r.broken(b, want, line, where, column)
	case line[0] == '#':
		word := bytes.TrimLeft(line[1:], " \t")
		if text, ok := bytes.CutPrefix(word, []byte(markWord)); ok {
			clean := strings.TrimSpace(strings.ToValidUTF8(string(text), "\ufffd"))
			r.note(b, bus.Note{Kind: bus.Mark, Text: clean})
		}
	case bytes.HasPrefix(line, []byte(lossWord)):
		r.loss(b, line)
	default:
		r.strange = true
	}
}

// loss reads the line that candump writes when the kernel reports frames lost
// before they reached it (can-utils candump.c, the same words in 2020.11 and 2025.01):
//
//	DROPCOUNT: dropped 5 CAN frames on 'can0' socket (total drops 12)
func (r *Reader) loss(b *bus.Batch, line []byte) {
	const (
		wantDropped = `"dropped" and a number of frames`
		wantSocket  = `"on 'NAME' socket"`
	)
	s, ok := bytes.CutPrefix(line, []byte(lossWord+" dropped "))
	if !ok {
		r.broken(b, wantDropped, line, len(lossWord), 0)
		return
	}
	where := len(line) - len(s)
	digits, s, _ := bytes.Cut(s, []byte{' '})
	count, ok := decimal(digits)
	if !ok || count == 0 {
		r.broken(b, wantDropped, line, where, 0)
		return
	}
	_, s, _ = bytes.Cut(s, []byte("on '"))
	end := bytes.LastIndex(s, []byte("' socket"))
	if end < 0 {
		r.broken(b, wantSocket, line, where+len(digits), 0)
		return
	}
	source, want := r.source(s[:end])
	if want != "" {
		r.broken(b, want, line, len(line)-len(s), 0)
		return
	}
	r.note(b, bus.Note{Kind: bus.Loss, Source: source, Count: count, Text: lossText(count, r.names[source])})
}

func lossText(count uint64, name string) string {
	if count == 1 {
		return "1 frame of " + name + " was lost before it reached the recorder"
	}
	return fmt.Sprintf("%d frames of %s were lost before they reached the recorder", count, name)
}

// source returns the index of an interface and makes it known where it is new;
// want is empty or says what was expected of the name.
func (r *Reader) source(name []byte) (index uint16, want string) {
	for i, known := range r.names {
		if string(name) == known {
			return uint16(i), ""
		}
	}
	switch {
	case len(name) == 0 || len(name) > maxName:
		return 0, "an interface name of 1 to 64 bytes"
	case !validName(string(name)):
		return 0, "an interface name of printable characters"
	case len(r.names) == maxNames:
		return 0, "at most 256 interfaces in one log"
	}
	r.names = append(r.names, string(name))
	return uint16(len(r.names) - 1), ""
}

// validName reports whether a name can stand in a log and be found again.
func validName(name string) bool {
	if len(name) > maxName || !utf8.ValidString(name) {
		return false
	}
	return name != "" && strings.IndexFunc(name, func(c rune) bool {
		return c == ' ' || !strconv.IsPrint(c)
	}) < 0
}

// endNULs ends a run of NUL bytes with its one warning.
func (r *Reader) endNULs(b *bus.Batch) {
	if r.cut {
		r.warn(b, r.line+1, "%d NUL bytes skipped, as a power loss leaves them; the line before them was cut and is dropped", r.skipped)
	} else {
		r.warn(b, r.line+1, "%d NUL bytes skipped, as a power loss leaves them", r.skipped)
	}
	r.mode, r.skipped, r.cut = atLine, 0, false
}

// endLongLine ends an overlong line with its warning.
func (r *Reader) endLongLine(b *bus.Batch) {
	r.warn(b, r.line+1, "expected a line of at most %d bytes; longer line skipped", maxLine)
	r.mode = atLine
}

// broken warns about the line just taken, which could not be read from where on.
// column is the number of bytes that were taken off its front.
func (r *Reader) broken(b *bus.Batch, want string, line []byte, where, column int) {
	if !r.warnings.Next() { // spare the formatting
		return
	}
	const shown = 24
	found := "the end of the line"
	if where < len(line) {
		found = strconv.Quote(string(line[where:min(len(line), where+shown)]))
	}
	r.say(b, r.line, "expected %s at column %d, found %s; line skipped", want, column+where+1, found)
}

// warn adds a warning about a line, or only counts it.
func (r *Reader) warn(b *bus.Batch, line uint64, format string, args ...any) {
	if r.warnings.Next() {
		r.say(b, line, format, args...)
	}
}

// say adds a warning that was counted.
func (r *Reader) say(b *bus.Batch, line uint64, format string, args ...any) {
	r.note(b, bus.Note{Kind: bus.Warning, Text: fmt.Sprintf("%s:%d: ", r.name, line) + fmt.Sprintf(format, args...)})
}

// total tells how many warnings there were, where some were only counted.
func (r *Reader) total(b *bus.Batch) {
	if text := r.warnings.Total(r.name); text != "" {
		r.note(b, bus.Note{Kind: bus.Warning, Text: text})
	}
}

// note adds a note at the current place.
func (r *Reader) note(b *bus.Batch, n bus.Note) {
	n.Before, n.At = len(b.Frames), r.at
	b.Notes = append(b.Notes, n)
}
