package dbc

import (
	"os"
	"testing"

	"plumbline/bus"
)

// wheelPlan is the force message of the hub file, five Motorola signals, among
// all the others of that file, and one frame of it.
func wheelPlan(tb testing.TB) (*Plan, *bus.Frame) {
	tb.Helper()
	text, err := os.ReadFile(testdata + "/hub.dbc")
	if err != nil {
		tb.Fatal(err)
	}
	file, err := Parse("hub.dbc", text)
	if err != nil {
		tb.Fatal(err)
	}
	var bindings []Binding
	for i := range file.Messages {
		for j := range file.Messages[i].Signals {
			bindings = append(bindings, Binding{Message: &file.Messages[i], Signal: j, Channel: int32(len(bindings)), Scale: 1000})
		}
	}
	p, err := Compile(bindings)
	if err != nil {
		tb.Fatal(err)
	}
	return p, frame(528, 0x12, 0x34, 0x80, 0x00, 0x00, 0x03, 0x07, 0x08)
}

func TestDecodeAllocatesNothing(t *testing.T) {
	p, wheel := wheelPlan(t)
	page := frame(1296, 1, 2, 3, 4, 5, 6, 7, 8)
	angle := frame(0x18FF0400, 1, 2, 3, 4)
	angle.Flags = bus.Extended
	short := frame(528, 1)
	values := make([]Value, 0, 8)
	got := testing.AllocsPerRun(100, func() {
		for _, f := range []*bus.Frame{wheel, page, angle, short} {
			m := p.Lookup(f)
			if m < 0 {
				t.Fatalf("%#x is not in the plan", f.ID)
			}
			values, _ = p.Decode(m, f, values[:0])
		}
	})
	if got != 0 {
		t.Errorf("got %v allocations, want 0", got)
	}
}

func BenchmarkLookup(b *testing.B) {
	p, f := wheelPlan(b)
	angle := frame(0x18FF0400, 1, 2, 3, 4)
	angle.Flags = bus.Extended
	unknown := frame(0x18FF0401, 1, 2, 3, 4)
	unknown.Flags = bus.Extended
	for name, f := range map[string]*bus.Frame{"11 bits": f, "29 bits": angle, "unknown 29 bits": unknown} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			sum := 0
			for b.Loop() {
				sum += p.Lookup(f)
			}
			_ = sum
		})
	}
}

// BenchmarkDecode looks up and decodes a message of five Motorola signals, a page
// of a multiplexed one, and two Intel signals under a 29-bit identifier.
func BenchmarkDecode(b *testing.B) {
	p, wheel := wheelPlan(b)
	angle := frame(0x18FF0400, 1, 2, 3, 4)
	angle.Flags = bus.Extended
	for name, f := range map[string]*bus.Frame{"motorola 5": wheel, "page": frame(1296, 1, 2, 3, 4, 5, 6, 7, 8), "intel 2": angle} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			values := make([]Value, 0, 8)
			for b.Loop() {
				values, _ = p.Decode(p.Lookup(f), f, values[:0])
			}
			b.ReportMetric(float64(len(values)), "values/op")
		})
	}
}

func BenchmarkParse(b *testing.B) {
	text, err := os.ReadFile(testdata + "/hub.dbc")
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Parse("hub.dbc", text); err != nil {
			b.Fatal(err)
		}
	}
}
