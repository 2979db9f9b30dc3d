package dbc

import (
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"go.einride.tech/can"
	"go.einride.tech/can/pkg/descriptor"

	"plumbline/bus"
)

// planOf compiles all signals of one message, as they are, on channels 0, 1, ….
func planOf(tb testing.TB, m *Message) *Plan {
	tb.Helper()
	var bindings []Binding
	for i := range m.Signals {
		bindings = append(bindings, Binding{Message: m, Signal: i, Channel: int32(i), Scale: 1})
	}
	p, err := Compile(bindings)
	if err != nil {
		tb.Fatal(err)
	}
	return p
}

func frame(id uint32, data ...byte) *bus.Frame {
	f := &bus.Frame{ID: id, Len: uint8(len(data))}
	copy(f.Data[:], data)
	return f
}

// The vectors of the data 12 34 56 78 9A BC DE F0, worked out by hand: the bits
// are written in the order in which they are sent, byte 0 bit 7 first.
//
//	byte  0        1        2        3        4        5        6        7
//	      00010010 00110100 01010110 01111000 10011010 10111100 11011110 11110000
//	bit   7      0 15     8 23    16 31    24 39    32 47    40 55    48 63    56
func TestDecodeVectors(t *testing.T) {
	data := []byte{0x12, 0x34, 0x56, 0x78, 0x9A, 0xBC, 0xDE, 0xF0}
	tests := []struct {
		name   string
		signal Signal
		want   float64
	}{
		{"motorola, two bytes", Signal{Start: 7, Length: 16, BigEndian: true}, 0x1234},
		{"motorola, from within byte 6 to the end", Signal{Start: 51, Length: 12, BigEndian: true}, 0xEF0},
		{"motorola, from within byte 0", Signal{Start: 4, Length: 13, BigEndian: true}, 0x1234},
		{"motorola, one bit", Signal{Start: 4, Length: 1, BigEndian: true}, 1},
		{"motorola, 3 bits over a byte boundary: 0|00", Signal{Start: 8, Length: 3, BigEndian: true}, 0b001},
		{"motorola, all", Signal{Start: 7, Length: 64, BigEndian: true}, 0x123456789ABCDEF0},
		{"motorola, signed, all of byte 7", Signal{Start: 63, Length: 8, BigEndian: true, Signed: true}, -16},
		{"intel, two bytes", Signal{Start: 0, Length: 16}, 0x3412},
		{"intel, from the high half of byte 0: 3412 >> 4", Signal{Start: 4, Length: 12}, 0x341},
		{"intel, one bit", Signal{Start: 12, Length: 1}, 1},
		{"intel, all", Signal{Start: 0, Length: 64}, 0xF0DEBC9A78563412},
		{"intel, signed, all of byte 7", Signal{Start: 56, Length: 8, Signed: true}, -16},
		{"intel, signed, 2 bits 11", Signal{Start: 34, Length: 2, Signed: true}, -2}, // 9A = 10011010, bits 3 and 2: 10
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tt.signal.Scale = 1
			p := planOf(t, &Message{ID: 1, Length: 8, Signals: []Signal{tt.signal}})
			values, short := p.Decode(0, frame(1, data...), nil)
			if short || len(values) != 1 || values[0].Value != tt.want {
				t.Errorf("got %v, short %v, want %v", values, short, tt.want)
			}
		})
	}
}

// TestDecodeOracle compares with go.einride.tech/can, bit for bit, for random
// signals of classic frames and random payloads.
func TestDecodeOracle(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		s := randomSignal(rng, 8)
		p := planOf(t, &Message{ID: 1, Length: 8, Signals: []Signal{s}})
		oracle := descriptor.Signal{
			Start: uint8(s.Start), Length: uint8(s.Length), IsBigEndian: s.BigEndian, IsSigned: s.Signed, IsFloat: s.Float,
		}
		for range 4 {
			var data can.Data
			f := frame(1, randomBytes(rng, 8)...)
			copy(data[:], f.Payload())
			var raw float64
			switch {
			case s.Float && s.Length == 32:
				raw = oracle.UnmarshalFloat(data)
			case s.Float: // the module has no 64-bit floats: its bits, our reading
				raw = math.Float64frombits(oracle.UnmarshalUnsigned(data))
			case s.Signed:
				raw = float64(oracle.UnmarshalSigned(data))
			default:
				raw = float64(oracle.UnmarshalUnsigned(data))
			}
			want := float64(raw*s.Scale) + s.Offset
			values, short := p.Decode(0, f, nil)
			if short || len(values) != 1 || math.Float64bits(values[0].Value) != math.Float64bits(want) && !(math.IsNaN(want) && math.IsNaN(values[0].Value)) {
				t.Fatalf("%+v of % x: got %v, short %v, want %v", s, f.Payload(), values, short, want)
			}
		}
	}
}

