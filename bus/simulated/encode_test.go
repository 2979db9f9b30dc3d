package simulated

import (
	"math"
	"math/rand/v2"
	"testing"

	"go.einride.tech/can"

	"plumbline/bus/dbc"
)

// The oracle is the bit extraction of go.einride.tech/can.
func TestFieldAgainstEinride(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	tried := 0
	for range 20_000 {
		s := dbc.Signal{Start: r.IntN(64), Length: 1 + r.IntN(64), BigEndian: r.IntN(2) == 0, Signed: r.IntN(2) == 0, Scale: 1}
		f, err := newField(&s, 8)
		if err != nil {
			continue // does not fit
		}
		tried++
		want := r.Uint64() & f.mask
		var p payload
		p.put(&f, want)
		var data can.Data
		p.store(data[:])
		got := data.UnsignedBitsLittleEndian(uint8(s.Start), uint8(s.Length))
		if s.BigEndian {
			got = data.UnsignedBitsBigEndian(uint8(s.Start), uint8(s.Length))
		}
		if got != want {
			t.Fatalf("%+v: got %#x, want %#x", s, got, want)
		}
		// Nothing else of the frame is touched.
		if s.BigEndian {
			data.SetUnsignedBitsBigEndian(uint8(s.Start), uint8(s.Length), 0)
		} else {
			data.SetUnsignedBitsLittleEndian(uint8(s.Start), uint8(s.Length), 0)
		}
		if data != (can.Data{}) {
			t.Fatalf("%+v: bits outside are set: %x", s, data)
		}
	}
	if tried < 5000 {
		t.Fatalf("only %d layouts were tried", tried)
	}
}

// Start bits and lengths of the Motorola rows: a public vector of the bytes
// 12 34 56 78 9A BC DE F0.
func TestFieldMotorolaVectors(t *testing.T) {
	for _, tt := range []struct {
		start, length int
		want          uint64
	}{{7, 16, 0x1234}, {51, 12, 0xEF0}, {4, 13, 0x1234}} {
		f, err := newField(&dbc.Signal{Start: tt.start, Length: tt.length, BigEndian: true, Scale: 1}, 8)
		if err != nil {
			t.Fatal(err)
		}
		if got := 0x123456789ABCDEF0 >> f.shift & f.mask; got != tt.want {
			t.Errorf("%d|%d: got %#x, want %#x", tt.start, tt.length, got, tt.want)
		}
	}
}

func TestRaw(t *testing.T) {
	s16 := dbc.Signal{Length: 16, Signed: true, Scale: 0.5}
	u16 := dbc.Signal{Length: 16, Scale: 0.01, Offset: -40}
	u64 := dbc.Signal{Length: 64, Scale: 1}
	s64 := dbc.Signal{Length: 64, Signed: true, Scale: 1}
	f32 := dbc.Signal{Length: 32, Float: true, Scale: 2, Signed: true}
	f64 := dbc.Signal{Length: 64, Float: true, Scale: 1, Signed: true}
	tests := []struct {
		name  string
		s     dbc.Signal
		value float64
		want  uint64
	}{
		{"rounded to the nearest step", s16, 1.2, 2},
		{"negative", s16, -1.2, 0xFFFE},
		{"highest", s16, 16383.5, 0x7FFF},
		{"beyond the highest", s16, 1e9, 0x7FFF},
		{"lowest", s16, -16384, 0x8000},
		{"beyond the lowest", s16, -1e9, 0x8000},
		{"infinite", s16, math.Inf(1), 0x7FFF},
		{"not a number", s16, math.NaN(), 0x8000},
		{"offset", u16, 20, 6000},
		{"below", u16, -41, 0},
		{"above", u16, 1000, 0xFFFF},
		{"64 bits", u64, 1 << 63, 1 << 63},
		{"64 bits beyond", u64, 1e30, math.MaxUint64},
		{"64 bits below", s64, -1e30, 1 << 63},
		{"64 bits negative", s64, -2, math.MaxUint64 - 1},
		{"float", f32, 3, uint64(math.Float32bits(1.5))},
		{"double", f64, math.Pi, math.Float64bits(math.Pi)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			f, err := newField(&tt.s, 8)
			if err != nil {
				t.Fatal(err)
			}
			if got := f.raw(tt.value); got != tt.want {
				t.Errorf("got %#x, want %#x", got, tt.want)
			}
		})
	}
}

func TestFieldRefuses(t *testing.T) {
	for name, s := range map[string]dbc.Signal{
		"Intel beyond the end":    {Start: 41, Length: 8},
		"Motorola beyond the end": {Start: 46, Length: 8, BigEndian: true},
		"no bits":                 {Start: 0, Length: 0},
		"too many bits":           {Start: 0, Length: 65},
		"half a float":            {Start: 0, Length: 16, Float: true},
		"before the start":        {Start: -1, Length: 4},
	} {
		t.Run(name, func(t *testing.T) {
			if f, err := newField(&s, 6); err == nil {
				t.Errorf("accepted: %+v", f)
			}
		})
	}
}
