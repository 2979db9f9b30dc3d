package dbc

import (
	"encoding/binary"
	"math"
	"slices"

	"plumbline/bus"
)

// half is a half-open range of indexes.
type half struct{ from, to int }

type message struct{ groups half }

// group is a run of fields that are present under the same choices.
type group struct {
	choices, fields half
	plain           bool // all of its fields are
}

// choice is one condition on a switch.
type choice struct {
	bits   bits
	ranges half
}

// order says how the bits of a signal are loaded.
type order uint8

const (
	intel        order = iota // 8 bytes cover it, least significant byte first
	motorola                  // 8 bytes cover it, most significant byte first
	intelWide                 // it touches 9 bytes
	motorolaWide              // it touches 9 bytes
)

// bits is where the raw value of a signal lies. Eight bytes are loaded from
// at, which is chosen so that they lie within Frame.Data, shifted left until
// the value's highest bit is on top, and right until its lowest is at the bottom.
//
//	load   . . . . M x x x x x L . . . .
//	<< up  M x x x x x L . . . . 0 0 0 0
//	>> down          0 or sign M x x x x x L
type bits struct {
	at       uint8 // first byte loaded
	need     uint8 // bytes that the payload must have
	up, down uint8
	order    order
}

// numeric says what the raw value means.
type numeric uint8

const (
	unsigned numeric = iota
	signed
	float32Bits
	float64Bits
)

// field is one wanted signal.
type field struct {
	bits
	numeric   numeric
	channel   int32
	mask      int64   // of what is no sign: -1 where there is one
	factor    float64 // value = factor·raw + offset
	offset    float64
	low, high uint64 // raw ends, sign extended
}

func newBits(s *Signal) bits {
	first, last, below := s.span()
	b := bits{need: uint8(last + 1), down: uint8(64 - s.Length)}
	wide := last-first == 8
	switch {
	case last < 8:
		b.at = 0
	case wide:
		b.at = uint8(first)
	default:
		b.at = uint8(min(first, bus.MaxData-8))
	}
	skipped := first - int(b.at) // bytes loaded before the signal
	if s.BigEndian {
		b.order = motorola
		b.up = uint8(8*skipped + 7 - s.Start%8)
		if wide {
			b.order, b.up = motorolaWide, uint8(7-s.Start%8)
		}
		return b
	}
	b.order = intel
	b.up = uint8(64 - (8*skipped + below + s.Length))
	if wide {
		// The ninth byte holds the highest bits.
		b.order, b.up = intelWide, uint8(below)
	}
	return b
}

func newField(s *Signal, b *Binding) field {
	f := field{
		bits: newBits(s), channel: b.Channel,
		factor: b.Scale * s.Scale, offset: float64(b.Scale*s.Offset) + b.Offset,
	}
	f.low, f.high = s.rawEnds()
	switch {
	case s.Float && s.Length == 32:
		f.numeric = float32Bits
	case s.Float:
		f.numeric = float64Bits
	case s.Signed:
		f.numeric, f.mask = signed, -1
	default:
		f.mask = 1<<(s.Length&63) - 1
	}
	return f
}

// plain reports whether a field is an integer in the first 8 bytes, which are loaded once for all of a group; an unsigned
// one of 64 bits is none, as it does not fit a signed one.
func (d *field) plain() bool { return d.need <= 8 && d.mask != 0 }

// top returns the value's bits shifted to the top of 64.
func (b *bits) top(data *[bus.MaxData]byte) uint64 {
	load := data[b.at:]
	switch b.order {
	case intel:
		return binary.LittleEndian.Uint64(load) << (b.up & 63)
	case motorola:
		return binary.BigEndian.Uint64(load) << (b.up & 63)
	case intelWide:
		// 57 to 64 bits beginning above bit up of the first byte.
		raw := binary.LittleEndian.Uint64(load)>>(b.up&63) | uint64(load[8])<<(64-b.up&63)
		return raw << (b.down & 63)
	case motorolaWide:
		return binary.BigEndian.Uint64(load)<<(b.up&63) | uint64(load[8])>>(8-b.up&63)
	}
	return 0
}

