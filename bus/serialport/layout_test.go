package serialport

import (
	"encoding/binary"
	"flag"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/bus/dbc"
)

var update = flag.Bool("update", false, "write the .want files")

// values decodes a frame by the plan of all signals of a file.
func values(t testing.TB, file *dbc.File, frame *bus.Frame) map[string]float64 {
	t.Helper()
	var bindings []dbc.Binding
	var names []string
	for i := range file.Messages {
		m := &file.Messages[i]
		for j := range m.Signals {
			bindings = append(bindings, dbc.Binding{Source: frame.Source, Message: m, Signal: j, Channel: int32(len(names)), Scale: 1})
			names = append(names, m.Name+"."+m.Signals[j].Name)
		}
	}
	plan, err := dbc.Compile(bindings)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]float64{}
	m := plan.Lookup(frame)
	if m < 0 {
		return out
	}
	list, short := plan.Decode(m, frame, nil)
	if short {
		out["short"] = 1
	}
	for _, v := range list {
		out[names[v.Channel]] = v.Value
	}
	return out
}

// TestLayout: from the file to values, through the Framer and the plan.
func TestLayout(t *testing.T) {
	text, err := os.ReadFile("testdata/layout-optics.yaml")
	if err != nil {
		t.Fatal(err)
	}
	format, file, err := ParseLayout("optics.yaml", text, Format{Framing: Packets})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := file.Messages[0].CycleTime, time.Millisecond; got != want {
		t.Errorf("period: got %v, want %v", got, want)
	}
	if got, want := []int{file.Messages[0].Length, file.Messages[1].Length}, []int{14, 12}; !cmp.Equal(got, want) {
		t.Errorf("lengths: got %v, want %v", got, want)
	}
	if diff := cmp.Diff([]Retime{{0x10, 1e6}}, format.Retime); diff != "" {
		t.Errorf("reconstructed (-want +got):\n%s", diff)
	}
	payload := []byte{13, 0x10, 1}
	payload = binary.LittleEndian.AppendUint32(payload, math.Float32bits(0.25))
	payload = binary.BigEndian.AppendUint32(payload, math.Float32bits(-1.5))
	payload = append(payload, 0b0000_0010)
	payload = binary.BigEndian.AppendUint16(payload, uint16(0xFFFF&-123))
	info := append([]byte{11, 0x11, 1, 0}, 0x39, 0x30, 0, 0, 9, 9, 9, 9)
	h, stats := cut(t, format, string(wire(&format, payload))+string(wire(&format, info)))
	if len(h.frames) != 2 {
		t.Fatalf("got %d frames, want 2: %+v", len(h.frames), stats)
	}
	want := map[string]float64{"Camber.Outer": 0.25, "Camber.Inner": -1.5, "Camber.State": 1, "Camber.Temp": -12.3 - 40}
	near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-12 })
	if diff := cmp.Diff(want, values(t, file, &h.frames[0]), near); diff != "" {
		t.Errorf("Camber (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(map[string]float64{"Info.Serial": 12345}, values(t, file, &h.frames[1])); diff != "" {
		t.Errorf("Info (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]dbc.ValueText{{Raw: 0, Text: "ok"}, {Raw: 1, Text: "no target"}}, file.Messages[0].Signals[2].Values); diff != "" {
		t.Errorf("values (-want +got):\n%s", diff)
	}
}

// TestFieldTypes decodes every type by the plan, the bytes written by encoding/binary.
func TestFieldTypes(t *testing.T) {
	big := func(n int, v uint64) []byte { b := binary.BigEndian.AppendUint64(nil, v); return b[8-n:] }
	little := func(n int, v uint64) []byte { return binary.LittleEndian.AppendUint64(nil, v)[:n] }
	minus := func(v int64) uint64 { return uint64(v) }
	tests := []struct {
		kind  string
		bytes []byte
		want  float64
	}{
		{"u8", []byte{200}, 200},
		{"i8", []byte{200}, -56},
		{"u16le", little(2, 0x1234), 0x1234},
		{"u16be", big(2, 0x1234), 0x1234},
		{"i16le", little(2, minus(-2)), -2},
		{"i16be", big(2, minus(-300)), -300},
		{"u24le", little(3, 0x123456), 0x123456},
		{"u24be", big(3, 0x923456), 0x923456},
		{"i24le", little(3, minus(-70000)), -70000},
		{"i24be", big(3, minus(-70000)), -70000},
		{"u32le", little(4, 0x92345678), 0x92345678},
		{"u32be", big(4, 0x92345678), 0x92345678},
		{"i32le", little(4, minus(-123456789)), -123456789},
		{"i32be", big(4, minus(-123456789)), -123456789},
		{"u64le", little(8, 1<<62), 1 << 62},
		{"u64be", big(8, 1<<62+1<<40), 1<<62 + 1<<40},
		{"i64le", little(8, minus(-1<<50)), -1 << 50},
		{"i64be", big(8, minus(-1<<50)), -1 << 50},
		{"f32le", little(4, uint64(math.Float32bits(-0.5))), -0.5},
		{"f32be", big(4, uint64(math.Float32bits(6.25))), 6.25},
		{"f64le", little(8, math.Float64bits(math.Pi)), math.Pi},
		{"f64be", big(8, math.Float64bits(-math.Pi)), -math.Pi},
	}
	if len(tests) != len(fieldTypes()) {
		t.Errorf("%d rows for %d types", len(tests), len(fieldTypes()))
	}
	for _, tt := range tests {
		// at every byte of a frame where it fits, and once in sequence after a byte
		for _, at := range []int{0, 1, 7, 13, 64 - len(tt.bytes)} {
			text := "messages:\n  - {name: M, fields: [{name: X, type: " + tt.kind + ", at: " + string(rune('0'+at/10)) + string(rune('0'+at%10)) + "}]}\n"
			text = strings.Replace(text, "at: 0", "at: ", 1) // no octal
			_, file, err := ParseLayout("x", []byte(text), Format{Framing: COBS})
			if err != nil {
				t.Fatal(err)
			}
			frame := bus.Frame{Len: uint8(at + len(tt.bytes))}
			for i := range frame.Data {
				frame.Data[i] = 0x5A
			}
			copy(frame.Data[at:], tt.bytes)
			if got := values(t, file, &frame)["M.X"]; got != tt.want {
				t.Errorf("%s at %d: got %v, want %v", tt.kind, at, got, tt.want)
			}
		}
	}
}

func TestFieldsInSequence(t *testing.T) {
	text := `
packet: {length: 13, id: {at: 0, size: 2}, counter: {at: 2}}
messages:
  - name: M
    fields:
      - {name: A, type: u16be}
      - {name: Flag, type: bits, bit: 7, width: 2}
      - {name: B, type: u8}
      - {name: C, type: u8, at: 12}
`
	format, file, err := ParseLayout("x", []byte(text), Format{Framing: SLIP})
	if err != nil {
		t.Fatal(err)
	}
	h, _ := cut(t, format, "\xC0\x00\x00\x00\x01\x02\x80\x01\x07____\x09\xC0")
	if len(h.frames) != 1 {
		t.Fatalf("got %d frames, want 1", len(h.frames))
	}
	want := map[string]float64{"M.A": 0x102, "M.Flag": 3, "M.B": 7, "M.C": 9}
	if diff := cmp.Diff(want, values(t, file, &h.frames[0])); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestLineLayout(t *testing.T) {
	text := `
line: {separator: ";"}
messages:
  - {name: Height, tag: HGT, period_ms: 10, fields: [{name: Outer, unit: mm, column: 2}, {name: Inner, unit: mm, column: 1, scale: 0.5}]}
  - {name: Road, tag: SPD, fields: [{name: Vx, key: vx}, {name: Vy, key: vy}]}
`
	format, file, err := ParseLayout("x", []byte(text), Format{Framing: Lines})
	if err != nil {
		t.Fatal(err)
	}
	h, _ := cut(t, format, "\nHGT;120,5;99\nSPD;vy=-0.5;vx=13.2\n")
	if len(h.frames) != 2 {
		t.Fatalf("got %d frames, want 2", len(h.frames))
	}
	got := []map[string]float64{values(t, file, &h.frames[0]), values(t, file, &h.frames[1])}
	want := []map[string]float64{{"Height.Outer": 99, "Height.Inner": 60.25}, {"Road.Vx": 13.2, "Road.Vy": -0.5}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestLayoutFaults: every fault of a file at once, with its place, exactly.
func TestLayoutFaults(t *testing.T) {
	text, err := os.ReadFile("testdata/layout-faults.yaml")
	if err != nil {
		t.Fatal(err)
	}
	_, _, err = ParseLayout("faults.yaml", text, Format{Framing: Packets})
	if err == nil {
		t.Fatal("got no error")
	}
	got := err.Error() + "\n"
	const name = "testdata/layout-faults.want"
	if *update {
		if err := os.WriteFile(name, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestLayoutFaultRows(t *testing.T) {
	tests := []struct {
		name    string
		framing Framing
		text    string
		want    string
	}{
		{"empty", COBS, "", "x:1:1: the file is empty"},
		{"only a comment", COBS, "# nothing\n", "x:1:1: "},
		{"no YAML", COBS, "a: [1\nb: 2\n", "this is not YAML"},
		{"a list", COBS, "- 1\n", "x:1:1: expected keys with values"},
		{"two documents", COBS, "messages: []\n---\nmessages: []\n", "a second document begins"},
		{"an alias", COBS, "packet: &p {length: 3}\nmessages: *p\n", "x:2:11: aliases are not read"},
		{"slcan", SLCAN, "messages: []\n", "slcan carries CAN frames"},
		{"nothing in it", COBS, "line: {}\n", "x:1:7: line belongs to lines"},
		{"packet of lines", Lines, "packet: {length: 3}\n", "x:1:9: packet belongs to packets"},
		{"messages that nothing tells apart", COBS, "messages:\n  - {name: A, fields: [{name: X, type: u8}]}\n  - {name: B, id: 1, fields: [{name: X, type: u8}]}\n", "x:2:3: 2 messages, but nothing tells them apart"},
		{"the same id", COBS, "packet: {id: {at: 0}}\nmessages:\n  - {name: A, fields: [{name: X, type: u8}]}\n  - {name: B, fields: [{name: X, type: u8}]}\n", "x:4:5: messages A and B have the same id 0x0"},
		{"shorter than its fields", COBS, "packet: {length: 2}\nmessages: [{name: A, fields: [{name: X, type: u32le}]}]\n", "x:2:12: message A: packets have 2 bytes"},
		{"the format as a whole", Packets, "packet: {sync: [1]}\n", "x:1:1: neither length nor length_field"},
		{"nine columns", Lines, "messages:\n  - name: A\n    fields: [{name: a},{name: b},{name: c},{name: d},{name: e},{name: f},{name: g},{name: h},{name: i}]\n", "has 9 fields: a frame holds 8"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, file, err := ParseLayout("x", []byte(tt.text), Format{Framing: tt.framing})
			if err == nil || !strings.Contains(err.Error(), tt.want) || file != nil {
				t.Errorf("got %v, file %v, want %q", err, file, tt.want)
			}
		})
	}
}

// TestLayoutKeepsChecksum: the setup's checksum stays where the layout has none, and takes the order that the layout adds.
func TestLayoutKeepsChecksum(t *testing.T) {
	base := Format{Framing: COBS, Checksum: crc16}
	for text, want := range map[string]*Checksum{
		"packet: {length: 3}\n":                                crc16,
		"packet: {length: 3, checksum: {order: little}}\n":     {CRC: crc16.CRC, Order: LittleEndian},
		"packet: {length: 3, checksum: {kind: xor8}}\n":        {Kind: KindXor8},
		"packet: {checksum: {width: 8, poly: 7, init: 255}}\n": {CRC: CRC{Width: 8, Poly: 7, Init: 255}},
	} {
		format, _, err := ParseLayout("x", []byte(text), base)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, format.Checksum); diff != "" {
			t.Errorf("%s(-want +got):\n%s", text, diff)
		}
	}
}
