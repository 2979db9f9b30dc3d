package serialport

import (
	"bytes"
	"encoding/binary"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/bus/dbc"
)

// fuzzFormats is every framing, with and without what makes it differ.
func fuzzFormats() []Format {
	perMessage := &Counter{Field: Field{Offset: 1, Size: 1}, PerMessage: true}
	return []Format{
		packets, loose, stated,
		{
			Framing: Packets, Sync: []byte{0xAA, 0xAA, 0x55}, LengthField: &LengthField{Field: Field{Offset: 1, Size: 2, BigEndian: true}, Adds: -3},
			ID: &Field{Size: 1}, Known: []Known{{ID: 1}, {ID: 0xAA, Length: 8}},
		},
		{Framing: COBS},
		{Framing: COBS, Checksum: crc32ISO, Counter: perMessage, ID: &Field{Size: 1}, Retime: []Retime{{1, 1_000_000}}},
		{Framing: SLIP, Known: []Known{{Length: 4}}},
		{Framing: SLIP, Checksum: &Checksum{Kind: KindLRC8}},
		{Framing: SLCAN, Retime: []Retime{{0x123, 5_000_000}}},
		{Framing: Lines},
		{Framing: Lines, Separator: ";", Checksum: &Checksum{Kind: KindXor8}},
		{Framing: Lines, Lines: []LineMessage{{Tag: "HGT", Columns: []Column{{Number: 2}, {Key: "a"}}}, {ID: 1, Columns: []Column{{Number: 1}}}}},
	}
}

// A function each, so that each framing has its share of the time.
func FuzzPackets(f *testing.F) { fuzzFramer(f, Packets) }

func FuzzCOBS(f *testing.F) { fuzzFramer(f, COBS) }

func FuzzSLIP(f *testing.F) { fuzzFramer(f, SLIP) }

func FuzzSLCAN(f *testing.F) {
	text, err := os.ReadFile("testdata/slcan-python-can.txt")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(uint8(0), uint64(77), text[:300])
	f.Add(uint8(0), uint64(3), []byte("sa000000\rsw096012\re2ac\rB1234567F"+strings.Repeat("00FF", 32)+"1234S\r"))
	fuzzFramer(f, SLCAN)
}

func FuzzLines(f *testing.F) {
	f.Add(uint8(0), uint64(3), []byte("1,2\r\n$HGT,2.5,a=7*00\r\n  3 4\n-1e5;x\n"))
	f.Add(uint8(1), uint64(3), []byte("1;2*0A\r\n1; 2,5 mm*00\n"))
	f.Add(uint8(2), uint64(3), []byte("\nHGT,2.5,3,a=7\r\n3 4\nHGT\n"))
	fuzzFramer(f, Lines)
}