// Decode appends the values of the wanted signals of plan message number
// message (as Lookup returned it) to out, in the order of the bindings. It
// allocates only if out lacks the room.
//
// The value is Binding.Scale·physical + Binding.Offset, rounded once for each
// operation on every machine; it is never clamped. State tells of integers whether the raw
// value was the lowest or highest that the bits can carry: for a counter or a
// signal of few bits that is everyday, and of one bit it is always one of the two.
//
// A multiplexed signal has a value only while all its choices hold. short
// reports that at least one wanted signal lies beyond the end of the payload, or
// the switch that decides about it does: it has no value then. What the message declares as its
// length plays no part.
func (p *Plan) Decode(message int, f *bus.Frame, out []Value) (values []Value, short bool) {
	m := &p.messages[message]
	for g := m.groups.from; g < m.groups.to; g++ {
		group := &p.groups[g]
		if group.choices.from < group.choices.to {
			present, cut := p.present(group.choices, f)
			short = short || cut
			if !present {
				continue
			}
		}
		fields := p.fields[group.fields.from:group.fields.to]
		n := len(out)
		out = slices.Grow(out, len(fields))[:n+len(fields)]
		if group.plain {
			words := [2]uint64{intel: binary.LittleEndian.Uint64(f.Data[:]), motorola: binary.BigEndian.Uint64(f.Data[:])}
			for i := range fields {
				d := &fields[i]
				if d.need > f.Len {
					short = true
					continue
				}
				d.plainValue(&words, &out[n])
				n++
			}
			out = out[:n]
			continue
		}
		for i := range fields {
			d := &fields[i]
			if d.need > f.Len {
				short = true
				continue
			}
			d.value(&f.Data, &out[n])
			n++
		}
		out = out[:n]
	}
	return out, short
}

// plainValue does what value does, of a plain field.
func (d *field) plainValue(words *[2]uint64, v *Value) {
	n := int64(words[d.order&1]<<(d.up&63)) >> (d.down & 63) & d.mask
	v.Channel, v.State, v.Value = d.channel, d.state(uint64(n)), float64(float64(n)*d.factor)+d.offset
}

// state tells whether a raw value is at an end of its range.
func (d *field) state(raw uint64) State {
	switch raw {
	case d.low:
		return AtLow
	case d.high:
		return AtHigh
	}
	return Inside
}

// value decodes one field into v.
func (d *field) value(data *[bus.MaxData]byte, v *Value) {
	top := d.top(data)
	v.Channel, v.State = d.channel, Inside
	var raw uint64
	switch d.numeric {
	case signed:
		n := int64(top) >> (d.down & 63)
		raw = uint64(n)
		v.Value = float64(float64(n)*d.factor) + d.offset
	case unsigned:
		raw = top >> (d.down & 63)
		v.Value = float64(float64(raw)*d.factor) + d.offset
	case float32Bits:
		v.Value = float64(float64(math.Float32frombits(uint32(top>>32)))*d.factor) + d.offset
		return
	case float64Bits:
		v.Value = float64(math.Float64frombits(top)*d.factor) + d.offset
		return
	}
	v.State = d.state(raw)
}

// present reports whether all choices hold; short: no choice that can be read
// says no, but a switch lies beyond the payload, so that it cannot be told.
func (p *Plan) present(choices half, f *bus.Frame) (present, short bool) {
	for i := choices.from; i < choices.to; i++ {
		c := &p.choices[i]
		if c.bits.need > f.Len {
			short = true
			continue
		}
		raw := c.bits.top(&f.Data) >> (c.bits.down & 63)
		holds := false
		for _, r := range p.ranges[c.ranges.from:c.ranges.to] {
			if raw >= r[0] && raw <= r[1] {
				holds = true
				break
			}
		}
		if !holds {
			return false, false
		}
	}
	return !short, short
}
