package pcapng_test

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/bus/pcapng"
)

const epoch = 1_700_000_000_123_456_789 // ns

// allFrames is every kind of frame.
func allFrames() []bus.Frame {
	remote := frame(epoch+3, 0, 0x201, bus.Remote)
	remote.Len = 4
	return []bus.Frame{
		frame(epoch, 0, 0x123, 0, 1, 2, 3, 4, 5, 6, 7, 8),
		frame(epoch+1, 0, 0x7FF, 0),
		frame(epoch+2, 0, 0x18FF1021, bus.Extended|bus.Transmitted, 0xAA, 0xBB, 0xCC),
		remote,
		frame(epoch+4, 0, 0x204, bus.Error, 0, 8, 0, 0, 0, 0, 96, 3),
		frame(epoch+5, 0, 0x301, bus.FD|bus.BitRateSwitch, count(64)...),
		frame(epoch+6, 0, 0x302, bus.FD|bus.ErrorState, count(12)...),
		frame(epoch+7, 0, 0x302, bus.FD),
		frame(epoch+8, 0, 0x1FFFFFFF, bus.Extended),
		frame(0, 0, 0, 0),
	}
}

// allNotes is every kind of note, of the second source where one is named.
func allNotes() []bus.Note {
	notes := []bus.Note{
		{Kind: bus.Mark, Text: "turn FL"},
		{Kind: bus.Mark, Text: "two\nlines, \"quoted\", text of its own, Räder \x00\xff"},
		{Kind: bus.Mark},
		{Kind: bus.Warning, Text: "a warning"},
		{Kind: bus.Clock, Step: -6_000_000_000, Text: "the clock was set back by 6 s"},
		{Kind: bus.Garbage, Source: 1, Count: 17, Text: "17 bytes"},
	}
	notes = append(notes, bus.Note{Kind: bus.Tick}, bus.Note{Kind: bus.Told, Count: 1, Text: "alive of FL fails"}, bus.Note{Kind: bus.Told, Text: "alive of FL is well again"})
	notes = append(notes, bus.Note{Kind: bus.BothClocks, Monotonic: 1 << 52}, bus.Note{Kind: bus.BothClocks, Monotonic: -3})
	for place := bus.Somewhere; place <= bus.Recorder; place++ {
		notes = append(notes, bus.Note{Kind: bus.Loss, Source: 1, Count: 3, Place: place, Text: fmt.Sprint("lost ", place)})
	}
	for link := bus.LinkUnknown; link <= bus.NoValidFrame; link++ {
		notes = append(notes, bus.Note{Kind: bus.LinkChanged, Source: 1, Link: link, Text: fmt.Sprint("link ", link)})
	}
	for i := range notes {
		notes[i].At = epoch + int64(i)
	}
	return notes
}

// heard is a part as a recorder writes it: the events, two CAN interfaces and a
// serial port.
func heard(section *pcapng.Section) []byte {
	p := pcapng.AppendSection(nil, section)
	p = pcapng.AppendInterface(p, pcapng.Events, "")
	p = pcapng.AppendInterface(p, pcapng.CAN, "wheels")
	p = pcapng.AppendInterface(p, pcapng.CAN, "body")
	return pcapng.AppendInterface(p, pcapng.Serial, "optics")
}

