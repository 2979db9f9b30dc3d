package serialport

import (
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"testing"

	"plumbline/bus"
	"plumbline/bus/candump"
)

const second = 1_000_000_000

var (
	crc16    = &Checksum{CRC: CRC{Width: 16, Poly: 0x1021, Init: 0xFFFF}}
	crc32ISO = &Checksum{CRC: CRC{Width: 32, Poly: 0x04C11DB7, Init: 0xFFFFFFFF, XorOut: 0xFFFFFFFF, ReflectIn: true, ReflectOut: true}}
)

// sealed returns a payload with its checksum; covered is what the checksum is over, nil: the payload.
func sealed(payload []byte, c *Checksum, covered []byte) []byte {
	if c == nil {
		return payload
	}
	if covered == nil {
		covered = payload
	}
	v := newVerifier(c)
	sum := v.sum(covered)
	out := append([]byte(nil), payload...)
	for i := range v.size {
		shift := 8 * i
		if !v.little {
			shift = 8 * (v.size - 1 - i)
		}
		out = append(out, byte(sum>>shift))
	}
	return out
}

// wire returns a payload as a device of that format sends it. Its length field,
// where the format has one, must be right already.
func wire(f *Format, payload []byte) []byte {
	switch f.Framing {
	case Packets:
		var covered []byte
		if f.Checksum != nil && f.Checksum.CoverSync {
			covered = append(append([]byte(nil), f.Sync...), payload...)
		}
		return append(append([]byte(nil), f.Sync...), sealed(payload, f.Checksum, covered)...)
	case COBS:
		return append(encodeCOBS(sealed(payload, f.Checksum, nil)), 0)
	case SLIP:
		return append(encodeSLIP(sealed(payload, f.Checksum, nil)), slipEnd)
	default:
		return append(append([]byte(nil), payload...), '\r')
	}
}

func newFramer(t testing.TB, f Format) *Framer {
	t.Helper()
	framer, err := NewFramer(f)
	if err != nil {
		t.Fatal(err)
	}
	return framer
}

// heard is what came out of a Framer or source, batch by batch.
type heard struct {
	frames []bus.Frame
	notes  []string // "note" before frame N
	raw    []bus.Note
	batch  bus.Batch
}

func (h *heard) take(b *bus.Batch) {
	for _, n := range b.Notes {
		h.notes = append(h.notes, fmt.Sprintf("%d %s", len(h.frames)+n.Before, noteText(&n)))
		n.Before += len(h.frames)
		h.raw = append(h.raw, n)
	}
	h.frames = append(h.frames, b.Frames...)
}

func noteText(n *bus.Note) string {
	switch n.Kind {
	case bus.Garbage:
		return fmt.Sprintf("garbage %d: %s", n.Count, n.Text)
	case bus.Loss:
		return fmt.Sprintf("loss %d", n.Count)
	case bus.LinkChanged:
		return "link " + map[bus.Link]string{
			bus.Absent: "absent", bus.Down: "down", bus.Silent: "silent", bus.ErrorActive: "active", bus.NoValidFrame: "no valid frame",
		}[n.Link]
	case bus.Clock:
		return fmt.Sprintf("clock %d", n.Step)
	default:
		return n.Text
	}
}

// feed gives all bytes at one time, in batches of up to size frames.
func (h *heard) feed(f *Framer, at int64, data []byte, size int) {
	b := &h.batch
	if cap(b.Frames) != size {
		b.Frames = make([]bus.Frame, 0, size)
	}
	for {
		b.Reset()
		n := f.Feed(at, 3, data, b)
		h.take(b)
		if data = data[n:]; len(data) == 0 {
			return
		}
	}
}

// cut feeds one string and returns what comes out.
func cut(t testing.TB, format Format, data string) (*heard, Stats) {
	t.Helper()
	f := newFramer(t, format)
	var h heard
	h.feed(f, 5*second, []byte(data), 64)
	return &h, f.Stats()
}

// dump writes frames in candump -L notation without time and interface.
func dump(frames []bus.Frame) []string {
	var out []string
	for i := range frames {
		f := frames[i]
		f.At = 0
		_, text, _ := strings.Cut(string(candump.Append(nil, &f, "x")), " x ")
		out = append(out, strings.TrimSpace(text))
	}
	return out
}

// floats reads the columns of a line's frame.
func floats(f *bus.Frame) []float64 {
	var out []float64
	for p := f.Payload(); len(p) >= 8; p = p[8:] {
		out = append(out, math.Float64frombits(binary.LittleEndian.Uint64(p)))
	}
	return out
}

// balanced fails where a byte is in none of the sums or in two.
func balanced(t interface {
	Helper()
	Errorf(format string, args ...any)
}, f *Framer,
) {
	t.Helper()
	s := f.Stats()
	underWay := uint64(f.end - f.start + f.overflow)
	if got := s.Valid + s.Idle + s.Garbage + s.Joined + underWay; got != s.Bytes {
		t.Errorf("valid %d + idle %d + garbage %d + joined %d + under way %d = %d, want %d bytes received", s.Valid, s.Idle, s.Garbage, s.Joined, underWay, got, s.Bytes)
	}
}

// devices is every framing with how the i-th packet looks.
func devices() map[string]struct {
	format  Format
	payload func(i int) []byte
} {
	binaryPayload := func(i int) []byte {
		b := []byte{byte(i), 0x10, 0xAA, 0x55, 0, 0xC0, 0xDB}
		return binary.BigEndian.AppendUint32(b[:1+i%7], uint32(i)*2654435761)
	}
	numbered := &Counter{Field: Field{Size: 1}}
	return map[string]struct {
		format  Format
		payload func(i int) []byte
	}{
		"packets": {Format{Framing: Packets, Sync: []byte{0xAA, 0x55}, Checksum: crc16, LengthField: &LengthField{Field: Field{Offset: 1, Size: 1}}, Counter: numbered}, func(i int) []byte {
			b := append([]byte{byte(i), 0}, binaryPayload(i)...)
			b[1] = byte(len(b))
			return b
		}},
		"cobs":  {Format{Framing: COBS, Checksum: crc32ISO, Counter: numbered}, binaryPayload},
		"slip":  {Format{Framing: SLIP, Checksum: &Checksum{Kind: KindSum16}, Counter: numbered}, binaryPayload},
		"slcan": {Format{Framing: SLCAN}, func(i int) []byte { return fmt.Appendf(nil, "t%03X2%04X", i%0x800, i) }},
		"lines": {Format{Framing: Lines}, func(i int) []byte { return fmt.Appendf(nil, "%d;%.3f;-7,25\r", i, float64(i)/7) }},
	}
}
