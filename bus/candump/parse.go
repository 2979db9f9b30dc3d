package candump

import (
	"bytes"
	"encoding/binary"

	"plumbline/bus"
)

// Bits of the identifier and the FD nibble as Linux defines them
// (linux/can.h: CAN_ERR_FLAG, CAN_SFF_MASK, CAN_EFF_MASK, CANFD_BRS, CANFD_ESI).
const (
	errorBit   = 0x20000000
	maxID11    = 0x7FF
	maxID29    = 0x1FFFFFFF
	nibbleBRS  = 0x1
	nibbleESI  = 0x2
	maxClassic = 8
)

// What was expected where a line cannot be read.
const (
	wantBlank     = "a blank after the time stamp"
	wantFrame     = "an interface and ID#DATA (the output of candump -L)"
	wantID        = "3 or 8 hex digits and #"
	wantID11      = "a 3-digit identifier up to 7FF"
	wantID29      = "an 8-digit identifier up to 1FFFFFFF, or 20000000 to 3FFFFFFF for an error frame"
	wantNoXL      = "a classic or FD frame (CAN XL cannot be read)"
	wantLength    = "a length from 0 to 8 after R"
	wantDLC       = "a length code from 9 to F after _"
	wantNibble    = "a hex digit of flags after ##"
	wantPair      = "pairs of hex digits"
	wantMax8      = "at most 8 bytes of data"
	wantMax64     = "at most 64 bytes of data"
	wantPlain     = "an error frame without R or ##"
	wantDirection = "the end of the line, R or T"
)

// blank tells the characters that may stand between the fields of a line.
func blank(c byte) bool { return c == ' ' || c == '\t' }

// frame reads one line that begins with "(" into f, which is zero. where is the
// index at which reading stopped; want is empty or says what was expected there,
// and f is of no use then.
func (r *Reader) frame(line []byte, f *bus.Frame) (want string, where int) {
	at, i, want := stamp(line)
	if want != "" {
		return want, i
	}
	f.At = at
	if i >= len(line) || !blank(line[i]) {
		return wantBlank, i
	}
	for i < len(line) && blank(line[i]) {
		i++
	}

	// Most often the interface of the line before.
	name, end := i, i+len(r.lastName)
	known := end < len(line) && line[end] == ' ' && string(line[i:end]) == r.lastName
	if !known {
		for end = i; end < len(line) && line[end] > ' '; {
			end++
		}
	}
	f.Source = r.last
	for i = end; i < len(line) && blank(line[i]); {
		i++
	}
	if i == end {
		return wantFrame, i
	}

	rest := line[i:]
	switch {
	case len(rest) > 3 && rest[3] == '#':
		a, b, c := hexValue[rest[0]], hexValue[rest[1]], hexValue[rest[2]]
		if a|b|c > 0xF {
			return wantID, i
		}
		if f.ID = uint32(a)<<8 | uint32(b)<<4 | uint32(c); f.ID > maxID11 {
			return wantID11, i
		}
		rest = rest[4:]
	case len(rest) > 8 && rest[8] == '#':
		id, ok := hex8(rest)
		switch {
		case !ok:
			return wantID, i
		case id <= maxID29:
			f.ID, f.Flags = id, bus.Extended
		case id <= maxID29|errorBit:
			f.ID, f.Flags = id&^errorBit, bus.Error
		default:
			return wantID29, i
		}
		rest = rest[9:]
	case len(rest) > 5 && rest[5] == '#':
		return wantNoXL, i
	case bytes.IndexByte(rest, '#') < 0:
		return wantFrame, i
	default:
		return wantID, i
	}

	rest, want = payload(rest, f)
	if want == "" {
		rest, want = direction(rest, f)
	}
	if want == "" && !known {
		// Last, so that a broken line makes no interface known.
		f.Source, want = r.source(line[name:end])
		if want != "" {
			return want, name
		}
		r.last, r.lastName = f.Source, r.names[f.Source]
	}
	return want, len(line) - len(rest)
}

// payload reads what follows "ID#" and returns what follows the data.
func payload(s []byte, f *bus.Frame) (rest []byte, want string) {
	maxLen, tooLong := maxClassic, wantMax8
	if len(s) > 0 && (s[0] == '#' || s[0] == 'R' || s[0] == 'r') {
		if f.Flags.Has(bus.Error) {
			return s, wantPlain
		}
		if s[0] != '#' {
			return remote(s[1:], f)
		}
		if len(s) < 2 || hexValue[s[1]] > 0xF {
			return s[1:], wantNibble
		}
		// The other bits are not kept: newer writers set 0x4 in every FD frame.
		f.Flags |= bus.FD
		if hexValue[s[1]]&nibbleBRS != 0 {
			f.Flags |= bus.BitRateSwitch
		}
		if hexValue[s[1]]&nibbleESI != 0 {
			f.Flags |= bus.ErrorState
		}
		s = s[2:]
		maxLen, tooLong = bus.MaxData, wantMax64
	}

	n := 0
	for len(s) >= 8 && n+4 <= maxLen {
		v, ok := hex8(s)
		if !ok {
			break
		}
		binary.BigEndian.PutUint32(f.Data[n:], v)
		n += 4
		s = s[8:]
	}
	for len(s) > 0 {
		if s[0] == '.' {
			if s = s[1:]; len(s) == 0 {
				break
			}
		}
		if hexValue[s[0]] > 0xF {
			break
		}
		if len(s) < 2 || hexValue[s[1]] > 0xF {
			return s, wantPair
		}
		if n == maxLen {
			return s, tooLong
		}
		f.Data[n] = hexValue[s[0]]<<4 | hexValue[s[1]]
		n++
		s = s[2:]
	}
	f.Len = uint8(n)
	if len(s) > 0 && !blank(s[0]) {
		if s[0] == '_' && n == maxClassic && maxLen == maxClassic {
			return rawDLC(s)
		}
		return s, wantPair
	}
	return s, ""
}

// remote reads what follows "ID#R": nothing, a length, or 8 and a raw length code.
func remote(s []byte, f *bus.Frame) (rest []byte, want string) {
	f.Flags |= bus.Remote
	if len(s) == 0 || blank(s[0]) {
		return s, ""
	}
	if hexValue[s[0]] > maxClassic {
		return s, wantLength
	}
	f.Len = hexValue[s[0]]
	if s = s[1:]; len(s) > 0 && s[0] == '_' && f.Len == maxClassic {
		return rawDLC(s)
	}
	return s, ""
}

// rawDLC passes "_9" to "_F": classic frames carry 8 bytes under these codes too.
func rawDLC(s []byte) (rest []byte, want string) {
	if len(s) < 2 || hexValue[s[1]] <= maxClassic || hexValue[s[1]] > 0xF {
		return s, wantDLC
	}
	return s[2:], ""
}

// direction reads the end of a line: blanks with an R or T among them.
func direction(s []byte, f *bus.Frame) (rest []byte, want string) {
	seen := false
	for len(s) > 0 {
		switch {
		case blank(s[0]):
		case (s[0] == 'R' || s[0] == 'T') && !seen && (len(s) == 1 || blank(s[1])):
			seen = true
			if s[0] == 'T' {
				f.Flags |= bus.Transmitted
			}
		default:
			return s, wantDirection
		}
		s = s[1:]
	}
	return s, ""
}