// TestOwn reads back what was appended, every kind, in its order.
func TestOwn(t *testing.T) {
	p := heard(&pcapng.Section{})
	var want []string
	frames, notes := allFrames(), allNotes()
	chunks := [][]byte{count(1), count(2), count(3), bytes.Repeat([]byte{0xC0}, pcapng.MaxChunk), {}}
	names := []string{"wheels", "body", "optics"}
	for k := range max(len(frames), len(notes), len(chunks)) {
		if k < len(notes) {
			p = pcapng.AppendNote(p, 0, &notes[k], names[notes[k].Source])
			want = append(want, fmt.Sprintf("%+v", notes[k]))
		}
		if k < len(chunks) {
			p = pcapng.AppendChunk(p, 3, epoch+int64(k), chunks[k])
			want = append(want, fmt.Sprintf("%d optics %x", epoch+k, chunks[k]))
		}
		if k < len(frames) {
			p = pcapng.AppendFrame(p, 1, &frames[k])
			want = append(want, fmt.Sprintf("%+v", frames[k]))
		}
	}
	// drops that were told already are not told again
	p = pcapng.AppendStatistics(p, 2, &pcapng.Statistics{First: epoch, Last: epoch + 9, Delivered: 7, LostBefore: 9, LostBehind: 9})
	for _, size := range []int{1, 2, bus.BatchSize} {
		r := pcapng.NewReader("x", bytes.NewReader(p))
		got := inOrder(t, r, size)
		if diff := cmp.Diff(got, want); diff != "" {
			t.Errorf("batches of %d (-got +want):\n%s", size, diff)
		}
		if diff := cmp.Diff(r.Names(), names); diff != "" {
			t.Errorf("names (-got +want):\n%s", diff)
		}
	}
}

