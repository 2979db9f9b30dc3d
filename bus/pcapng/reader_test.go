package pcapng_test

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/bus/pcapng"
)

// count returns 0, 1, 2 … n-1.
func count(n int) []byte {
	p := make([]byte, n)
	for i := range p {
		p[i] = byte(i)
	}
	return p
}

// can0 are the frames of testdata/can0.txt; step is the ns that the format can tell apart.
func can0(step int64) []bus.Frame {
	const start = 1_700_000_000_000_000_000
	remote := func(at int64, id uint32, flags bus.Flags, n uint8) bus.Frame {
		f := frame(at, 0, id, flags|bus.Remote)
		f.Len = n
		return f
	}
	frames := []bus.Frame{
		frame(start+100_000_001, 0, 0x123, 0, 1, 2, 3, 4, 5, 6, 7, 8),
		frame(start+101_000_002, 0, 0x7FF, 0),
		frame(start+102_000_003, 0, 0x18FF1021, bus.Extended|bus.Transmitted, 0xAA, 0xBB, 0xCC),
		remote(start+103_000_004, 0x201, 0, 4),
		frame(start+104_000_005, 0, 0x204, bus.Error, 0, 8, 0, 0, 0, 0, 96, 3),
		frame(start+105_000_006, 0, 0x301, bus.FD|bus.BitRateSwitch, count(64)...),
		frame(start+106_000_007, 0, 0x302, bus.FD, count(12)...),
		remote(start+107_000_008, 0x1FFFFFFF, bus.Extended, 8),
		frame(start+999_999_999, 0, 0x181, 0, bytes.Repeat([]byte{0xFF}, 8)...),
	}
	for i := range frames {
		frames[i].At -= frames[i].At % step
		if step > 1 {
			frames[i].Flags &^= bus.Transmitted // pcap has no direction
		}
	}
	return frames
}

func can1(source uint16) []bus.Frame {
	var frames []bus.Frame
	for k := range int64(4) {
		frames = append(frames, frame(1_700_000_000_100_500_000+k*1_000_000, source, 0x401+uint32(k), 0, bytes.Repeat([]byte{byte(k)}, 4)...))
	}
	return frames
}

// TestRecordings reads what text2pcap, mergecap, editcap and dumpcap wrote
// (testdata/README.md); what is expected is written from the hex dumps.
func TestRecordings(t *testing.T) {
	start := int64(1_700_000_000_000_000_000)
	merged := slices.Concat(can0(1), can1(1))
	slices.SortStableFunc(merged, func(a, b bus.Frame) int { return int(a.At - b.At) })
	nano := can0(1)
	for i := range nano {
		nano[i].Flags &^= bus.Transmitted
	}
	tests := []struct {
		file  string
		names []string
		want  []bus.Frame
		notes []bus.Note
	}{
		{"can0.pcapng", []string{"can0"}, can0(1), nil},
		{"can1.pcapng", []string{"can1"}, can1(0), nil},
		{"can0-nano.pcap", []string{"interface 0"}, nano, nil},
		{"can0-micro.pcap", []string{"interface 0"}, can0(1000), nil},
		{"dumpcap.pcapng", []string{"-"}, can0(1000), nil},
		{"sections.pcapng", []string{"can0", "can1"}, slices.Concat(can0(1), can1(1)), nil},
		{"merged.pcapng", []string{"can0", "can1"}, merged, []bus.Note{{
			Before: 6, At: start + 102_600_000, Kind: bus.Warning,
			Text: "merged.pcapng: block 11 at byte 744: packets of eth0 are skipped: it has link type 1 (Ethernet), and only 227 is read",
		}}},
		{"marks.pcapng", []string{"can0"}, can0(1), []bus.Note{
			{Before: 0, At: start + 100_000_001, Kind: bus.Mark, Text: "turn FL"},
			{Before: 4, At: start + 104_000_005, Kind: bus.Mark, Text: "on the lift"},
		}},
	}
	for _, test := range tests {
		for _, size := range []int{1, 4, bus.BatchSize} {
			t.Run(test.file, func(t *testing.T) {
				in := open(t, test.file)
				r := pcapng.NewReader(test.file, in)
				got, notes, err := everything(t, r, size)
				if err != nil {
					t.Fatal(err)
				}
				if diff := cmp.Diff(got, test.want); diff != "" {
					t.Errorf("frames (-got +want):\n%s", diff)
				}
				if diff := cmp.Diff(notes, test.notes); diff != "" {
					t.Errorf("notes (-got +want):\n%s", diff)
				}
				if diff := cmp.Diff(r.Names(), test.names); diff != "" {
					t.Errorf("names (-got +want):\n%s", diff)
				}
			})
		}
	}
}