// fuzzFramer: no panic; the same frames and notes in whatever pieces; no byte is lost from
// the sums; and after any garbage, packets are found again.
func fuzzFramer(f *testing.F, framing Framing) {
	f.Helper()
	formats := slices.DeleteFunc(fuzzFormats(), func(format Format) bool { return format.Framing != framing })
	for i, format := range formats {
		var data []byte
		for k := range 3 {
			payload := []byte{1, byte(k), 8, 9}
			if format.LengthField != nil {
				payload = []byte{4, byte(k), 0, 1}
			}
			data = append(data, wire(&format, payload)...)
		}
		f.Add(uint8(i), uint64(0x1234567), data)
		f.Add(uint8(i), uint64(len(data)/2<<32|0x1234567), data)
	}
	f.Fuzz(func(t *testing.T, which uint8, cuts uint64, data []byte) {
		format := formats[int(which)%len(formats)]
		run := func(piece func(i int) int, size int) (*heard, *Framer) {
			framer := newFramer(t, format)
			h := &heard{}
			missing := int(cuts >> 32) // bytes are missing before this one, if there is one
			// 256 bytes a second; pieces do not change the time of a byte
			for i := 0; i < len(data); {
				n := min(piece(i), len(data)-i, 64-i%64)
				if i < missing {
					n = min(n, missing-i)
				}
				if i == missing {
					framer.Missing()
					balanced(t, framer)
				}
				h.feed(framer, int64(1+i/64)*second/4, data[i:i+n], size)
				i += n
			}
			balanced(t, framer)
			return h, framer
		}
		whole, framer := run(func(int) int { return 64 }, 256)
		for size, piece := range map[int]func(i int) int{
			1: func(int) int { return 1 },
			3: func(i int) int { return 1 + int(cuts>>(i%58)&31) },
		} {
			other, _ := run(piece, size)
			if !slices.Equal(whole.frames, other.frames) || !slices.Equal(whole.notes, other.notes) { // cmp takes most of the time
				t.Fatalf("-in chunks of 64 +otherwise:\n%s%s", cmp.Diff(whole.frames, other.frames), cmp.Diff(whole.notes, other.notes))
			}
		}
		for i := range whole.frames {
			fr := &whole.frames[i]
			for _, c := range fr.Data[fr.Len:] {
				if c != 0 {
					t.Fatalf("a byte behind the payload of %v is not zero", fr)
				}
			}
			if fr.ID > maxID || (fr.ID > standardID) != fr.Flags.Has(bus.Extended) && fr.Flags&bus.Extended == 0 {
				t.Fatalf("identifier %#x with flags %b", fr.ID, fr.Flags)
			}
		}
		// packets after the garbage: whatever was begun is given up after the longest packet
		good := goodPacket(&format)
		frames := framer.Stats().Frames
		whole.feed(framer, 1000*second, bytes.Repeat(good, 2*(maxPacket+32)/len(good)+4), 64)
		if framer.Stats().Frames < frames+2 {
			t.Fatalf("no packet is found after this: %+v", framer.Stats())
		}
	})
}

// goodPacket is a packet that the format takes.
func goodPacket(f *Format) []byte {
	switch f.Framing {
	case SLCAN:
		return []byte("t1234DEADBEEF\r")
	case Lines:
		line := []byte("HGT,1,2,a=3")
		if len(f.Lines) == 0 {
			line = []byte("1;2;3")
		}
		if f.Checksum != nil {
			v := newVerifier(f.Checksum)
			line = append(append(line, '*'), hexByte(byte(v.sum(line)))...)
		}
		return append(line, '\r')
	case Packets, COBS, SLIP:
	}
	payload := []byte{1, 2, 3, 4}
	if l := f.LengthField; l != nil {
		if l.Size == 2 {
			binary.BigEndian.PutUint16(payload[1:], uint16(4-l.Adds))
		} else {
			payload[0] = byte(4 - l.Adds)
		}
	}
	return wire(f, payload)
}

// FuzzLayout: no panic, every fault has a place, and what is accepted can be framed and decoded.
func FuzzLayout(f *testing.F) {
	for _, name := range []string{"testdata/layout-optics.yaml", "testdata/layout-faults.yaml"} {
		text, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(uint8(1), string(text))
	}
	f.Add(uint8(0), "line: {separator: \";\"}\nmessages:\n  - {name: M, tag: T, fields: [{name: A, column: 2}, {name: B, key: b}]}\n")
	f.Add(uint8(2), "packet: {length: 13, id: {at: 0, size: 2}}\nmessages: [{name: M, id: 4000, fields: [{name: A, type: bits, at: 3, width: 64}]}]\n")
	f.Fuzz(func(t *testing.T, which uint8, text string) {
		format, file, err := ParseLayout("x.yaml", []byte(text), Format{Framing: Framings()[int(which)%5]})
		if err != nil {
			for line := range strings.SplitSeq(err.Error(), "\n") {
				if strings.HasPrefix(line, "x.yaml:") {
					return
				}
			}
			t.Fatalf("a fault without a place: %v", err)
		}
		if _, err := NewFramer(format); err != nil {
			t.Fatalf("accepted, but no format: %v", err)
		}
		var bindings []dbc.Binding
		for i := range file.Messages {
			for j := range file.Messages[i].Signals {
				bindings = append(bindings, dbc.Binding{Message: &file.Messages[i], Signal: j, Channel: int32(len(bindings)), Scale: 1})
			}
		}
		if _, err := dbc.Compile(bindings); err != nil {
			t.Fatalf("accepted, but no plan: %v", err)
		}
	})
}