// teller is a testing.TB, or what checks a property.
type teller interface {
	Helper()
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

// inOrder reads a source to its end and tells everything in its order.
func inOrder(tb teller, r *pcapng.Reader, size int) (all []string) {
	tb.Helper()
	b := bus.Batch{Frames: make([]bus.Frame, 0, size)}
	for {
		err := r.Read(&b)
		if errors.Is(err, io.EOF) {
			return all
		}
		if err != nil {
			tb.Fatal(err)
		}
		note := 0
		tell := func(before int) {
			for ; note < len(b.Notes) && b.Notes[note].Before <= before; note++ {
				n := b.Notes[note]
				n.Before = 0
				all = append(all, fmt.Sprintf("%+v", n))
			}
		}
		for i, f := range b.Frames {
			tell(i)
			all = append(all, fmt.Sprintf("%+v", f))
		}
		tell(len(b.Frames))
		for _, c := range b.Chunks {
			if len(b.Chunks) != 1 || c.Before != len(b.Frames) {
				tb.Fatalf("chunk %d of %d before frame %d of %d: it does not end its batch", c.Before, len(b.Chunks), c.Before, len(b.Frames))
			}
			all = append(all, fmt.Sprintf("%d %s %x", c.At, r.Names()[c.Source], c.Data))
		}
	}
}

func TestStatistics(t *testing.T) {
	p := heard(&pcapng.Section{})
	p = pcapng.AppendNote(p, 0, &bus.Note{Kind: bus.Loss, Count: 2, Place: bus.Queue}, "wheels")
	p = pcapng.AppendStatistics(p, 1, &pcapng.Statistics{LostBefore: 4, LostBehind: 2})
	_, notes, err := everything(t, pcapng.NewReader("x", bytes.NewReader(p)), 8)
	if err != nil {
		t.Fatal(err)
	}
	want := []bus.Note{
		{Kind: bus.Loss, Count: 2, Place: bus.Queue},
		{Kind: bus.Loss, Count: 4, Text: "4 frames of wheels were lost while recording"},
	}
	if diff := cmp.Diff(notes, want); diff != "" {
		t.Errorf("notes (-got +want):\n%s", diff)
	}
}

func TestSection(t *testing.T) {
	want := pcapng.Section{
		Program: "plumbline 1.2", Session: "drive-20260131T101112Z", Part: 3, Setup: "my setup.yaml",
		SHA256: strings.Repeat("ab", 32), Sources: []string{"wheels", "body", "optics on the right"},
	}
	r := pcapng.NewReader("x", bytes.NewReader(heard(&want)))
	if _, ok := r.Section(); ok {
		t.Error("a section before the first Read")
	}
	inOrder(t, r, 1)
	got, ok := r.Section()
	if diff := cmp.Diff(got, want); diff != "" || !ok {
		t.Errorf("known: %t, (-got +want):\n%s", ok, diff)
	}
	b := little()
	b.block(0x0A0D0D0A, slices.Concat(b.u32(nil, 0x1A2B3C4D), b.u16(nil, 1), b.u16(nil, 0), b.u64(nil, 1<<64-1), b.opt(1, []byte("a remark")), b.opt(4, []byte("dumpcap"))))
	r = pcapng.NewReader("x", bytes.NewReader(append(heard(&want), b.out...)))
	inOrder(t, r, 1)
	if got, ok := r.Section(); ok {
		t.Errorf("the section of another program is taken for our own: %+v", got)
	}
	many := pcapng.Section{Sources: make([]string, 5000)}
	for i := range many.Sources {
		many.Sources[i] = fmt.Sprint("source ", i)
	}
	r = pcapng.NewReader("x", bytes.NewReader(heard(&many)))
	if got := inOrder(t, r, 1); len(got) > 0 {
		t.Errorf("more sources than a comment holds: %q", got)
	}
}

// TestStrangers: the link types that are free to all are not taken for our own.
func TestStrangers(t *testing.T) {
	b := little().section()
	b.iface(147, b.opt(2, []byte("usb"))).iface(148, b.opt(2, []byte("plumbline")))
	b.iface(148, b.opt(3, []byte("plumbline events"))).iface(227)
	b.packet(0, 1, []byte{1}).packet(1, 2, []byte("plumbline mark\ntext x"))
	b.packet(2, 3, []byte("plumbline weather\ntext x"), b.opt(1, []byte("x")))
	b.packet(2, 4, []byte("plumbline loss\nsource a\ncount many\ntext x"), b.opt(1, []byte("x")))
	b.packet(2, 5, []byte("plumbline mark\nfrom the future\ntext down"), b.opt(1, []byte("down")), b.opt(1, []byte("and a remark")))
	var got []string
	r := pcapng.NewReader("x", bytes.NewReader(b.out))
	_, notes, err := everything(t, r, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range notes {
		text := n.Text
		if k := strings.LastIndex(text, ": "); n.Kind == bus.Warning {
			text = text[k+2:]
		}
		got = append(got, text)
	}
	want := []string{
		"it has link type 147, and only 227 is read", "it has link type 148, and only 227 is read",
		`"plumbline weather" is no kind of event that is known here`, "its count is not a number",
		"and a remark", "down",
	}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("notes (-got +want):\n%s", diff)
	}
	if diff := cmp.Diff(r.Names(), []string{"interface 3"}); diff != "" {
		t.Errorf("names (-got +want):\n%s", diff)
	}
}

// TestLongText: a text is cut between two characters, and the bounds hold.
func TestLongText(t *testing.T) {
	long := strings.Repeat("ä", pcapng.MaxText)
	n := bus.Note{Kind: bus.Loss, Count: 1<<64 - 1, Source: 1, Text: "x" + long}
	p := pcapng.AppendNote(nil, 0, &n, long)
	if len(p) > pcapng.MaxNoteSize {
		t.Errorf("%d bytes, want at most %d", len(p), pcapng.MaxNoteSize)
	}
	_, notes, err := everything(t, pcapng.NewReader("x", bytes.NewReader(append(heard(&pcapng.Section{}), p...))), 1)
	if err != nil || len(notes) != 1 {
		t.Fatal(notes, err)
	}
	if got, want := notes[0].Text, ("x" + long)[:pcapng.MaxText-1]; got != want {
		t.Errorf("%d bytes of text, want %d", len(got), len(want))
	}
}

// TestAppendedTshark compares what was appended with what tshark makes of it:
// identifier, length, data, comment and direction of every packet.
func TestAppendedTshark(t *testing.T) {
	tshark, err := exec.LookPath("tshark")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("tshark is missing: apt install tshark")
		}
		t.Skip("tshark is missing: apt install tshark")
	}
	p := heard(&pcapng.Section{Program: "plumbline 1.2", Session: "x", Sources: []string{"wheels"}})
	var want []string
	for _, f := range allFrames() {
		p = pcapng.AppendFrame(p, 1, &f)
		id, data, direction := fmt.Sprint(f.ID), hex.EncodeToString(f.Payload()), ""
		if f.Flags.Has(bus.Error) {
			id, data = "", "" // shown as single bits
		}
		if f.Flags.Has(bus.Transmitted) {
			direction = "0x00000002"
		}
		want = append(want, strings.Join([]string{stamp(f.At), "wheels", id, fmt.Sprint(f.Len), data, "", direction}, "\t"))
	}
	for _, n := range allNotes() {
		p = pcapng.AppendNote(p, 0, &n, "wheels")
		if strings.Contains(n.Text, "\x00") {
			continue // printed with escapes, checked through its place only
		}
		want = append(want, strings.Join([]string{stamp(n.At), "plumbline", "", "", "", n.Text, ""}, "\t"))
	}
	p = pcapng.AppendChunk(p, 3, epoch, []byte{0xC0, 0xDB})
	want = append(want, strings.Join([]string{stamp(epoch), "optics", "", "", "", "", ""}, "\t"))
	p = pcapng.AppendStatistics(p, 1, &pcapng.Statistics{First: epoch, Last: epoch + 9, Delivered: 7, LostBefore: 9, LostBehind: 9})
	path := filepath.Join(t.TempDir(), "own.pcapng")
	if err := os.WriteFile(path, p, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tshark, "-r", path, "-T", "fields", "-e", "frame.time_epoch", "-e", "frame.interface_name", "-e", "can.id",
		"-e", "can.len", "-e", "data.data", "-e", "frame.comment", "-e", "frame.packet_flags_direction").Output()
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for line := range strings.Lines(string(out)) {
		fields := strings.Split(strings.TrimSuffix(line, "\n"), "\t")
		if len(fields) != 7 || strings.Contains(fields[5], "two") {
			continue
		}
		if fields[1] != "wheels" {
			fields[4] = "" // what is no CAN frame is all data
		}
		got = append(got, strings.Join(fields, "\t"))
	}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("tshark (-got +want):\n%s", diff)
	}
	capinfos, err := exec.LookPath("capinfos")
	if err != nil {
		t.Fatal("capinfos is missing: apt install wireshark-common")
	}
	about, err := exec.Command(capinfos, path).CombinedOutput()
	if err != nil || !strings.Contains(string(about), "plumbline 1.2") || !strings.Contains(string(about), "plumbline recording") {
		t.Errorf("capinfos: %v\n%s", err, about)
	}
}