func open(tb testing.TB, file string) *os.File {
	tb.Helper()
	f, err := os.Open(filepath.Join("testdata", file))
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { f.Close() })
	return f
}

func TestBigEndianSection(t *testing.T) {
	b := big().section()
	b.iface(227, b.opt(2, []byte("can0")), b.opt(9, []byte{9}))
	b.packet(0, 1_700_000_000_123_456_789, classic(0x98FF1021, 1, 2), b.opt(4, b.u64(nil, 3)), b.opt(2, b.u32(nil, 2)), b.opt(1, []byte("mark: down")))
	l := little().section()
	l.iface(227, l.opt(2, []byte("can0")))
	l.packet(0, 1_700_000_001_000_000, classic(0x42, 9))
	r := pcapng.NewReader("x", bytes.NewReader(append(b.out, l.out...)))
	got, notes, err := everything(t, r, 16)
	if err != nil {
		t.Fatal(err)
	}
	want := []bus.Frame{
		frame(1_700_000_000_123_456_789, 0, 0x18FF1021, bus.Extended|bus.Transmitted, 1, 2),
		frame(1_700_000_001_000_000_000, 0, 0x42, 0, 9),
	}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("frames (-got +want):\n%s", diff)
	}
	wantNotes := []bus.Note{
		{At: want[0].At, Kind: bus.Mark, Text: "down"},
		{At: want[0].At, Kind: bus.Loss, Count: 3, Text: "3 frames of can0 were lost while recording"},
	}
	if diff := cmp.Diff(notes, wantNotes); diff != "" {
		t.Errorf("notes (-got +want):\n%s", diff)
	}
}

// TestDrops: an enhanced packet counts what was lost since the one before,
// statistics what was lost since the start (pcapng draft, 4.3 and 4.6).
func TestDrops(t *testing.T) {
	b := little().section()
	b.iface(227, b.opt(2, []byte("can0"))).iface(227, b.opt(2, []byte("can1")))
	drops := func(n uint64) []byte { return b.opt(4, b.u64(nil, n)) }
	b.packet(0, 1_000_000, classic(0x123))
	b.packet(1, 2_000_000, classic(0x123), drops(5))
	b.packet(1, 3_000_000, classic(0x123), drops(0))
	b.packet(1, 4_000_000, classic(0x123), drops(2))
	b.statistics(0, 5_000_000, b.opt(5, b.u64(nil, 0)))
	b.statistics(1, 6_000_000, b.opt(5, b.u64(nil, 7)))
	b.statistics(1, 7_000_000, b.opt(5, b.u64(nil, 8)), b.opt(7, b.u64(nil, 3)))
	b.statistics(0, 0, b.opt(5, b.u64(nil, 1<<64-1)), b.opt(7, b.u64(nil, 4)))
	_, notes, err := everything(t, pcapng.NewReader("x", bytes.NewReader(b.out)), 16)
	if err != nil {
		t.Fatal(err)
	}
	loss := func(before int, at int64, source uint16, n uint64, text string) bus.Note {
		return bus.Note{Before: before, At: at, Kind: bus.Loss, Source: source, Count: n, Text: text}
	}
	want := []bus.Note{
		loss(1, 2_000_000_000, 1, 5, "5 frames of can1 were lost while recording"),
		loss(3, 4_000_000_000, 1, 2, "2 frames of can1 were lost while recording"),
		loss(4, 7_000_000_000, 1, 4, "4 frames of can1 were lost while recording"), // 11 in all, 7 told
		loss(4, 4_000_000_000, 0, 4, "4 frames of can0 were lost while recording"),
	}
	if diff := cmp.Diff(notes, want); diff != "" {
		t.Errorf("notes (-got +want):\n%s", diff)
	}
}

// TestObsoletePacket reads the packet block that came before the enhanced one.
func TestObsoletePacket(t *testing.T) {
	b := little().section().iface(227)
	for _, drops := range []uint16{2, 0xFFFF} {
		p := b.u16(nil, 0)
		p = b.u16(p, drops)
		p = b.u32(p, 0)
		p = b.u32(p, 7)
		p = b.u32(p, 16)
		p = b.u32(p, 16)
		b.block(2, append(p, classic(0x7E, 5)...))
	}
	got, notes, err := everything(t, pcapng.NewReader("x", bytes.NewReader(b.out)), 16)
	if err != nil {
		t.Fatal(err)
	}
	want := []bus.Frame{frame(7000, 0, 0x7E, 0, 5), frame(7000, 0, 0x7E, 0, 5)}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("frames (-got +want):\n%s", diff)
	}
	wantNotes := []bus.Note{{At: 7000, Kind: bus.Loss, Count: 2, Text: "2 frames of interface 0 were lost while recording"}}
	if diff := cmp.Diff(notes, wantNotes); diff != "" {
		t.Errorf("notes (-got +want):\n%s", diff)
	}
}

