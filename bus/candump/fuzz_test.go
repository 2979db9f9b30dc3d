package candump

import (
	"bytes"
	"encoding/binary"
	"io"
	"os"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
)

// FuzzReader: whatever the bytes, a Reader does not panic, keeps to the contract
// of a frame, bounds its warnings and does not care how the bytes arrive.
func FuzzReader(f *testing.F) {
	log, err := os.ReadFile("testdata/asc2log.log")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(log)
	f.Add(write(f, randomFrames(11, 20), []string{"can0", "vcan1", "any"}))
	f.Add([]byte(one + "# mark: x\nDROPCOUNT: dropped 3 CAN frames on 'can9' socket (total drops 3)\n" + two))
	f.Add([]byte(one + "(2.0) can0 0\x00\x00\x00" + two + "(3.0"))
	f.Add([]byte("\ufeff " + strings.Repeat("(x\n", 25) + strings.Repeat("y", maxLine+1) + "\r\n"))
	f.Add([]byte("(1.0) can0 123#1122334455667788_E T\r\n(1.0)  can0 20000080#00.00\n(1.0) can0 123##5\n(1.0) can0 123#R8_9"))
	f.Fuzz(func(t *testing.T, text []byte) {
		whole, err := readAll(t, NewReader("f", bytes.NewReader(text)), bus.BatchSize)
		if err != nil {
			t.Fatalf("got error %v, want none from a healthy reader", err)
		}
		warnings := 0
		for _, n := range whole.Notes {
			if n.Kind == bus.Warning {
				warnings++
			}
		}
		if warnings > bus.MaxWarnings+1 {
			t.Errorf("got %d warnings, want at most %d", warnings, bus.MaxWarnings+1)
		}
		w := NewWriter(&bytes.Buffer{}, whole.Names)
		for i := range whole.Frames {
			g := &whole.Frames[i]
			if err := w.Write(g); err != nil { // each frame is one that a log can carry
				t.Errorf("frame %d: %v", i, err)
			}
			if tail := g.Data[g.Len:]; !g.Flags.Has(bus.Remote) && len(bytes.Trim(tail, "\x00")) > 0 {
				t.Errorf("frame %d: got %x beyond %d bytes, want zeros", i, tail, g.Len)
			}
		}
		for _, in := range []struct {
			name string
			r    io.Reader
		}{
			{"byte by byte", iotest.OneByteReader(bytes.NewReader(text))},
			{"by halves", iotest.DataErrReader(iotest.HalfReader(bytes.NewReader(text)))},
		} {
			got, err := readAll(t, NewReader("f", in.r), 1)
			if diff := cmp.Diff(got, whole); err != nil || diff != "" {
				t.Errorf("%s: error %v, got -, want +\n%s", in.name, err, diff)
			}
		}
	})
}

// FuzzRoundTrip: a frame that the Writer accepts comes back the same.
func FuzzRoundTrip(f *testing.F) {
	for _, g := range randomFrames(12, 20) {
		f.Add(g.At, g.ID, uint8(g.Flags), g.Len, g.Data[:], "can0")
	}
	f.Add(int64(1), uint32(2), uint8(bus.Extended), uint8(1), binary.LittleEndian.AppendUint64(nil, 3), "vcan1 ü")
	f.Fuzz(func(t *testing.T, at int64, id uint32, flags, length uint8, payload []byte, name string) {
		want := bus.Frame{At: at, ID: id, Flags: bus.Flags(flags) & 0x7F, Len: length} // the seven that there are
		if !want.Flags.Has(bus.Remote) && length <= bus.MaxData {
			copy(want.Data[:length], payload)
		}
		var out bytes.Buffer
		w := NewWriter(&out, []string{name})
		if w.Write(&want) != nil {
			return
		}
		if err := w.Flush(); err != nil {
			t.Fatal(err)
		}
		got := read(t, out.String())
		if diff := cmp.Diff(got, result{Frames: []bus.Frame{want}, Names: []string{name}}); diff != "" {
			t.Errorf("%q: got -, want +\n%s", out.String(), diff)
		}
	})
}
