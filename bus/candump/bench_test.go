package candump

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"math/rand/v2"
	"strings"
	"testing"

	"go.einride.tech/can"

	"plumbline/bus"
)

// benchFrames is what four amplifiers send: classic frames of 8 bytes, of two
// kinds of identifier, on one or two interfaces.
func benchFrames(n, interfaces int) []bus.Frame {
	rnd := rand.New(rand.NewPCG(1, 2))
	frames := make([]bus.Frame, n)
	for i := range frames {
		f := &frames[i]
		f.At = 1_436_509_052_249_713_000 + int64(i)*125_000
		f.ID = 0x200 + uint32(i%20)
		f.Source = uint16(i / 4 % interfaces)
		f.Len = 8
		for j := range f.Len {
			f.Data[j] = byte(rnd.Uint32())
		}
	}
	return frames
}

func benchText(frames []bus.Frame) []byte {
	var text []byte
	for i := range frames {
		text = Append(text, &frames[i], [...]string{"can0", "can1"}[frames[i].Source])
	}
	return text
}

func benchFD(n int) []bus.Frame {
	frames := benchFrames(n, 1)
	for i := range frames {
		f := &frames[i]
		f.Flags, f.Len = bus.FD|bus.BitRateSwitch, 64
		for j := range f.Len {
			f.Data[j] = byte(i) + j
		}
	}
	return frames
}

// drain reads everything and returns the number of frames.
func drain(tb testing.TB, r *Reader, batch *bus.Batch) int {
	tb.Helper()
	total := 0
	for {
		err := r.Read(batch)
		if errors.Is(err, io.EOF) {
			return total
		}
		if err != nil || len(batch.Notes) > 0 {
			tb.Fatalf("Read: %v, notes %v", err, batch.Notes)
		}
		total += len(batch.Frames)
	}
}

const benchCount = 20_000

func BenchmarkReader(b *testing.B) {
	for _, bb := range []struct {
		name string
		text []byte
	}{
		{"classic", benchText(benchFrames(benchCount, 1))},
		{"two_interfaces", benchText(benchFrames(benchCount, 2))},
		{"crlf", bytes.ReplaceAll(benchText(benchFrames(benchCount, 1)), []byte("\n"), []byte("\r\n"))},
		{"dots", dotted(benchText(benchFrames(benchCount, 1)))},
		{"fd64", benchText(benchFD(benchCount))},
	} {
		b.Run(bb.name, func(b *testing.B) {
			var batch bus.Batch
			var input bytes.Reader
			r := NewReader("bench", &input)
			b.SetBytes(int64(len(bb.text)))
			b.ReportAllocs()
			for b.Loop() {
				input.Reset(bb.text)
				r.readErr, r.err = nil, nil // the same buffer again
				if got := drain(b, r, &batch); got != benchCount {
					b.Fatalf("got %d frames, want %d", got, benchCount)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/benchCount, "ns/frame")
		})
	}
}

// BenchmarkEinride reads the same text with can.Frame.UnmarshalString, the text
// parser of go.einride.tech/can. It knows ID#DATA only, so the time stamp and
// the interface are cut off and not read.
func BenchmarkEinride(b *testing.B) {
	text := benchText(benchFrames(benchCount, 1))
	b.Run("lines", func(b *testing.B) {
		b.SetBytes(int64(len(text)))
		b.ReportAllocs()
		for b.Loop() {
			s := bufio.NewScanner(bytes.NewReader(text))
			for s.Scan() {
				line := s.Text()
				var f can.Frame
				if err := f.UnmarshalString(line[strings.LastIndexByte(line, ' ')+1:]); err != nil {
					b.Fatal(err)
				}
			}
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/benchCount, "ns/frame")
	})
	b.Run("frames_only", func(b *testing.B) { // strings cut out beforehand
		var frames []string
		for line := range strings.Lines(string(text)) {
			frames = append(frames, strings.TrimSpace(line[strings.LastIndexByte(line, ' ')+1:]))
		}
		b.SetBytes(int64(len(text)))
		b.ReportAllocs()
		for b.Loop() {
			for _, s := range frames {
				var f can.Frame
				if err := f.UnmarshalString(s); err != nil {
					b.Fatal(err)
				}
			}
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/benchCount, "ns/frame")
	})
}

func BenchmarkWriter(b *testing.B) {
	for _, bb := range []struct {
		name   string
		frames []bus.Frame
	}{
		{"classic", benchFrames(benchCount, 1)},
		{"fd64", benchFD(benchCount)},
	} {
		b.Run(bb.name, func(b *testing.B) {
			w := NewWriter(io.Discard, []string{"can0"})
			b.SetBytes(int64(len(benchText(bb.frames))))
			b.ReportAllocs()
			for b.Loop() {
				for i := range bb.frames {
					if err := w.Write(&bb.frames[i]); err != nil {
						b.Fatal(err)
					}
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/benchCount, "ns/frame")
		})
	}
}

// dotted puts a dot between the bytes of data, as some tools do.
func dotted(text []byte) []byte {
	var out []byte
	for line := range bytes.Lines(text) {
		head, data, _ := bytes.Cut(bytes.TrimSpace(line), []byte{'#'})
		out = append(append(out, head...), '#')
		for i := 0; i < len(data); i += 2 {
			if i > 0 {
				out = append(out, '.')
			}
			out = append(out, data[i:i+2]...)
		}
		out = append(out, '\n')
	}
	return out
}
