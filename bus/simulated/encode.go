package simulated

import (
	"encoding/binary"
	"fmt"
	"math"

	"plumbline/bus/dbc"
)

// field packs one signal into a payload of at most eight bytes.
type field struct {
	shift         uint // of the raw value in the payload read as one 64-bit number
	mask          uint64
	motorola      bool // the number is read big-endian
	float         bool
	low, high     float64 // ends of the raw range
	scale, offset float64
}

// newField prepares a signal of a message of length bytes.
//
// Intel: the start bit is the least significant one, counted from bit 0 of byte
// 0. Motorola: it is the most significant one, in saw-tooth numbering.
func newField(s *dbc.Signal, length int) (field, error) {
	f := field{motorola: s.BigEndian, float: s.Float, scale: s.Scale, offset: s.Offset}
	last := s.Start + s.Length // one past the last bit, counted along the payload
	if s.BigEndian {
		first := 8*(s.Start/8) + 7 - s.Start%8
		last = first + s.Length
		f.shift = uint(max(0, 64-last))
	} else {
		f.shift = uint(max(0, s.Start))
	}
	if s.Start < 0 || s.Length < 1 || s.Length > 64 || last > 8*min(length, 8) {
		return field{}, fmt.Errorf("signal %s: %d bits from %d do not fit into %d bytes", s.Name, s.Length, s.Start, length)
	}
	if s.Float && s.Length != 32 && s.Length != 64 {
		return field{}, fmt.Errorf("signal %s: a floating-point number of %d bits", s.Name, s.Length)
	}
	f.mask = math.MaxUint64 >> (64 - uint(s.Length))
	f.high = math.Ldexp(1, s.Length) - 1
	if s.Signed {
		f.low, f.high = -math.Ldexp(1, s.Length-1), math.Ldexp(1, s.Length-1)-1
	}
	return f, nil
}

// raw returns the bits of a physical value: rounded to the nearest step and kept
// to the raw range. NaN gives the low end.
func (f *field) raw(value float64) uint64 {
	x := (value - f.offset) / f.scale
	if f.float {
		if f.mask == math.MaxUint32 {
			return uint64(math.Float32bits(float32(x)))
		}
		return math.Float64bits(x)
	}
	x = math.Floor(x + 0.5)
	switch {
	case x >= f.high:
		if f.low < 0 {
			return f.mask >> 1
		}
		return f.mask
	case !(x > f.low):
		if f.low < 0 {
			return f.mask ^ f.mask>>1
		}
		return 0
	case x < 0:
		return uint64(int64(x)) & f.mask
	}
	return uint64(x)
}

// payload collects the fields of one frame.
type payload struct{ intel, motorola uint64 }

func (p *payload) put(f *field, raw uint64) {
	if f.motorola {
		p.motorola |= raw << f.shift
	} else {
		p.intel |= raw << f.shift
	}
}

// store writes the eight bytes of the payload.
func (p *payload) store(data []byte) {
	binary.LittleEndian.PutUint64(data, p.intel)
	binary.BigEndian.PutUint64(data, binary.BigEndian.Uint64(data)|p.motorola)
}
