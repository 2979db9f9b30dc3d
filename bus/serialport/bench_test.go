package serialport

import (
	"slices"
	"testing"

	"plumbline/bus"
)

// stream is a second or so of one device.
func stream(format *Format, payload func(int) []byte) (data []byte, frames int) {
	for i := range 1000 {
		data = append(data, wire(format, payload(i))...)
	}
	return data, 1000
}

// TestEachFramingIsTried: allocations, seams and guessing run over devices, fuzzing over fuzzFormats.
func TestEachFramingIsTried(t *testing.T) {
	for _, framing := range Framings() {
		if dev, ok := devices()[string(framing)]; !ok || dev.format.Framing != framing {
			t.Errorf("no device sends %s: add one to devices in helpers_test.go", framing)
		}
		if !slices.ContainsFunc(fuzzFormats(), func(f Format) bool { return f.Framing == framing }) {
			t.Errorf("no format of %s is fuzzed: add some to fuzzFormats and a fuzz function of its own", framing)
		}
	}
}

// TestNoAllocations: nothing is allocated per frame, in any framing.
func TestNoAllocations(t *testing.T) {
	for name, dev := range devices() {
		t.Run(name, func(t *testing.T) {
			data, _ := stream(&dev.format, dev.payload)
			f := newFramer(t, dev.format)
			var b bus.Batch
			at := int64(second)
			got := testing.AllocsPerRun(20, func() {
				at += second / 100
				for rest := data; len(rest) > 0; {
					b.Reset()
					rest = rest[f.Feed(at, 0, rest, &b):]
				}
			})
			// one note at the seam, where the counter jumps
			if limit := 6.0; got > limit {
				t.Errorf("%v allocations for 1000 frames, want at most %v", got, limit)
			}
		})
	}
}

func BenchmarkFramer(b *testing.B) {
	for _, framing := range Framings() {
		dev := devices()[string(framing)]
		b.Run(string(framing), func(b *testing.B) {
			data, frames := stream(&dev.format, dev.payload)
			f := newFramer(b, dev.format)
			var batch bus.Batch
			at := int64(second)
			b.ReportAllocs()
			b.SetBytes(int64(len(data)))
			for b.Loop() {
				at++
				for rest := data; len(rest) > 0; {
					batch.Reset()
					rest = rest[f.Feed(at, 0, rest, &batch):]
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*frames), "ns/frame")
		})
	}
}

func BenchmarkCRC(b *testing.B) {
	data := make([]byte, 64)
	table := newCRCTable(crc16.CRC)
	b.ReportAllocs()
	b.SetBytes(64)
	for b.Loop() {
		table.sum(data)
	}
}

func BenchmarkReconstruct(b *testing.B) {
	r := NewReconstruct(1_000_000, 65536)
	n := uint64(0)
	b.ReportAllocs()
	for b.Loop() {
		n++
		r.At(n%65536, epoch+int64(n/16*16)*1_000_000)
	}
}
