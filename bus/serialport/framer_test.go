package serialport

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
)

// packets is a device that sends AA 55, id, count, two bytes and a CRC.
var packets = Format{
	Framing: Packets, Sync: []byte{0xAA, 0x55}, Length: 4, Checksum: crc16,
	ID: &Field{Offset: 0, Size: 1}, Counter: &Counter{Field: Field{Offset: 1, Size: 1}},
}

// loose is the same without a checksum.
var loose = Format{Framing: Packets, Sync: []byte{0xAA, 0x55}, Length: 4}

// stated has the length in its first byte, which counts what comes after it, the checksum too.
var stated = Format{
	Framing: Packets, Sync: []byte{0xA5}, Checksum: &Checksum{Kind: KindSum8, CoverSync: true},
	LengthField: &LengthField{Field: Field{Size: 1}, Adds: 0},
}

func TestPackets(t *testing.T) {
	w := func(payloads ...string) string {
		var out []byte
		for _, p := range payloads {
			out = append(out, wire(&packets, []byte(p))...)
		}
		return string(out)
	}
	// 40 bytes of garbage: more than the one packet that may be cut off in front
	noise := strings.Repeat("\x11\xAA\x22\x55", 20)
	const a, b, c, d = "\x10\x01ab", "\x10\x02cd", "\x11\x03ef", "\x10\x04gh"
	bad := []byte(w(b))
	bad[4] ^= 1
	tests := []struct {
		name   string
		format Format
		data   string
		frames []string
		notes  []string
		stats  Stats
	}{
		{
			"two packets", packets, w(a, b),
			[]string{"010#10016162", "010#10026364"},
			[]string{"0 link active"},
			Stats{Bytes: 16, Valid: 16, Frames: 2},
		},
		{
			"joined in the middle of a packet", packets, w(a)[3:] + w(b),
			[]string{"010#10026364"},
			[]string{"0 link active"},
			Stats{Bytes: 13, Valid: 8, Joined: 5, Frames: 1},
		},
		{
			"leading garbage", packets, noise + w(a),
			[]string{"010#10016162"},
			[]string{"0 garbage 12: 12 bytes thrown away", "0 link active"},
			Stats{Bytes: 88, Valid: 8, Joined: 68, Garbage: 12, Frames: 1},
		},
		{
			"bad checksum", packets, w(a) + string(bad) + w(c),
			[]string{"010#10016162", "011#11036566"},
			[]string{"0 link active", "1 garbage 8: 8 bytes thrown away, among them 1 packets with a wrong checksum", "1 loss 1"},
			Stats{Bytes: 24, Valid: 16, Garbage: 8, Frames: 2, BadChecksums: 1, Missing: 1},
		},
		{
			"interrupted packet", packets, w(a) + w(b)[:5] + w(c),
			[]string{"010#10016162", "011#11036566"},
			[]string{"0 link active", "1 garbage 5: 5 bytes thrown away, among them 1 packets with a wrong checksum", "1 loss 1"},
			Stats{Bytes: 21, Valid: 16, Garbage: 5, Frames: 2, BadChecksums: 1, Missing: 1},
		},
		{
			"sync bytes inside a payload", packets, w("\x10\x01\xAA\x55", "\xAA\x02\x55\xAA", d),
			[]string{"010#1001AA55", "0AA#AA0255AA", "010#10046768"},
			[]string{"0 link active", "2 loss 1"},
			Stats{Bytes: 24, Valid: 24, Frames: 3, Missing: 1},
		},
		{
			"a false beginning right before a packet", packets, w(a) + "\xAA" + w(b) + "\xAA\x55" + w(c),
			[]string{"010#10016162", "010#10026364", "011#11036566"},
			[]string{"0 link active", "1 garbage 1: 1 bytes thrown away"}, // the second is noted a second later
			Stats{Bytes: 27, Valid: 24, Garbage: 3, Frames: 3, BadChecksums: 1},
		},
		{
			"the counter goes back", packets, w("\x10\x05ab", "\x10\x05ab", a, b),
			[]string{"010#10056162", "010#10056162", "010#10016162", "010#10026364"},
			[]string{"0 link active"},
			Stats{Bytes: 32, Valid: 32, Frames: 4, Restarts: 2},
		},
		{
			"the counter wraps", packets, w("\x10\xFEab", "\x10\x01ab"),
			[]string{"010#10FE6162", "010#10016162"},
			[]string{"0 link active", "1 loss 2"},
			Stats{Bytes: 16, Valid: 16, Frames: 2, Missing: 2},
		},
		{
			"without checksum the first packet waits for the next sync", loose, "\xAA\x55abcd\xAA\x55efgh",
			[]string{"000#61626364", "000#65666768"},
			[]string{"0 link active"},
			Stats{Bytes: 12, Valid: 12, Frames: 2},
		},
		{
			"without checksum sync bytes inside the first payload are not believed", loose, "\xAA\x55b\xAA\x55c\xAA\x55efgh",
			[]string{"000#62AA5563", "000#65666768"},
			[]string{"0 link active"},
			Stats{Bytes: 12, Valid: 12, Frames: 2},
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			h, stats := cut(t, tt.format, tt.data)
			if diff := cmp.Diff(tt.frames, dump(h.frames)); diff != "" {
				t.Errorf("frames (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(tt.notes, h.notes); diff != "" {
				t.Errorf("notes (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(tt.stats, stats); diff != "" {
				t.Errorf("stats (-want +got):\n%s", diff)
			}
		})
	}
}

func TestStatedLength(t *testing.T) {
	long := append([]byte{100}, make([]byte, 99)...)
	tests := []struct {
		name   string
		field  LengthField
		pay    []string
		frames []string
	}{
		// the first byte of each payload states: the bytes of the payload
		{"all of it", LengthField{Field: Field{Size: 1}}, []string{"\x03ab", "\x01", "\x05abcd"}, []string{"000#036162", "000#01", "000#0561626364"}},
		{"what follows", LengthField{Field: Field{Size: 1}, Adds: 1}, []string{"\x02ab", "\x00"}, []string{"000#026162", "000#00"}},
		{"sync and checksum too", LengthField{Field: Field{Size: 1}, Adds: -2}, []string{"\x05ab"}, []string{"000#056162"}},
		{"two bytes, big-endian", LengthField{Field: Field{Offset: 1, Size: 2, BigEndian: true}}, []string{"x\x00\x04a"}, []string{"000#78000461"}},
		{"four bytes beyond all sense", LengthField{Field: Field{Size: 4}}, []string{"\xff\xff\xff\xffab", "\x05\x00\x00\x00a"}, []string{"000#0500000061"}},
		{"a packet longer than a frame is left out", LengthField{Field: Field{Size: 1}}, []string{"\x03ab", string(long), "\x02a"}, []string{"000#036162", "000#0261"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			format := stated
			format.LengthField = &tt.field
			var data []byte
			for _, p := range tt.pay {
				data = append(data, wire(&format, []byte(p))...)
			}
			h, stats := cut(t, format, string(data))
			if diff := cmp.Diff(tt.frames, dump(h.frames)); diff != "" {
				t.Errorf("frames (-want +got):\n%s", diff)
			}
			if strings.Contains(tt.name, "left out") {
				want := []string{"0 link active", "1 garbage 102: 102 bytes thrown away, among them 1 whole packets (the last with a payload of 100 bytes) that are longer than the 64 bytes of a frame"}
				if diff := cmp.Diff(want, h.notes); diff != "" {
					t.Errorf("notes (-want +got):\n%s", diff)
				}
				if stats.Refused != 1 || stats.BadChecksums != 0 {
					t.Errorf("got %d refused, %d with a bad checksum, want 1 and 0", stats.Refused, stats.BadChecksums)
				}
			}
		})
	}
}

func TestStuffed(t *testing.T) {
	for _, framing := range Framings() {
		if framing == Packets || framing == SLCAN || framing == Lines {
			continue
		}
		format := Format{Framing: framing, Checksum: crc16, ID: &Field{Size: 2, BigEndian: true}, Counter: &Counter{Field: Field{Offset: 2, Size: 1}}}
		w := func(p string) string { return string(wire(&format, []byte(p))) }
		a, b, c := w("\x01\x00\x01\x00\xC0\xDB"), w("\x01\x00\x02x"), w("\xFF\xFF\x03")
		end := a[len(a)-1:]
		bad := sealed([]byte("\x01\x00\x02x"), crc16, nil) // wrong before it is stuffed, else another framing's delimiter can come of it
		bad[len(bad)-1] ^= 0x10
		bad = wire(&Format{Framing: framing}, bad)
		tests := []struct {
			name   string
			data   string
			frames []string
			notes  []string
			stats  Stats
		}{
			{
				"begins with a packet", a + b + c,
				[]string{"100#01000100C0DB", "100#01000278", "0000FFFF#FFFF03"},
				[]string{"0 link active"},
				Stats{Valid: uint64(len(a + b + c)), Frames: 3},
			},
			{
				"delimiters between packets", end + a + end + end + b,
				[]string{"100#01000100C0DB", "100#01000278"},
				[]string{"0 link active"},
				Stats{Valid: uint64(len(a + b)), Idle: 3, Frames: 2},
			},
			{
				"joined in the middle", a[4:] + b,
				[]string{"100#01000278"},
				[]string{"0 link active"},
				Stats{Valid: uint64(len(b)), Joined: uint64(len(a) - 4), Frames: 1},
			},
			{
				"bad checksum", a + string(bad) + c,
				[]string{"100#01000100C0DB", "0000FFFF#FFFF03"},
				[]string{"0 link active", "1 garbage N: N bytes thrown away, among them 1 packets with a wrong checksum", "1 loss 1"},
				Stats{Valid: uint64(len(a + c)), Garbage: uint64(len(bad)), Frames: 2, BadChecksums: 1, Missing: 1},
			},
			{
				"interrupted", a + b[:3] + end + c,
				[]string{"100#01000100C0DB", "0000FFFF#FFFF03"},
				nil,
				Stats{Valid: uint64(len(a + c)), Garbage: 4, Frames: 2, Missing: 1},
			},
			{
				"too long for any packet", a + strings.Repeat("x", 5000) + end + b,
				[]string{"100#01000100C0DB", "100#01000278"},
				nil,
				Stats{Valid: uint64(len(a + b)), Garbage: 5001, Frames: 2},
			},
			{
				"too long for a frame", a + w("\x01\x00\x02"+strings.Repeat("y", 90)) + b,
				[]string{"100#01000100C0DB", "100#01000278"},
				nil,
				Stats{Valid: uint64(len(a + b)), Garbage: uint64(len(w("\x01\x00\x02" + strings.Repeat("y", 90)))), Frames: 2, Refused: 1},
			},
		}
		for _, tt := range tests {
			t.Run(string(framing)+" "+tt.name, func(t *testing.T) {
				h, stats := cut(t, format, tt.data)
				if diff := cmp.Diff(tt.frames, dump(h.frames)); diff != "" {
					t.Errorf("frames (-want +got):\n%s", diff)
				}
				if tt.notes != nil {
					want := strings.ReplaceAll(strings.Join(tt.notes, "\n"), "N", strconv.Itoa(len(bad)))
					if diff := cmp.Diff(want, strings.Join(h.notes, "\n")); diff != "" {
						t.Errorf("notes (-want +got):\n%s", diff)
					}
				}
				if tt.name == "interrupted" {
					tt.stats.BadChecksums = stats.BadChecksums // a piece may be no packet of the framing at all
				}
				tt.stats.Bytes = uint64(len(tt.data))
				if diff := cmp.Diff(tt.stats, stats); diff != "" {
					t.Errorf("stats (-want +got):\n%s", diff)
				}
			})
		}
	}
}

func TestLines(t *testing.T) {
	nan := math.NaN()
	two := []LineMessage{
		{Tag: "HGT", ID: 7, Columns: []Column{{Number: 2}, {Number: 1}}},
		{Tag: "SPD", ID: 8, Columns: []Column{{Number: 1}}},
	}
	keys := []LineMessage{{ID: 5, Columns: []Column{{Key: "b"}, {Key: "a"}}}}
	plain := []LineMessage{{ID: 5, Columns: []Column{{Number: 1}, {Number: 3}}}}
	type row struct {
		ID      uint32
		Columns []float64
	}
	tests := []struct {
		name   string
		format Format
		data   string
		want   []row
		stats  Stats // Frames, Ignored, BadChecksums and whether there is garbage
	}{
		{"commas", Format{}, "1,2.5,-3e2\r\n", []row{{0, []float64{1, 2.5, -300}}}, Stats{Frames: 1}},
		{"semicolons and decimal commas", Format{}, "1,25; -2,5\n", []row{{0, []float64{1.25, -2.5}}}, Stats{Frames: 1}},
		{"blanks", Format{}, "  1   2\t3 \r\n", []row{{0, []float64{1, 2, 3}}}, Stats{Frames: 1}},
		{"a separator of one's own", Format{Separator: " | "}, "1 | 2\n", []row{{0, []float64{1, 2}}}, Stats{Frames: 1}},
		{"one column, CR alone", Format{FixedID: 9}, "17.25\r18\r", []row{{9, []float64{17.25}}, {9, []float64{18}}}, Stats{Frames: 2}},
		{"text is left alone", Format{}, "time,v\n1,2\n\n", []row{{0, []float64{1, 2}}}, Stats{Frames: 1, Ignored: 1}},
		{"nine columns are too many", Format{}, "1,2,3,4,5,6,7,8,9\n1\n", []row{{0, []float64{1}}}, Stats{Frames: 1, Ignored: 1}},
		{"no text at all", Format{}, "1,2\n\x81\x92\x03\n3,4\n", []row{{0, []float64{1, 2}}, {0, []float64{3, 4}}}, Stats{Frames: 2, Garbage: 1}},
		{
			"tags",
			Format{Lines: two},
			"HGT,1.5,2.5\n$SPD,3\nXYZ,4\n!HGT,5,\n",
			[]row{{7, []float64{2.5, 1.5}}, {8, []float64{3}}, {7, []float64{nan, 5}}},
			Stats{Frames: 3, Ignored: 1},
		},
		{"a tagged line without all columns", Format{Lines: two}, "SPD,1\nHGT,1\nSPD,2\n", []row{{8, []float64{1}}, {8, []float64{2}}}, Stats{Frames: 2, Garbage: 1}},
		{"keys", Format{Lines: keys}, "a=1 b=2\nb: 5;c=8;a = 4 mm\na=1\n", []row{{5, []float64{2, 1}}, {5, []float64{5, 4}}}, Stats{Frames: 2, Ignored: 1}},
		{"named columns", Format{Lines: plain}, "1;x;3\n----;0;-2\nno;text;here\n1;2\n", []row{{5, []float64{1, 3}}, {5, []float64{nan, -2}}}, Stats{Frames: 2, Ignored: 1, Garbage: 1}},
		{"inf and hexadecimal are no numbers", Format{Lines: plain}, "inf,0,1\n0x10,0,1\n1e999,0,1\n", []row{{5, []float64{nan, 1}}, {5, []float64{nan, 1}}, {5, []float64{nan, 1}}}, Stats{Frames: 3}},
		{
			"checksum",
			Format{Checksum: &Checksum{Kind: KindXor8}, Lines: two},
			"$SPD,3*1f\n$SPD,3*1E\n$SPD,3\n", nil,
			Stats{BadChecksums: 2, Garbage: 1},
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tt.format.Framing = Lines
			if tt.format.Checksum != nil {
				sum := newVerifier(tt.format.Checksum)
				good := string(hexByte(byte(sum.sum([]byte("SPD,3")))))
				tt.data = "$SPD,3*" + good + "\n$SPD,3*00\n$SPD,3\n$SPD,3*" + strings.ToLower(good) + "\n"
				tt.want = []row{{8, []float64{3}}, {8, []float64{3}}}
				tt.stats.Frames = 2
			} else {
				tt.data = "9\n" + tt.data // what was joined in the middle
			}
			h, stats := cut(t, tt.format, tt.data)
			var got []row
			for i := range h.frames {
				got = append(got, row{h.frames[i].ID, floats(&h.frames[i])})
			}
			same := cmp.Comparer(func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) })
			if diff := cmp.Diff(tt.want, got, same); diff != "" {
				t.Errorf("frames (-want +got):\n%s", diff)
			}
			part := Stats{Frames: stats.Frames, Ignored: stats.Ignored, BadChecksums: stats.BadChecksums, Garbage: min(stats.Garbage, 1)}
			if diff := cmp.Diff(tt.stats, part); diff != "" {
				t.Errorf("stats (-want +got):\n%s", diff)
			}
		})
	}
}