func stamp(at int64) string { return fmt.Sprintf("%d.%09d", at/1_000_000_000, at%1_000_000_000) }

// TestOwnDamaged cuts and damages a recording of our own: nothing panics, and
// what comes before the damage is read.
func TestOwnDamaged(t *testing.T) {
	p := heard(&pcapng.Section{Session: "x", Sources: []string{"wheels"}})
	head := len(p)
	for k, n := range allNotes() {
		f := allFrames()[k%10]
		p = pcapng.AppendChunk(p, 3, epoch, count(k))
		p = pcapng.AppendFrame(p, 1, &f)
		p = pcapng.AppendNote(p, 0, &n, "body")
	}
	whole := inOrder(t, pcapng.NewReader("x", bytes.NewReader(p)), 4)
	for cut := head; cut < len(p); cut += 3 {
		got := inOrder(t, pcapng.NewReader("x", bytes.NewReader(p[:cut])), 4)
		for n := len(got); n > 0 && (strings.Contains(got[n-1], "the recording ends inside") || strings.Contains(got[n-1], "bytes of optics are missing")); n-- {
			got = got[:n-1]
		}
		if len(got) > len(whole) || !slices.Equal(got, whole[:len(got)]) {
			t.Fatalf("cut at byte %d: %d are not the first of the whole", cut, len(got))
		}
	}
	random := rand.New(rand.NewPCG(3, 4))
	for range 2000 {
		q := slices.Clone(p)
		for range 1 + random.IntN(4) {
			q[random.IntN(len(q))] = byte(random.Uint32())
		}
		r := pcapng.NewReader("x", bytes.NewReader(q))
		var b bus.Batch
		for r.Read(&b) == nil { // an identifier may look turned round: any error is fine
			for _, n := range b.Notes {
				if int(n.Source) >= len(r.Names()) && (n.Kind == bus.Loss || n.Kind == bus.LinkChanged || n.Kind == bus.Garbage) {
					t.Fatalf("note of source %d of %q", n.Source, r.Names())
				}
			}
			for _, f := range b.Frames {
				if int(f.Source) >= len(r.Names()) {
					t.Fatalf("frame of source %d of %q", f.Source, r.Names())
				}
			}
		}
	}
}

