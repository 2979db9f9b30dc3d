package candump

import (
	"plumbline/bus"
)

// Append appends the line of one frame to dst, with its newline, and returns the
// longer slice. The time has 6 decimals where it is a whole number of µs, else 9.
// An FD frame is written without the mark 0x4 in its nibble, as every reader
// takes it. A frame sent by the recorder ends in " T".
//
// The frame and the name must be such as [Writer.Write] accepts; of others the
// line cannot be relied upon.
func Append(dst []byte, f *bus.Frame, name string) []byte {
	dst = append(dst, '(')
	dst = appendTime(dst, uint64(max(f.At, 0)))
	dst = append(dst, ')', ' ')
	dst = append(dst, name...)
	dst = append(dst, ' ')
	switch {
	case f.Flags.Has(bus.Error):
		dst = appendID29(dst, f.ID&maxID29|errorBit)
	case f.Flags.Has(bus.Extended):
		dst = appendID29(dst, f.ID&maxID29)
	default:
		dst = append(dst, hexDigits[f.ID>>8&0xF], hexDigits[f.ID>>4&0xF], hexDigits[f.ID&0xF])
	}
	dst = append(dst, '#')

	data := f.Data[:min(f.Len, maxClassic)]
	switch {
	case f.Flags.Has(bus.Remote):
		dst = append(dst, 'R')
		if f.Len > 0 {
			dst = append(dst, '0'+min(f.Len, maxClassic))
		}
		data = nil
	case f.Flags.Has(bus.FD):
		nibble := byte('0')
		if f.Flags.Has(bus.BitRateSwitch) {
			nibble += nibbleBRS
		}
		if f.Flags.Has(bus.ErrorState) {
			nibble += nibbleESI
		}
		dst = append(dst, '#', nibble)
		data = f.Data[:min(f.Len, bus.MaxData)]
	}
	for _, c := range data {
		dst = append(dst, hexDigits[c>>4], hexDigits[c&0xF])
	}

	if f.Flags.Has(bus.Transmitted) {
		dst = append(dst, ' ', 'T')
	}
	return append(dst, '\n')
}

// appendTime appends seconds, at least ten digits as candump does, and the fraction.
func appendTime(dst []byte, ns uint64) []byte {
	seconds, fraction, digits := ns/1_000_000_000, ns%1_000_000_000, 9
	if fraction%1000 == 0 {
		fraction, digits = fraction/1000, 6
	}
	dst = appendDigits(dst, seconds, 10) // int64 holds no more
	dst = append(dst, '.')
	return appendDigits(dst, fraction, digits)
}

// appendDigits appends v with n decimal digits, n at most 10.
func appendDigits(dst []byte, v uint64, n int) []byte {
	var s [10]byte
	for i := n - 1; i >= 0; i-- {
		s[i] = byte('0' + v%10)
		v /= 10
	}
	return append(dst, s[:n]...)
}

func appendID29(dst []byte, id uint32) []byte {
	for shift := 28; shift >= 0; shift -= 4 {
		dst = append(dst, hexDigits[id>>shift&0xF])
	}
	return dst
}