func hexByte(b byte) []byte {
	const digits = "0123456789ABCDEF"
	return []byte{digits[b>>4], digits[b&15]}
}

// TestNoValidFrame: noise at the right moment becomes a state of its own, apart
// from silence, and ends with the first valid packet.
func TestNoValidFrame(t *testing.T) {
	f := newFramer(t, packets)
	var h heard
	rng := rand.New(rand.NewPCG(5, 6))
	noise := func(from, to int64) {
		for at := from; at < to; at += second / 20 {
			b := make([]byte, 20)
			for i := range b {
				b[i] = byte(rng.Uint32())
			}
			h.feed(f, at, b, 8)
		}
	}
	linked := func() (out []string) {
		for i := range h.raw {
			if h.raw[i].Kind == bus.LinkChanged {
				out = append(out, h.notes[i])
			}
		}
		return out
	}
	noise(0, 2*second)
	if got := linked(); len(got) != 0 {
		t.Fatalf("within 2 s: got %q", got)
	}
	noise(2*second, 3*second)
	if diff := cmp.Diff([]string{"0 link no valid frame"}, linked()); diff != "" {
		t.Fatalf("after 2 s (-want +got):\n%s", diff)
	}
	noise(3*second, 20*second)
	h.feed(f, 20*second, wire(&packets, []byte("\x10\x01ab")), 8)
	want := []string{"0 link no valid frame", "0 link active"}
	if diff := cmp.Diff(want, linked()); diff != "" {
		t.Fatalf("with a packet (-want +got):\n%s", diff)
	}
	for i := range h.raw {
		if h.raw[i].Link == bus.NoValidFrame && !strings.Contains(h.raw[i].Text, "wrong baud rate or wrong framing") {
			t.Errorf("got %q", h.raw[i].Text)
		}
	}
	// a few bytes in a long time are not enough to say so
	f, h = newFramer(t, packets), heard{}
	for at := int64(0); at < 60*second; at += second {
		h.feed(f, at, []byte{0x11, 0x22}, 8)
	}
	if got := linked(); len(got) != 0 {
		t.Errorf("of 120 bytes in a minute: got %q", got)
	}
}

