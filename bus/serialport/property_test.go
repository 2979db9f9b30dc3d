package serialport

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"plumbline/bus"
)

// anyChecksum draws a checksum of every kind, or none.
func anyChecksum(t *rapid.T, framing Framing) *Checksum {
	c := &Checksum{Kind: rapid.SampledFrom([]Kind{"none", KindCRC, KindSum8, KindSum16, KindLRC8, KindXor8}).Draw(t, "checksum")}
	if c.Kind == "none" {
		return nil
	}
	if c.Kind == KindCRC {
		c.CRC.Width = rapid.IntRange(8, 64).Draw(t, "width")
		mask := uint64(math.MaxUint64) >> (64 - c.CRC.Width)
		c.CRC.Poly, c.CRC.Init, c.CRC.XorOut = rapid.Uint64().Draw(t, "poly")&mask|1, rapid.Uint64().Draw(t, "init")&mask, rapid.Uint64().Draw(t, "xor")&mask
		c.CRC.ReflectIn, c.CRC.ReflectOut = rapid.Bool().Draw(t, "in"), rapid.Bool().Draw(t, "out")
	}
	if framing != Lines {
		c.Order = rapid.SampledFrom([]Order{Natural, LittleEndian, BigEndian}).Draw(t, "order")
	}
	c.CoverSync = framing == Packets && rapid.Bool().Draw(t, "cover sync")
	return c
}

// anyBinary draws a format of packets, cobs or slip, and a device of it: how it sends packets, and what frames they are.
func anyBinary(t *rapid.T, framing Framing) (Format, func(t *rapid.T) ([]byte, *bus.Frame)) {
	f := Format{Framing: framing, Checksum: anyChecksum(t, framing)}
	field := func(name string, from int) *Field {
		return &Field{Offset: from, Size: rapid.IntRange(1, 4).Draw(t, name), BigEndian: rapid.Bool().Draw(t, name+" big")}
	}
	header := 0
	if framing == Packets {
		f.Sync = rapid.SliceOfN(rapid.Byte(), 1, maxSync).Draw(t, "sync")
		if rapid.Bool().Draw(t, "stated") {
			f.LengthField = &LengthField{Field: *field("length field", 0), Adds: rapid.IntRange(-20, 5).Draw(t, "adds")}
			header = f.LengthField.end()
		} else {
			f.Length = rapid.IntRange(8, bus.MaxData+20).Draw(t, "length")
		}
	}
	if rapid.Bool().Draw(t, "with id") {
		f.ID = field("id", header)
		header = f.ID.end()
	} else {
		f.FixedID = rapid.Uint32Range(0, maxID).Draw(t, "fixed id")
	}
	if rapid.Bool().Draw(t, "with counter") {
		f.Counter = &Counter{Field: *field("counter", header), PerMessage: rapid.Bool().Draw(t, "per message")}
	}
	device := func(t *rapid.T) ([]byte, *bus.Frame) {
		least, most := max(1, f.headerEnd()), bus.MaxData+20 // longer ones are refused
		if f.Length > 0 {
			least, most = f.Length, f.Length
		}
		if f.LengthField != nil {
			least = max(least, f.LengthField.Adds) // less cannot be stated
		}
		payload := rapid.SliceOfN(rapid.OneOf(rapid.Byte(), rapid.SampledFrom(append([]byte{0, slipEnd, slipEsc, slipEscEnd, slipEscEsc}, f.Sync...))), least, most).Draw(t, "payload")
		if l := f.LengthField; l != nil {
			putField(payload, &l.Field, uint32(len(payload)-l.Adds))
		}
		frame := &bus.Frame{ID: f.FixedID}
		if f.ID != nil {
			if f.ID.read(payload) > maxID {
				putField(payload, f.ID, rapid.Uint32Range(0, maxID).Draw(t, "id"))
			}
			frame.ID = f.ID.read(payload)
		}
		if len(payload) > bus.MaxData {
			return payload, nil
		}
		frame.Len = uint8(copy(frame.Data[:], payload))
		if frame.ID > standardID {
			frame.Flags = bus.Extended
		}
		return payload, frame
	}
	return f, func(t *rapid.T) ([]byte, *bus.Frame) {
		payload, frame := device(t)
		return wire(&f, payload), frame
	}
}

func putField(payload []byte, f *Field, v uint32) {
	for i := range f.Size {
		shift := 8 * i
		if f.BigEndian {
			shift = 8 * (f.Size - 1 - i)
		}
		payload[f.Offset+i] = byte(v >> shift)
	}
}