// TestDecodeWide compares with the definition itself, one bit after the other,
// in frames of up to 64 bytes, where the einride module cannot follow. It checks the
// lengths at which a value appears and the states as well.
func TestDecodeWide(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	wide := 0
	for range 20000 {
		s := randomSignal(rng, 64)
		s.Float = false
		if first, last, _ := s.span(); last-first == 8 {
			wide++
		}
		p := planOf(t, &Message{ID: 1, Length: 64, Signals: []Signal{s}})
		data := randomBytes(rng, 64)
		switch rng.IntN(4) {
		case 0:
			data = slices.Repeat([]byte{0}, 64)
		case 1:
			data = slices.Repeat([]byte{0xFF}, 64)
		}
		raw, last := rawBitByBit(&s, data)
		want := Value{Value: float64(toFloat(raw)*s.Scale) + s.Offset}
		lowest, highest := int64(0), new(big.Int).Sub(new(big.Int).Lsh(big.NewInt(1), uint(s.Length)), big.NewInt(1))
		if s.Signed {
			lowest = -1 << (s.Length - 1)
			highest.Rsh(highest, 1)
		}
		switch {
		case raw.Cmp(big.NewInt(lowest)) == 0:
			want.State = AtLow
		case raw.Cmp(highest) == 0:
			want.State = AtHigh
		}
		for _, n := range []int{64, last + 1} {
			got, short := p.Decode(0, frame(1, data[:n]...), nil)
			if short || len(got) != 1 || got[0] != want {
				t.Fatalf("%+v of % x, %d bytes: got %v, short %v, want %v", s, data, n, got, short, want)
			}
		}
		if got, short := p.Decode(0, frame(1, data[:last]...), nil); !short || len(got) != 0 {
			t.Fatalf("%+v of %d bytes: got %v, short %v, want no value, short", s, last, got, short)
		}
	}
	if wide < 100 {
		t.Errorf("only %d signals over nine bytes were tried", wide)
	}
}

// rawBitByBit reads the raw value as the format defines it and the last byte
// that it touched. Intel: the start bit is the least significant, the next one has the
// next number. Motorola: the start bit is the most significant, the next one is
// below it in its byte or the highest of the next byte.
func rawBitByBit(s *Signal, data []byte) (raw *big.Int, last int) {
	raw = new(big.Int)
	at := s.Start
	for i := range s.Length {
		bit := big.NewInt(int64(data[at/8] >> (at % 8) & 1))
		last = max(last, at/8)
		if s.BigEndian {
			raw.Lsh(raw, 1).Or(raw, bit)
			if at%8 == 0 {
				at += 16
			}
			at--
		} else {
			raw.Or(raw, bit.Lsh(bit, uint(i)))
			at++
		}
	}
	if s.Signed && raw.Bit(s.Length-1) == 1 {
		raw.Sub(raw, new(big.Int).Lsh(big.NewInt(1), uint(s.Length)))
	}
	return raw, last
}

func toFloat(n *big.Int) float64 {
	f, _ := new(big.Float).SetPrec(64).SetInt(n).Float64()
	return f
}

func randomSignal(rng *rand.Rand, bytes int) Signal {
	for {
		s := Signal{
			Start: rng.IntN(bytes * 8), Length: 1 + rng.IntN(64), BigEndian: rng.IntN(2) == 0, Signed: rng.IntN(2) == 0,
			Scale: rng.NormFloat64(), Offset: rng.NormFloat64(),
		}
		switch rng.IntN(8) {
		case 0:
			s.Length, s.Float = 32, true
		case 1:
			s.Length, s.Float = 64, true
		case 2:
			s.Length = 64
		}
		if s.bytes() <= bytes {
			return s
		}
	}
}

func randomBytes(rng *rand.Rand, n int) []byte {
	data := make([]byte, n)
	for i := range data {
		data[i] = byte(rng.Uint32())
	}
	return data
}

