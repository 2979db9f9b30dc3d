package pcapng_test

import (
	"bytes"
	"errors"
	"io"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/gopacket/gopacket"
	"github.com/gopacket/gopacket/layers"
	"github.com/gopacket/gopacket/pcapgo"

	"plumbline/bus"
	"plumbline/bus/pcapng"
)

// TestGopacket reads what gopacket writes: interfaces, drop counts, comments,
// direction and statistics.
func TestGopacket(t *testing.T) {
	var out bytes.Buffer
	w, err := pcapgo.NewNgWriterInterface(&out, pcapgo.NgInterface{Name: "can0", LinkType: 227}, pcapgo.DefaultNgWriterOptions)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.AddInterface(pcapgo.NgInterface{Name: "can1", LinkType: 227}); err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(3, 4))
	at := time.Unix(1_700_000_000, 123_456_789)
	var want []bus.Frame
	var notes []bus.Note
	for n := range 500 {
		at = at.Add(time.Duration(random.IntN(1_000_000)))
		f := frame(at.UnixNano(), uint16(random.IntN(2)), uint32(random.IntN(0x800)), 0, count(random.IntN(9))...)
		raw := f.ID
		if random.IntN(2) == 0 {
			f.Flags |= bus.Extended
			f.ID |= uint32(random.IntN(1<<18)) << 11
			raw = f.ID | 0x80000000
		}
		var options pcapgo.NgPacketOptions
		if n%7 == 0 {
			options.Comments = []string{"turn FL", "mark: second"}
			notes = append(notes, bus.Note{Before: n, At: f.At, Kind: bus.Mark, Text: "turn FL"}, bus.Note{Before: n, At: f.At, Kind: bus.Mark, Text: "second"})
		}
		if n%5 == 0 {
			f.Flags |= bus.Transmitted
			options.Flags = &pcapgo.NgEpbFlags{Direction: pcapgo.NgEpbFlagDirectionOutbound}
		}
		if n%11 == 0 {
			drops := uint64(n + 1)
			options.DropCount = &drops
			notes = append(notes, bus.Note{Before: n, At: f.At, Kind: bus.Loss, Source: f.Source, Count: drops})
		}
		p := classic(raw, f.Payload()...)
		if err := w.WritePacketWithOptions(gopacket.CaptureInfo{Timestamp: at, CaptureLength: len(p), Length: len(p), InterfaceIndex: int(f.Source)}, p, options); err != nil {
			t.Fatal(err)
		}
		want = append(want, f)
	}
	if err := w.WriteInterfaceStats(1, pcapgo.NgInterfaceStatistics{LastUpdate: at, PacketsReceived: 500, PacketsDropped: 1 << 40}); err != nil {
		t.Fatal(err)
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	frames, got, err := everything(t, pcapng.NewReader("x", &out), 64)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(frames, want); diff != "" {
		t.Errorf("frames (-got +want):\n%s", diff)
	}
	told := uint64(0)
	for i := range got {
		if got[i].Kind == bus.Loss {
			got[i].Text = ""
			if got[i].Source == 1 {
				told += got[i].Count
			}
		}
	}
	notes = append(notes, bus.Note{Before: 500, At: at.UnixNano(), Kind: bus.Loss, Source: 1, Count: 1<<40 - (told - got[len(got)-1].Count)})
	if diff := cmp.Diff(got, notes); diff != "" {
		t.Errorf("notes (-got +want):\n%s", diff)
	}
	if told != 1<<40 {
		t.Errorf("%d frames of can1 lost in all, want %d", told, uint64(1)<<40)
	}
}

// recording is n frames as gopacket writes them, one statistics block at the end.
func recording(tb testing.TB, n int) []byte {
	tb.Helper()
	var out bytes.Buffer
	w, err := pcapgo.NewNgWriterInterface(&out, pcapgo.NgInterface{Name: "can0", LinkType: 227}, pcapgo.DefaultNgWriterOptions)
	if err != nil {
		tb.Fatal(err)
	}
	for i := range n {
		p := classic(uint32(i&0x7FF), 1, 2, 3, 4, 5, 6, 7, 8)
		if err := w.WritePacket(gopacket.CaptureInfo{Timestamp: time.Unix(1_700_000_000, int64(i)*125_000), CaptureLength: 16, Length: 16}, p); err != nil {
			tb.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		tb.Fatal(err)
	}
	return out.Bytes()
}

// TestNoAllocationPerFrame: reading ten times as much allocates nothing more.
func TestNoAllocationPerFrame(t *testing.T) {
	data := recording(t, 100_000)
	r := pcapng.NewReader("x", bytes.NewReader(data))
	b := bus.Batch{}
	if err := r.Read(&b); err != nil {
		t.Fatal(err)
	}
	if n := testing.AllocsPerRun(200, func() {
		if err := r.Read(&b); err != nil || len(b.Frames) == 0 {
			t.Fatal(err)
		}
	}); n != 0 {
		t.Errorf("%v allocations for a batch, want none", n)
	}
}

const benchmarkFrames = 200_000

func BenchmarkReader(b *testing.B) {
	data := recording(b, benchmarkFrames)
	batch := bus.Batch{}
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		r := pcapng.NewReader("x", bytes.NewReader(data))
		n := 0
		for {
			err := r.Read(&batch)
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				b.Fatal(err)
			}
			n += len(batch.Frames)
		}
		if n != benchmarkFrames {
			b.Fatal(n)
		}
	}
	b.ReportMetric(float64(benchmarkFrames)*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mframes/s")
}