// TestHole: where what was skipped may have been bytes of a serial port, that is said before the next ones, or at the end,
// for the recording may go on in another file; else the two ends of a packet would be taken for one.
func TestHole(t *testing.T) {
	const said = "bytes of optics are missing: the recording is damaged"
	frame := allFrames()[0]
	for _, test := range []struct {
		name   string
		damage func(first, second, third []byte) []byte // of three chunks with frames between them
		want   string                                   // chunks by their last byte, ! where it is said
	}{
		{"none", func(a, b, c []byte) []byte { return slices.Concat(a, b, c) }, "123"},
		{"a block with a wrong length", func(a, b, c []byte) []byte { b[4] = 0xFF; return slices.Concat(a, b, c) }, "1!3"},
		{"NUL bytes", func(a, b, c []byte) []byte { return slices.Concat(a, make([]byte, 4096), b, c) }, "1!23"},
		{"the end is cut off", func(a, b, c []byte) []byte { return slices.Concat(a, b, c[:20]) }, "12!"},
		{"a packet of an interface that is not described", func(a, b, c []byte) []byte { b[8] = 9; return slices.Concat(a, b, c) }, "1!3"},
		{"a packet that claims more than there is", func(a, b, c []byte) []byte { b[21] = 9; return slices.Concat(a, b, c) }, "1!3"},
		{"a packet that was shortened", func(a, b, c []byte) []byte { b[25] = 1; return slices.Concat(a, b, c) }, "12!3"},
		{"before the first bytes nothing is missed", func(a, b, c []byte) []byte { a[4] = 0xFF; return slices.Concat(a, b, c) }, "23"},
	} {
		p := heard(&pcapng.Section{})
		chunk := func(n byte) []byte {
			return pcapng.AppendFrame(pcapng.AppendChunk(nil, 3, epoch, append(count(7), n)), 1, &frame)
		}
		r := pcapng.NewReader("x", bytes.NewReader(append(p, test.damage(chunk(1), chunk(2), chunk(3))...)))
		var b bus.Batch
		got := ""
		for r.Read(&b) == nil {
			for _, n := range b.Notes {
				if n.Kind == bus.Loss && n.Count == 0 && n.Place == bus.Recorder && r.Names()[n.Source] == "optics" && n.Text == said {
					got += "!"
				}
			}
			for _, c := range b.Chunks {
				got += strconv.Itoa(int(c.Data[len(c.Data)-1]))
			}
		}
		if got != test.want {
			t.Errorf("%s: got %s, want %s", test.name, got, test.want)
		}
	}
}

func TestAppendDoesNotAllocate(t *testing.T) {
	p := make([]byte, 0, 1<<16)
	f := frame(epoch, 0, 0x301, bus.FD|bus.Transmitted, count(64)...)
	data := count(64)
	if n := testing.AllocsPerRun(100, func() {
		p = pcapng.AppendFrame(p[:0], 1, &f)
		p = pcapng.AppendChunk(p, 2, epoch, data)
	}); n != 0 {
		t.Errorf("%v allocations, want none", n)
	}
}

func BenchmarkAppendFrame(b *testing.B) {
	p := make([]byte, 0, 1<<16)
	f := frame(epoch, 0, 0x123, 0, count(8)...)
	b.ReportAllocs()
	for b.Loop() {
		p = pcapng.AppendFrame(p[:0], 1, &f)
	}
}