func TestDecodeFloat(t *testing.T) {
	m := &Message{ID: 1, Length: 12, Signals: []Signal{
		{Start: 0, Length: 32, Float: true, Scale: 2, Offset: 1},
		{Start: 32, Length: 64, Float: true, Scale: 1},
	}}
	p := planOf(t, m)
	tests := []struct {
		name   string
		single float32
		double float64
		want   []Value
	}{
		{"numbers", 1.5, -0.1, []Value{{0, Inside, 4}, {1, Inside, -0.1}}},
		{"ends are no states", -math.MaxFloat32, math.MaxFloat64, []Value{{0, Inside, -2*math.MaxFloat32 + 1}, {1, Inside, math.MaxFloat64}}},
		{"infinite", float32(math.Inf(1)), math.Inf(-1), []Value{{0, Inside, math.Inf(1)}, {1, Inside, math.Inf(-1)}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			f := frame(1, make([]byte, 12)...)
			putLittle(f.Data[0:4], uint64(math.Float32bits(tt.single)))
			putLittle(f.Data[4:12], math.Float64bits(tt.double))
			if got, short := p.Decode(0, f, nil); short || !cmp.Equal(got, tt.want) {
				t.Errorf("got %v, short %v, want %v", got, short, tt.want)
			}
		})
	}
	f := frame(1, make([]byte, 12)...)
	putLittle(f.Data[0:4], 0x7FC00000)
	if got, _ := p.Decode(0, f, nil); !math.IsNaN(got[0].Value) {
		t.Errorf("got %v, want NaN for NaN", got[0])
	}
}

func putLittle(to []byte, n uint64) {
	for i := range to {
		to[i] = byte(n >> (8 * i))
	}
}

// TestDecodeNeverClamps: the range that a file states plays no part.
func TestDecodeNeverClamps(t *testing.T) {
	p := planOf(t, &Message{ID: 1, Signals: []Signal{{Start: 0, Length: 16, Signed: true, Scale: 1, Min: -100, Max: 100}}})
	got, _ := p.Decode(0, frame(1, 0xFF, 0x7F), nil)
	if want := []Value{{0, AtHigh, 32767}}; !cmp.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// TestDecodeScale: unit and sign of the binding are worked into the value.
func TestDecodeScale(t *testing.T) {
	m := &Message{ID: 1, Signals: []Signal{{Start: 0, Length: 16, Signed: true, Scale: 0.001, Offset: 5}}}
	p, err := Compile([]Binding{{Message: m, Channel: 7, Scale: -1000, Offset: 3}})
	if err != nil {
		t.Fatal(err)
	}
	got, _ := p.Decode(0, frame(1, 0x00, 0x80), []Value{{Channel: 99}})
	// −1000·(0.001·(−32768) + 5) + 3
	if want := []Value{{Channel: 99}, {7, AtLow, 32768 - 5000 + 3}}; !cmp.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestDecodeMultiplexed(t *testing.T) {
	m := goldenMessage(t, "extended-multiplex.dbc", "Pages")
	p := planOf(t, m)
	// Page, Sub, SubSub, Deep, Wide, Always, Split, Plain have the channels 0 to 7.
	tests := []struct {
		name  string
		data  []byte
		want  []int32
		short bool
	}{
		{"page 0: Sub, no page of it", []byte{0, 1, 1, 0, 0, 0, 0, 0}, []int32{0, 1, 5}, false},
		{"page 0, Sub 3: SubSub, no page of it", []byte{0, 3, 0, 0, 0, 0, 0, 0}, []int32{0, 1, 2, 5}, false},
		{"page 0, Sub 4, between its ranges", []byte{0, 4, 1, 0, 0, 0, 0, 0}, []int32{0, 1, 5}, false},
		{"page 0, Sub 9, SubSub 1: all three levels", []byte{0, 9, 1, 0, 0, 0, 0, 0}, []int32{0, 1, 2, 3, 5}, false},
		{"page 1, though the bits of Sub and SubSub would do", []byte{1, 3, 1, 0, 0, 0, 0, 0}, []int32{0, 4, 5}, false},
		{"page 5, between ranges", []byte{5, 0, 0, 0, 0, 0, 0, 0}, []int32{0, 5}, false},
		{"page 6, a range of one", []byte{6, 0, 0, 0, 0, 0, 0, 0}, []int32{0, 4, 5}, false},
		{"page 7 needs no SG_MUL_VAL_", []byte{7, 0, 0, 0, 0, 0, 0, 0}, []int32{0, 5, 7}, false},
		{"page 200, upper end", []byte{200, 0, 0, 0, 0, 0, 0, 0}, []int32{0, 4, 5}, false},
		{"page 220, range of a second statement", []byte{220, 0, 0, 0, 0, 0, 0, 0}, []int32{0, 5, 6}, false},
		{"page 9 stands in SG_, the ranges rule", []byte{9, 0, 0, 0, 0, 0, 0, 0}, []int32{0, 4, 5}, false},
		{"empty", nil, nil, true},
		{"page 0, the other switches cut off", []byte{0}, []int32{0}, true},
		{"page 230: nothing of what is cut off would be there but Always", []byte{230}, []int32{0}, true},
		{"page 0, Sub 3, SubSub cut off", []byte{0, 3}, []int32{0, 1}, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			values, short := p.Decode(0, frame(256, tt.data...), nil)
			var got []int32
			for _, v := range values {
				got = append(got, v.Channel)
			}
			if !slices.Equal(got, tt.want) || short != tt.short {
				t.Errorf("got channels %v, short %v, want %v, %v", got, short, tt.want, tt.short)
			}
		})
	}
}

// TestDecodeShort: what is not there because of its page is not missed; what
// lies beyond the frame is; a switch beyond the frame leaves open whether.
func TestDecodeShort(t *testing.T) {
	page := func(n uint64) []MuxChoice { return []MuxChoice{{Switch: 0, Ranges: [][2]uint64{{n, n}}}} }
	m := &Message{ID: 1, Signals: []Signal{
		{Start: 8, Length: 8, Scale: 1, Switch: true},
		{Start: 16, Length: 8, Scale: 1, Mux: page(1)},
		{Start: 0, Length: 8, Scale: 1, Mux: page(2)},
	}}
	p, err := Compile([]Binding{{Message: m, Signal: 1, Channel: 1, Scale: 1}, {Message: m, Signal: 2, Channel: 2, Scale: 1}})
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name  string
		data  []byte
		want  []Value
		short bool
	}{
		{"page 1, all there", []byte{5, 1, 6}, []Value{{1, Inside, 6}}, false},
		{"page 1, cut off", []byte{5, 1}, []Value{}, true},
		{"page 2, the other page would be cut off", []byte{5, 2}, []Value{{2, Inside, 5}}, false},
		{"page 3, nothing wanted", []byte{5, 3}, nil, false},
		{"the switch is cut off", []byte{5}, nil, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got, short := p.Decode(0, frame(1, tt.data...), nil); !cmp.Equal(got, tt.want) || short != tt.short {
				t.Errorf("got %v, %v, want %v, %v", got, short, tt.want, tt.short)
			}
		})
	}
}