// TestPortGone: what was under way when the port went is thrown away, and the counter begins anew.
func TestPortGone(t *testing.T) {
	f := newFramer(t, packets)
	var h heard
	a, b := wire(&packets, []byte("\x10\x01ab")), wire(&packets, []byte("\x10\x09cd"))
	h.feed(f, 1*second, slices.Concat(a, b[:6]), 8)
	var batch bus.Batch
	batch.Reset()
	f.LinkChanged(bus.Note{At: 2 * second, Kind: bus.LinkChanged, Source: 3, Link: bus.Absent}, &batch)
	h.take(&batch)
	h.feed(f, 3*second, b, 8)
	want := []string{"0 link active", "1 garbage 6: 6 bytes thrown away", "1 link absent", "1 link active"}
	if diff := cmp.Diff(want, h.notes); diff != "" {
		t.Errorf("notes (-want +got):\n%s", diff)
	}
	if len(h.frames) != 2 {
		t.Errorf("got %d frames, want 2", len(h.frames))
	}
	balanced(t, f)
}

// TestFullBatch: a false beginning holds twenty packets back, which then all come at once, into batches of one.
func TestFullBatch(t *testing.T) {
	format := stated
	format.LengthField = &LengthField{Field: Field{Size: 1}}
	data := []byte{0xA5, 250}
	var want []string
	for i := range 100 {
		data = append(data, wire(&format, []byte{2, byte(i)})...)
		want = append(want, "000#02"+string(hexByte(byte(i))))
	}
	for _, size := range []int{1, 2, 3, 64, 256} {
		f := newFramer(t, format)
		var h heard
		h.feed(f, second, data, size)
		if diff := cmp.Diff(want, dump(h.frames)); diff != "" {
			t.Errorf("in batches of %d (-want +got):\n%s", size, diff)
		}
		balanced(t, f)
	}
}