func TestPackets(t *testing.T) {
	fd := func(id uint32, flags byte, size int, data ...byte) []byte {
		p := append([]byte{byte(id >> 24), byte(id >> 16), byte(id >> 8), byte(id), byte(len(data)), flags, 0, 0}, data...)
		return append(p, make([]byte, max(0, size-len(p)))...)
	}
	tests := []struct {
		name   string
		packet []byte
		want   bus.Frame
		refuse string
	}{
		{"FD flag on a short frame", fd(0x123, 4, 0, 1, 2), frame(0, 0, 0x123, bus.FD, 1, 2), ""},
		{"FD by size alone", fd(0x123, 0, 72, 1, 2), frame(0, 0, 0x123, bus.FD, 1, 2), ""},
		{"FD by data length alone", fd(0x123, 0, 0, count(20)...), frame(0, 0, 0x123, bus.FD, count(20)...), ""},
		{"FD with all flags", fd(0x123, 7, 72), frame(0, 0, 0x123, bus.FD|bus.BitRateSwitch|bus.ErrorState), ""},
		{"bytes behind the data are not data", fd(0x123, 0, 16, 1)[:9:9], frame(0, 0, 0x123, 0, 1), ""},
		{"padding is not data", append(fd(0x123, 0, 0, 1), 0xEE, 0xEE, 0xEE, 0xEE, 0xEE, 0xEE, 0xEE), frame(0, 0, 0x123, 0, 1), ""},
		{"error frame of no class", classic(0x20000000, count(8)...), frame(0, 0, 0, bus.Error, count(8)...), ""},
		{"highest identifiers", classic(0x9FFFFFFF), frame(0, 0, 0x1FFFFFFF, bus.Extended), ""},
		{"no packet", nil, bus.Frame{}, "its 0 bytes are less than the header of 8"},
		{"shorter than the header", classic(0x123)[:7], bus.Frame{}, "its 7 bytes are less than the header of 8"},
		{"data cut by the snap length", classic(0x123, count(8)...)[:12], bus.Frame{}, "only 4 of its 8 data bytes were captured; record with a longer snap length"},
		{"too much data", fd(0x123, 4, 0, count(65)...), bus.Frame{}, "a data length of 65 is more than a frame can have"},
		{"CAN XL", fd(0x123, 0x80, 0, make([]byte, 0x80)...), bus.Frame{}, "CAN XL frames are not read"},
		{"FD and remote", fd(0x40000123, 4, 0), bus.Frame{}, "a CAN FD frame cannot be a remote request"},
		{"impossible either way", classic(0x00111100), bus.Frame{}, "0x00111100 is not a possible identifier"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			b := little().section().iface(227)
			// a full frame before it leaves bytes behind in the batch's memory
			b.packet(0, 0, fd(0x7FF, 4, 72, bytes.Repeat([]byte{0xAA}, 64)...))
			b.packet(0, 0, test.packet)
			r := pcapng.NewReader("x", bytes.NewReader(b.out))
			batch := bus.Batch{Frames: make([]bus.Frame, 0, 1)}
			if err := r.Read(&batch); err != nil {
				t.Fatal(err)
			}
			if err := r.Read(&batch); err != nil {
				t.Fatal(err)
			}
			var got bus.Frame
			if len(batch.Frames) == 1 {
				got = batch.Frames[0]
			}
			if diff := cmp.Diff(got, test.want); diff != "" {
				t.Errorf("frame (-got +want):\n%s", diff)
			}
			text := ""
			for _, n := range batch.Notes {
				text = strings.TrimPrefix(n.Text, "x: block 4 at byte 152: packet of interface 0 skipped: ")
			}
			if text != test.refuse {
				t.Errorf("warning %q, want %q", text, test.refuse)
			}
		})
	}
}

func TestMarks(t *testing.T) {
	tests := []struct{ comment, want string }{
		{"turn FL", "turn FL"},
		{"mark: turn FL", "turn FL"},
		{"# mark: turn FL ", "turn FL"},
		{"#Mark:turn FL", "turn FL"},
		{"two\r\nlines\x1b[31m", "two lines [31m"},
		{"# of turns", "# of turns"},
		{"broken \xff text", "broken ? text"},
		{"  ", ""},
	}
	for _, test := range tests {
		b := little().section().iface(1)
		b.packet(0, 3, []byte{1, 2, 3}, b.opt(1, []byte(test.comment))) // on a packet of another link type
		b.iface(227)
		_, notes, err := everything(t, pcapng.NewReader("x", bytes.NewReader(b.out)), 1)
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		if notes[0].Kind == bus.Mark && notes[0].At == 3000 {
			got = notes[0].Text
		}
		if got != test.want {
			t.Errorf("comment %q: mark %q, want %q", test.comment, got, test.want)
		}
	}
}