// BenchmarkGopacket is the yardstick: the container alone, no CAN in it.
func BenchmarkGopacket(b *testing.B) {
	data := recording(b, benchmarkFrames)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		r, err := pcapgo.NewNgReader(bytes.NewReader(data), pcapgo.NgReaderOptions{})
		if err != nil {
			b.Fatal(err)
		}
		n := 0
		for {
			_, _, err := r.ZeroCopyReadPacketData()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				b.Fatal(err)
			}
			n++
		}
		if n != benchmarkFrames {
			b.Fatal(n)
		}
	}
	b.ReportMetric(float64(benchmarkFrames)*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mframes/s")
}

// FuzzReader: no panic, no frame that breaks its contract, no more memory than
// the input explains; and where gopacket reads a little-endian recording to its
// end, with decimal times, the packets of link type 227 are as many.
func FuzzReader(f *testing.F) {
	for _, file := range files {
		f.Add(read(f, file))
	}
	f.Add(recording(f, 3))
	b := big().section()
	b.iface(227, b.opt(9, []byte{0x8A}), b.opt(14, b.u64(nil, 1))).packet(0, 1, classic(0x123, 1), b.opt(4, b.u64(nil, 3)), b.opt(1, []byte("turn FL")))
	f.Add(b.statistics(0, 0, b.opt(5, b.u64(nil, 9))).out)
	f.Fuzz(func(t *testing.T, data []byte) {
		r := pcapng.NewReader("x", bytes.NewReader(data))
		frames, notes, err := everything(t, r, 5)
		if len(frames) > len(data)/(16+8) {
			t.Errorf("%d frames out of %d bytes", len(frames), len(data))
		}
		for _, f := range frames {
			if f.Len > bus.MaxData || !f.Flags.Has(bus.FD) && f.Len > 8 || int(f.Source) >= len(r.Names()) {
				t.Errorf("frame %+v", f)
			}
			used := int(f.Len)
			if f.Flags.Has(bus.Remote) {
				used = 0
			}
			for _, c := range f.Data[used:] {
				if c != 0 {
					t.Errorf("frame %+v has bytes beyond its length", f)
				}
			}
			switch {
			case f.Flags.Has(bus.Error):
			case f.Flags.Has(bus.Extended) && f.ID <= 0x1FFFFFFF, f.ID <= 0x7FF:
			default:
				t.Errorf("frame %+v: identifier", f)
			}
		}
		warned := false
		for _, n := range notes {
			if n.Before < 0 || n.Before > len(frames) || n.Text == "" || n.Kind == bus.Loss && n.Count == 0 {
				t.Errorf("note %+v", n)
			}
			warned = warned || n.Kind == bus.Warning
		}
		if err != nil || warned {
			return
		}
		if n, ok := gopacketFrames(data); ok && n != len(frames) {
			t.Errorf("%d frames, gopacket has %d packets of link type 227", len(frames), n)
		}
	})
}

// gopacketFrames counts packets of link type 227; ok is false where gopacket
// does not reach the end, or reads what is skipped here on purpose.
func gopacketFrames(data []byte) (n int, ok bool) {
	if len(data) < 12 || !bytes.Equal(data[:4], []byte{0x0A, 0x0D, 0x0D, 0x0A}) {
		return 0, false
	}
	r, err := pcapgo.NewNgReader(bytes.NewReader(data), pcapgo.NgReaderOptions{WantMixedLinkType: true})
	if err != nil {
		return 0, false
	}
	for {
		_, ci, err := r.ZeroCopyReadPacketData()
		if errors.Is(err, io.EOF) {
			return n, true
		}
		if err != nil {
			return 0, false
		}
		if ci.AncillaryData[0].(layers.LinkType) == 227 {
			n++
		}
	}
}