func TestFormatFaults(t *testing.T) {
	tests := []struct {
		name   string
		format Format
		want   []string
	}{
		{"nothing", Format{}, []string{"no framing: expected one of " + framingWords()}},
		{"unknown framing", Format{Framing: "morse"}, []string{`framing "morse": expected one of`}},
		{"bare packets", Format{Framing: Packets}, []string{"sync: 0 bytes", "neither length nor length_field"}},
		{"two lengths", Format{Framing: Packets, Sync: []byte{1}, Length: 3, LengthField: &LengthField{Field: Field{Size: 1}}}, []string{"both length and length_field"}},
		{"fields that do not fit", Format{Framing: COBS, Length: 2, ID: &Field{Offset: 1, Size: 2}, Counter: &Counter{Field: Field{Offset: 63, Size: 5}}}, []string{
			"counter: size of 5 bytes", "counter: at byte 63", "length 2: the fields id and counter reach to byte 68",
		}},
		{"slcan with a checksum", Format{Framing: SLCAN, Checksum: crc16}, []string{"slcan carries none"}},
		{"what belongs to others", Format{Framing: SLIP, Sync: []byte{1}, Separator: ","}, []string{"sync and length_field belong to packets", "separator and columns belong to lines"}},
		{"lines", Format{Framing: Lines, Length: 3, Separator: ".", Lines: []LineMessage{{}, {Columns: []Column{{Number: 1, Key: "x"}}}}}, []string{
			"length, id, counter", `separator "."`, "0 columns: expected 1 to 8", "stands twice", "either a number from 1 or a key",
		}},
		{"times", Format{Framing: COBS, Counter: &Counter{Field: Field{Size: 1}}, Retime: []Retime{{1, 0}, {1, 100_000}}}, []string{"period of 0 ns", "stand twice", "goes round every 25600 µs"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := NewFramer(tt.format)
			if err == nil {
				t.Fatal("got no error")
			}
			lines := strings.Split(err.Error(), "\n")
			if len(lines) != len(tt.want) {
				t.Errorf("got %d faults, want %d:\n%s", len(lines), len(tt.want), err)
			}
			for _, want := range tt.want {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("got\n%s\nwant %q in it", err, want)
				}
			}
		})
	}
}