func TestRefused(t *testing.T) {
	cooked := little().section().iface(113).iface(276).iface(1).iface(113)
	old := little().section().iface(227).packet(0, 0, classic(0x123))
	old.out[12] = 2
	simple := little().section().iface(227)
	simple.block(3, append(simple.u32(nil, 16), classic(0x123)...))
	pcap := slices.Clone(read(t, "can0-nano.pcap"))
	pcap[20] = 1
	tests := []struct {
		name    string
		in      []byte
		err     string
		warning string
	}{
		{"empty", nil, "", ""},
		{"text", []byte("(1.0) can0 123#"), "x: neither pcapng nor pcap: it begins with 28 31 2E 30", ""},
		{"no CAN interface", cooked.out, `x: no CAN interface (link type 227): there is link type 113 (Linux cooked, as captures of the device "any" have it), ` +
			`link type 276 (Linux cooked, as captures of the device "any" have it), link type 1 (Ethernet); record on the interface by name, with dumpcap -i can0 or candump -L can0`, ""},
		{"pcap of Ethernet", pcap, "x: no CAN interface (link type 227): there is link type 1 (Ethernet); record on the interface by name, with dumpcap -i can0 or candump -L can0", ""},
		{"version of a section", old.out, "", "x: block 1 at byte 0: section skipped: version 2.0 is not known, only 1.0"},
		{"packet without time", simple.out, "", "x: block 3 at byte 48: packet skipped: a simple packet block has no time; record with dumpcap or candump -L"},
		{
			"interface that is not there", little().section().iface(227).packet(1, 0, classic(0x123)).out, "",
			"x: block 3 at byte 48: packet skipped: interface 1 is not described before it",
		},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			frames, notes, err := everything(t, pcapng.NewReader("x", bytes.NewReader(test.in)), 16)
			text := ""
			if err != nil {
				text = err.Error()
			}
			if text != test.err {
				t.Errorf("error\n%q, want\n%q", text, test.err)
			}
			warning := ""
			if len(notes) > 0 {
				warning = notes[0].Text
			}
			if warning != test.warning || len(notes) > 1 {
				t.Errorf("warning\n%q (%d in all), want\n%q", warning, len(notes), test.warning)
			}
			if len(frames) != 0 {
				t.Errorf("%d frames, want none", len(frames))
			}
		})
	}
}

func read(tb testing.TB, file string) []byte {
	tb.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", file))
	if err != nil {
		tb.Fatal(err)
	}
	return data
}

// TestInputError: what came before an error of the input is delivered.
func TestInputError(t *testing.T) {
	broken := errors.New("disk on fire")
	for _, file := range []string{"can0.pcapng", "can0-nano.pcap"} {
		data := read(t, file)
		in := io.MultiReader(bytes.NewReader(data[:len(data)-1]), iotest.ErrReader(broken))
		frames, _, err := everything(t, pcapng.NewReader("x", in), 16)
		if len(frames) != 8 || !errors.Is(err, broken) {
			t.Errorf("%s: %d frames and error %v, want 8 and %v", file, len(frames), err, broken)
		}
	}
}

// TestLive: frames are handed over when they have arrived, not when a batch is full.
func TestLive(t *testing.T) {
	in, out := io.Pipe()
	r := pcapng.NewReader("x", in)
	b := little().section().iface(227)
	go func() {
		_, _ = out.Write(b.out)
		for n := range 3 {
			p := little().packet(0, uint64(n), classic(0x123))
			_, _ = out.Write(p.out)
		}
		// and then nothing more comes
	}()
	var batch bus.Batch
	for n := range 3 {
		if err := r.Read(&batch); err != nil {
			t.Fatal(err)
		}
		if len(batch.Frames) != 1 || batch.Frames[0].At != int64(n)*1000 {
			t.Fatalf("read %d: got %d frames, want frame %d alone", n, len(batch.Frames), n)
		}
	}
	done := make(chan error)
	go func() { done <- r.Read(&batch) }()
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if err := <-done; err == nil || errors.Is(err, io.EOF) {
		t.Errorf("Read ended with %v after Close, want an error that is not io.EOF", err)
	}
	if err := r.Read(&batch); err == nil || errors.Is(err, io.EOF) {
		t.Errorf("Read after Close gave %v", err)
	}
}
