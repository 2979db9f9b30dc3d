package candump

import (
	"bytes"
	"encoding/binary"
)

// maxSeconds is the last whole second that an int64 of ns holds with any
// fraction: in the year 2262.
const maxSeconds = (1<<63-1)/1_000_000_000 - 1

// What was expected where a time stamp cannot be read.
const (
	wantClosing  = `")" after the time stamp`
	wantSeconds  = "seconds since 1970 in decimal digits, before the year 2262"
	wantNoDate   = "seconds since 1970, not a date (record with candump -L -t a)"
	wantFraction = "seconds with a fraction, as in (1436509052.249713)"
	wantDecimals = "1 to 9 decimals after the seconds"
)

// stamp reads "(seconds.fraction)" at the start of line, which begins with "(",
// as ns. next is the index behind it, or where reading stopped; want is empty or
// says what was expected there.
func stamp(line []byte) (at int64, next int, want string) {
	// The usual widths: 10 digits, 6 or 9 decimals.
	if len(line) >= 22 && line[11] == '.' {
		high8, ok := decimal8(binary.LittleEndian.Uint64(line[1:]))
		tens, ones := line[9]-'0', line[10]-'0'
		seconds := high8*100 + uint64(tens)*10 + uint64(ones)
		if ok && tens <= 9 && ones <= 9 && seconds <= maxSeconds {
			switch {
			case line[18] == ')':
				// ".dddddd)" becomes "00dddddd".
				x := binary.LittleEndian.Uint64(line[11:])<<8&^0xffff | 0x3030
				if micros, ok := decimal8(x); ok {
					return int64(seconds*1_000_000_000 + micros*1000), 19, ""
				}
			case line[21] == ')':
				high8, ok := decimal8(binary.LittleEndian.Uint64(line[12:]))
				if ones := line[20] - '0'; ok && ones <= 9 {
					return int64(seconds*1_000_000_000 + high8*10 + uint64(ones)), 22, ""
				}
			}
		}
	}
	return oddStamp(line)
}

// oddStamp is stamp for any width.
func oddStamp(line []byte) (at int64, next int, want string) {
	end := bytes.IndexByte(line, ')')
	if end < 0 {
		return 0, len(line), wantClosing
	}
	whole, fraction, found := bytes.Cut(line[1:end], []byte{'.'})
	seconds, ok := decimal(whole)
	switch {
	case !ok && bytes.IndexByte(whole, '-') > 0:
		return 0, 1, wantNoDate
	case !ok || seconds > maxSeconds:
		return 0, 1, wantSeconds
	case !found:
		return 0, end, wantFraction
	}
	nanos, ok := decimal(fraction)
	if !ok || len(fraction) > 9 {
		return 0, end - len(fraction), wantDecimals
	}
	nanos *= power10(9 - len(fraction))
	return int64(seconds*1_000_000_000 + nanos), end + 1, ""
}
