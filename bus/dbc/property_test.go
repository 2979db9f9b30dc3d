package dbc

import (
	"fmt"
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"plumbline/bus"
)

// place is where the bit of a signal lies that counts 2^k: byte, and bit in it. It is written from the definition, Intel upward
// from the start bit, Motorola downward from it in saw-tooth numbering, and shares nothing with the decoder.
func place(s *Signal, k int) (at, bit int) {
	if !s.BigEndian {
		return (s.Start + k) / 8, (s.Start + k) % 8
	}
	at, bit = s.Start/8, s.Start%8
	for range s.Length - 1 - k {
		if bit--; bit < 0 {
			at, bit = at+1, 7
		}
	}
	return at, bit
}

// nearest is the raw value of an integer signal whose physical value is next to v.
func nearest(s *Signal, v float64) uint64 {
	lowest, highest := s.rawEnds()
	x := math.Round((v - s.Offset) / s.Scale)
	if s.Signed {
		switch {
		case x <= float64(int64(lowest)):
			return lowest
		case x >= float64(int64(highest)):
			return highest
		}
		return uint64(int64(x))
	}
	switch {
	case x <= 0:
		return 0
	case x >= float64(highest):
		return highest
	}
	return uint64(x)
}

// sameBits compares as many bits as the signal has.
func sameBits(s *Signal, a, b uint64) bool { return (a^b)<<(64-s.Length) == 0 }

// TestPropertySignal: a physical value that is put into a frame comes out within half a step, whatever the signal, and whatever stands
// beside it; a frame that ends before it gives none.
func TestPropertySignal(t *testing.T) {
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	rapid.Check(t, func(t *rapid.T) {
		s := Signal{
			Length: rapid.IntRange(1, 64).Draw(t, "length"), BigEndian: rapid.Bool().Draw(t, "Motorola"), Signed: rapid.Bool().Draw(t, "signed"),
			Scale: rapid.Float64Range(1e-9, 1e6).Draw(t, "factor"), Offset: rapid.Float64Range(-1e6, 1e6).Draw(t, "offset"),
		}
		if rapid.Bool().Draw(t, "negative") {
			s.Scale = -s.Scale
		}
		if s.Float = rapid.IntRange(0, 3).Draw(t, "float") == 3; s.Float {
			s.Length = rapid.SampledFrom([]int{32, 64}).Draw(t, "float bits")
		}
		first := rapid.IntRange(0, 8*bus.MaxData-s.Length).Draw(t, "first bit") // as they are sent
		s.Start = first
		if s.BigEndian {
			s.Start = first/8*8 + 7 - first%8
		}
		order, sign := "1", "+"
		if s.BigEndian {
			order = "0"
		}
		if s.Signed {
			sign = "-"
		}
		text := fmt.Sprintf("BO_ 256 M: 64 A\n SG_ S : %d|%d@%s%s (%s,%s) [0|0] \"N\" A\n", s.Start, s.Length, order, sign, number(s.Scale), number(s.Offset))
		if s.Float {
			text += fmt.Sprintf("SIG_VALTYPE_ 256 S : %d;\n", s.Length/32)
		}
		file, err := Parse("p.dbc", []byte(text))
		if err != nil {
			t.Fatalf("%v of\n%s", err, text)
		}
		plan, err := Compile([]Binding{{Message: &file.Messages[0], Channel: 7, Scale: 1}})
		if err != nil {
			t.Fatal(err)
		}

		f := bus.Frame{ID: 256, Flags: bus.FD, Len: bus.MaxData}
		copy(f.Data[:], rapid.SliceOfN(rapid.Byte(), bus.MaxData, bus.MaxData).Draw(t, "beside it"))
		var want, tolerance float64
		var raw uint64
		if s.Float {
			x := rapid.Float64Range(-1e9, 1e9).Draw(t, "carried")
			raw = math.Float64bits(x)
			if s.Length == 32 {
				raw, x = uint64(math.Float32bits(float32(x))), float64(float32(x))
			}
			want = x*s.Scale + s.Offset
		} else {
			lowest, highest := s.rawEnds()
			from, to := float64(lowest), float64(highest)
			if s.Signed {
				from, to = float64(int64(lowest)), float64(int64(highest))
			}
			want = rapid.OneOf(rapid.Float64Range(from, to), rapid.SampledFrom([]float64{from, to})).Draw(t, "raw")*s.Scale + s.Offset
			raw = nearest(&s, want)
			tolerance = math.Abs(s.Scale) / 2
		}
		tolerance += 1e-15 * (math.Abs(want) + math.Abs(s.Offset)) // of the arithmetic
		need := 0
		for k := range s.Length {
			at, bit := place(&s, k)
			need = max(need, at+1)
			f.Data[at] = f.Data[at]&^(1<<bit) | byte(raw>>k&1)<<bit
		}
		values, short := plan.Decode(plan.Lookup(&f), &f, nil)
		if len(values) != 1 || short || values[0].Channel != 7 || !(math.Abs(values[0].Value-want) <= tolerance) {
			t.Fatalf("got %+v, short %t, want %v within %v, raw %#x, of\n%s", values, short, want, tolerance, raw, text)
		}
		if lowest, highest := s.rawEnds(); !s.Float && (values[0].State != Inside) != (sameBits(&s, raw, lowest) || sameBits(&s, raw, highest)) {
			t.Fatalf("state %d of raw %#x", values[0].State, raw)
		}
		f.Len = uint8(rapid.IntRange(0, need-1).Draw(t, "cut"))
		if values, short := plan.Decode(plan.Lookup(&f), &f, nil); len(values) != 0 || !short {
			t.Fatalf("got %+v, short %t of %d of %d bytes, want no value", values, short, f.Len, need)
		}
	})
}
