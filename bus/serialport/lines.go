package serialport

import (
	"bytes"
	"encoding/binary"
	"math"
	"strconv"

	"plumbline/bus"
)

const (
	maxLineColumns = 64 // columns of a line that are looked at
	maxNumber      = 32 // characters of a number
)

// line takes a line of text without its end. first says that it may have lost
// its beginning; that only matters where a checksum can tell.
func (f *Framer) line(line []byte, wire int, first bool, source uint16, b *bus.Batch) {
	if !printable(line) {
		f.drop(wire, source, b)
		return
	}
	line = bytes.Trim(line, " \t")
	marked := len(line) > 0 && (line[0] == '$' || line[0] == '!')
	if marked {
		line = line[1:]
	}
	if f.verify.size > 0 {
		body, ok := f.lineChecked(line)
		if !ok {
			f.badChecksum(first)
			f.drop(wire, source, b)
			return
		}
		line = body
	}
	columns, separator := f.split(line)
	var tag []byte
	if len(columns) > 0 {
		c := line[columns[0][0]:columns[0][1]]
		if _, number := f.number(c, separator); !number && !bytes.ContainsAny(c, "=:") && (marked || len(f.format.Lines) > 0 && f.tagged(c)) {
			tag, columns = c, columns[1:]
		}
	}
	id, data, n, found := f.numbers(line, tag, columns, separator)
	switch {
	case !found:
		f.stats.Ignored++
		f.stats.Idle += uint64(wire)
	case n == 0:
		f.drop(wire, source, b)
	default:
		f.valid(wire, source, b)
		frame := f.add(id, source, b)
		frame.Data, frame.Len = data, uint8(8*n)
		f.retime(frame, nil, 0)
	}
}

// tagged reports whether a line message has that tag.
func (f *Framer) tagged(tag []byte) bool {
	for i := range f.format.Lines {
		if t := f.format.Lines[i].Tag; t != "" && string(tag) == t {
			return true
		}
	}
	return false
}

// numbers puts the columns of the line's message one after the other as float64.
// found is false where the line is none that was asked for; n is 0 where it is, but lacks
// a column or has no number in any of them.
func (f *Framer) numbers(line, tag []byte, columns [][2]uint16, separator byte) (id uint32, data [bus.MaxData]byte, n int, found bool) {
	cell := func(c [2]uint16) []byte { return line[c[0]:c[1]] }
	put := func(i int, v float64) { binary.LittleEndian.PutUint64(data[8*i:], math.Float64bits(v)) }
	if len(f.format.Lines) == 0 {
		if len(columns) == 0 || len(columns) > maxColumns || tag != nil {
			return 0, data, 0, false
		}
		for i, c := range columns {
			v, ok := f.number(cell(c), separator)
			if !ok {
				return 0, data, 0, false
			}
			put(i, v)
		}
		return f.format.FixedID, data, len(columns), true
	}
	for i := range f.format.Lines {
		m := &f.format.Lines[i]
		if m.Tag != string(tag) {
			continue
		}
		anyNumber := false
		for j, want := range m.Columns {
			text, ok := []byte(nil), false
			if want.Key == "" {
				if ok = want.Number <= len(columns); ok {
					text = value(cell(columns[want.Number-1]))
				}
			} else {
				for _, c := range columns {
					if k := cell(c); key(k) == len(want.Key) && string(k[:key(k)]) == want.Key {
						text, ok = value(k), true
						break
					}
				}
			}
			if !ok {
				// Lines of plain text between those of numbers are nobody's fault.
				return 0, data, 0, anyNumber || tag != nil
			}
			v, isNumber := f.number(text, separator)
			if !isNumber {
				v = math.NaN()
			}
			anyNumber = anyNumber || isNumber
			put(j, v)
		}
		if !anyNumber {
			return 0, data, 0, tag != nil
		}
		return m.ID, data, len(m.Columns), true
	}
	return 0, data, 0, false
}

// key returns the length of the key before a "=" or ":" of a column, −1 where there is none.
func key(column []byte) int {
	i := bytes.IndexAny(column, "=:")
	if i < 0 {
		return -1
	}
	return len(bytes.TrimRight(column[:i], " \t"))
}

// value returns what stands behind the key of a column, or the whole column.
func value(column []byte) []byte {
	return bytes.TrimLeft(column[bytes.IndexAny(column, "=:")+1:], " \t")
}

// lineChecked takes the checksum off a line and compares it.
func (f *Framer) lineChecked(line []byte) (body []byte, ok bool) {
	star := len(line) - 2*f.verify.size - 1
	if star < 0 || line[star] != '*' {
		return nil, false
	}
	var sum [8]byte
	for i := range f.verify.size {
		high, ok1 := hexDigit(line[star+1+2*i])
		low, ok2 := hexDigit(line[star+2+2*i])
		if !ok1 || !ok2 {
			return nil, false
		}
		sum[i] = high<<4 | low
	}
	return line[:star], f.verify.holds(line[:star], sum[:f.verify.size])
}

// split finds the columns of a line, without blanks around them. Where the
// format names no separator it is a semicolon, else a comma, else blanks,
// whichever the line has. The separator is returned where it is one character.
func (f *Framer) split(line []byte) (columns [][2]uint16, separator byte) {
	sep := f.format.Separator
	if sep == "" {
		switch {
		case bytes.IndexByte(line, ';') >= 0:
			sep = ";"
		case bytes.IndexByte(line, ',') >= 0:
			sep = ","
		default:
			sep = " "
		}
	}
	if len(sep) == 1 {
		separator = sep[0]
	}
	n, from := 0, 0
	for n < len(f.columns) && from <= len(line) {
		to := len(line)
		next := to + 1
		if sep == " " {
			if i := bytes.IndexAny(line[from:], " \t"); i >= 0 {
				to, next = from+i, from+i+1
			}
			if to == from { // several blanks are one
				from = next
				continue
			}
		} else if i := indexString(line[from:], sep); i >= 0 {
			to, next = from+i, from+i+len(sep)
		}
		for from < to && (line[from] == ' ' || line[from] == '\t') {
			from++
		}
		for to > from && (line[to-1] == ' ' || line[to-1] == '\t') {
			to--
		}
		f.columns[n] = [2]uint16{uint16(from), uint16(to)}
		n++
		from = next
	}
	return f.columns[:n], separator
}

// indexString is bytes.Index for a string, without a copy.
func indexString(b []byte, s string) int {
	for i := 0; i+len(s) <= len(b); i++ {
		if string(b[i:i+len(s)]) == s {
			return i
		}
	}
	return -1
}

// number reads a decimal number. A unit may follow after a blank. A comma is a
// decimal point where it does not separate columns.
func (f *Framer) number(text []byte, separator byte) (float64, bool) {
	digit := false
	n := 0
	for _, c := range text {
		switch {
		case c >= '0' && c <= '9':
			digit = true
		case c == '+' || c == '-' || c == '.' || digit && (c == 'e' || c == 'E'):
		case c == ',' && separator != ',':
			c = '.'
		case c == ' ' && digit:
			c = 0
		default:
			return 0, false
		}
		if c == 0 {
			break
		}
		if n == len(f.scratch) {
			return 0, false
		}
		f.scratch[n] = c
		n++
	}
	if !digit {
		return 0, false
	}
	v, err := strconv.ParseFloat(string(f.scratch[:n]), 64)
	return v, err == nil
}

// printable reports whether a line is plain ASCII text.
func printable(line []byte) bool {
	for _, c := range line {
		if c < ' ' && c != '\t' || c > '~' {
			return false
		}
	}
	return true
}