// anySLCAN draws a CAN frame of any kind, and its line.
func anySLCAN(t *rapid.T) ([]byte, *bus.Frame) {
	var f bus.Frame
	kind, digits, widest := "trdb"[rapid.IntRange(0, 3).Draw(t, "kind")], 3, uint32(standardID)
	f.Flags = map[byte]bus.Flags{'r': bus.Remote, 'd': bus.FD, 'b': bus.FD | bus.BitRateSwitch}[kind]
	longest := byte(8)
	if f.Flags.Has(bus.FD) {
		longest = 15
	}
	if rapid.Bool().Draw(t, "extended") {
		kind, digits, widest = kind-'a'+'A', 8, maxID
		f.Flags |= bus.Extended
	}
	f.ID = rapid.Uint32Range(0, widest).Draw(t, "id")
	code := rapid.ByteRange(0, longest).Draw(t, "length code")
	f.Len = []uint8{0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64}[code] // ISO 11898-1:2015, table of the DLC
	line := fmt.Sprintf("%c%0*X%X", kind, digits, f.ID, code)
	if !f.Flags.Has(bus.Remote) {
		copy(f.Data[:], rapid.SliceOfN(rapid.Byte(), int(f.Len), int(f.Len)).Draw(t, "data"))
		line += fmt.Sprintf("%X", f.Payload())
	}
	line += rapid.SampledFrom([]string{"", "12aF", "00ffEE11"}).Draw(t, "time")
	if f.Flags.Has(bus.FD) && rapid.Bool().Draw(t, "passive") {
		line += "S"
		f.Flags |= bus.ErrorState
	}
	if rapid.Bool().Draw(t, "small") {
		line = line[:1] + strings.ReplaceAll(strings.ToLower(line[1:]), "s", "S")
	}
	return []byte(line + rapid.SampledFrom([]string{"\r", "\n", "\r\n"}).Draw(t, "end")), &f
}

// anyLines draws a format of lines and a device of it.
func anyLines(t *rapid.T) (Format, func(t *rapid.T) ([]byte, *bus.Frame)) {
	f := Format{Framing: Lines, Checksum: anyChecksum(t, Lines), FixedID: rapid.Uint32Range(0, maxID).Draw(t, "fixed id")}
	separator := rapid.SampledFrom([]string{";", ",", "\t", " ", " | ", ";  "}).Draw(t, "separator")
	if separator == " | " || rapid.Bool().Draw(t, "named") && strings.TrimSpace(separator) != "" {
		f.Separator = strings.TrimSpace(separator)
	}
	columns := rapid.IntRange(1, maxColumns).Draw(t, "columns")
	tag := ""
	if rapid.Bool().Draw(t, "tagged") {
		tag = "HGT"
		m := LineMessage{Tag: tag, ID: f.FixedID}
		for i := range columns {
			m.Columns = append(m.Columns, Column{Number: i + 1})
		}
		f.Lines, f.FixedID = []LineMessage{m}, 0
	}
	number := rapid.Float64().Filter(func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) })
	return f, func(t *rapid.T) ([]byte, *bus.Frame) {
		frame := &bus.Frame{ID: f.FixedID, Len: uint8(8 * columns)}
		var texts []string
		if tag != "" {
			texts, frame.ID = []string{tag}, f.Lines[0].ID
		}
		for i := range columns {
			v := number.Draw(t, "value")
			binary.LittleEndian.PutUint64(frame.Data[8*i:], math.Float64bits(v))
			texts = append(texts, strconv.FormatFloat(v, byte(rapid.SampledFrom([]rune("ge")).Draw(t, "notation")), -1, 64))
		}
		if frame.ID > standardID {
			frame.Flags = bus.Extended
		}
		line := strings.Join(texts, separator)
		if f.Checksum != nil {
			v := newVerifier(f.Checksum)
			line += "*" + fmt.Sprintf("%X", sealed(nil, f.Checksum, []byte(line))[:v.size])
		}
		return []byte(line + rapid.SampledFrom([]string{"\r", "\n", "\r\n"}).Draw(t, "end")), frame
	}
}

// TestPropertyRoundTrip: what a device sends, in any format, is heard frame for frame, in whatever pieces its bytes arrive.
func TestPropertyRoundTrip(t *testing.T) {
	for _, framing := range Framings() {
		t.Run(string(framing), func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				format, device := Format{Framing: SLCAN}, anySLCAN
				switch framing {
				case Packets, COBS, SLIP:
					format, device = anyBinary(t, framing)
				case Lines:
					format, device = anyLines(t)
				case SLCAN:
				}
				framer, err := NewFramer(format)
				if err != nil {
					t.Fatal(err)
				}
				// what ends a packet that was under way when the line was joined
				var line []byte
				if framing != Packets {
					line = wire(&format, []byte{1})
					line = line[len(line)-1:]
				}
				var want []bus.Frame
				for range rapid.IntRange(2, 8).Draw(t, "packets") {
					packet, frame := device(t)
					line = append(line, packet...)
					if frame != nil {
						want = append(want, *frame)
					}
				}
				var h heard
				size := rapid.IntRange(1, 5).Draw(t, "batch")
				for len(line) > 0 {
					n := min(len(line), rapid.IntRange(1, 100).Draw(t, "piece"))
					h.feed(framer, 0, line[:n], size)
					line = line[n:]
				}
				for i := range h.frames {
					h.frames[i].Source = 0
				}
				if s := framer.Stats(); !slices.Equal(h.frames, want) || s.Garbage > 0 && s.Refused == 0 || s.BadChecksums > 0 {
					t.Fatalf("%+v: %+v, got -, want +\n%s", format, s, cmp.Diff(h.frames, want))
				}
				balanced(t, framer)
			})
		})
	}
}