// TestDecodeSignedSwitch: ranges speak of the bits, whatever the sign of the switch.
func TestDecodeSignedSwitch(t *testing.T) {
	m := &Message{ID: 1, Signals: []Signal{
		{Start: 0, Length: 4, Signed: true, Scale: 1, Switch: true},
		{Start: 8, Length: 8, Scale: 1, Mux: []MuxChoice{{Switch: 0, Ranges: [][2]uint64{{15, 15}}}}},
	}}
	got, _ := planOf(t, m).Decode(0, frame(1, 0x0F, 5), nil)
	if want := []Value{{0, Inside, -1}, {1, Inside, 5}}; !cmp.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestEnds(t *testing.T) {
	tests := []struct {
		name            string
		signal          Signal
		step, low, high float64
		ok              bool
	}{
		{"unsigned", Signal{Length: 8, Scale: 0.5, Offset: -10}, 0.5, -10, 117.5, true},
		{"signed, falling", Signal{Length: 16, Signed: true, Scale: -2}, 2, 65536, -65534, true},
		{"one bit", Signal{Length: 1, Scale: 1}, 1, 0, 1, true},
		{"one bit, signed", Signal{Length: 1, Signed: true, Scale: 1}, 1, -1, 0, true},
		{"64 bits", Signal{Length: 64, Scale: 1}, 1, 0, 18446744073709551615, true},
		{"64 bits, signed", Signal{Length: 64, Signed: true, Scale: 1}, 1, -9223372036854775808, 9223372036854775807, true},
		{"float", Signal{Length: 32, Float: true, Scale: 3}, 0, 0, 0, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			low, high, ok := tt.signal.Ends()
			if step := tt.signal.Step(); step != tt.step || low != tt.low || high != tt.high || ok != tt.ok {
				t.Errorf("got step %v, ends %v %v %v, want %v, %v %v %v", step, low, high, ok, tt.step, tt.low, tt.high, tt.ok)
			}
		})
	}
}
