//go:build linux

package socketcan

import (
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/bus/candump"
)

func classic(id uint32, data ...byte) []byte {
	b := make([]byte, classicSize)
	binary.NativeEndian.PutUint32(b, id)
	b[offsetLen] = byte(len(data))
	copy(b[offsetData:], data)
	return b
}

// withoutTime are frames as parsed, with nothing that differs from run to run.
func withoutTime(frames []bus.Frame) []bus.Frame {
	var out []bus.Frame
	for _, f := range frames {
		f.At, f.Source = 0, 0
		f.Flags &^= bus.Transmitted
		out = append(out, f)
	}
	return out
}

func dataFrame(id uint32, flags bus.Flags, data ...byte) bus.Frame {
	f := bus.Frame{ID: id, Flags: flags, Len: uint8(len(data))}
	copy(f.Data[:], data)
	return f
}

func testClassic(t *testing.T) {
	addVcan(t, "plcan0", "mtu", "16")
	l := listenTo(t, on("plcan0"))
	before := time.Now().UnixNano()
	for _, text := range []string{"123#112233", "7FF#", "000#0102030405060708", "1ABCDEF0#AA", "00000123#BB", "321#R", "321#R5", "18FEF100#R8"} {
		command(t, "cansend", "plcan0", text)
	}
	l.untilFrames(8)
	after := time.Now().UnixNano()
	want := []bus.Frame{
		dataFrame(0x123, 0, 0x11, 0x22, 0x33),
		dataFrame(0x7FF, 0),
		dataFrame(0, 0, 1, 2, 3, 4, 5, 6, 7, 8),
		dataFrame(0x1ABCDEF0, bus.Extended, 0xAA),
		dataFrame(0x123, bus.Extended, 0xBB),
		dataFrame(0x321, bus.Remote),
		{ID: 0x321, Flags: bus.Remote, Len: 5},
		{ID: 0x18FEF100, Flags: bus.Remote | bus.Extended, Len: 8},
	}
	if diff := cmp.Diff(want, withoutTime(l.heard())); diff != "" {
		t.Errorf("frames (-want +got):\n%s", diff)
	}
	last := before
	for _, f := range l.heard() {
		if f.At < last || f.At > after {
			t.Errorf("frame %X at %d, want between %d and %d", f.ID, f.At, last, after)
		}
		last = f.At
		if !f.Flags.Has(bus.Transmitted) {
			t.Errorf("frame %X was sent by this computer and is not marked so", f.ID)
		}
	}
	l.untilLink(0, bus.ErrorActive, "no error information")

	// from can-utils' generator: counter in identifier and data, in order and complete
	command(t, "cangen", "plcan0", "-n", "2000", "-g", "0", "-I", "i", "-D", "i", "-L", "8", "-i")
	l.untilFrames(2008)
	for i, f := range l.heard()[8:2008] {
		if got := binary.LittleEndian.Uint64(f.Data[:]); f.ID != uint32(i)&0x7FF || got != uint64(i) {
			t.Fatalf("frame %d of cangen has identifier %X and count %d", i, f.ID, got)
		}
	}
	info := l.Info()[0]
	if info.Kind != "vcan" || !info.Virtual || info.FD || info.Controller.Known || info.Frames != 2008 || info.Software != 2008 || info.Transmitted != 2008 {
		t.Errorf("info %+v", info)
	}
	for _, n := range l.said() {
		if n.Kind != bus.LinkChanged {
			t.Errorf("note that should not be: %+v", n)
		}
	}
}

func testFD(t *testing.T) {
	addVcan(t, "plfd0", "mtu", "72")
	l := listenTo(t, on("plfd0"))
	long := strings.Repeat("0102030405060708", 8)
	for _, text := range []string{"123##0112233", "123##1" + long, "1ABCDEF0##3AABBCCDDEEFF0011223344", "7FF##0", "123#55"} {
		command(t, "cansend", "plfd0", text)
	}
	l.untilFrames(5)
	var all []byte
	for i := range 64 {
		all = append(all, byte(i%8+1))
	}
	want := []bus.Frame{
		dataFrame(0x123, bus.FD, 0x11, 0x22, 0x33),
		dataFrame(0x123, bus.FD|bus.BitRateSwitch, all...),
		dataFrame(0x1ABCDEF0, bus.FD|bus.Extended|bus.BitRateSwitch|bus.ErrorState, 0xAA, 0xBB, 0xCC, 0xDD, 0xEE, 0xFF, 0, 0x11, 0x22, 0x33, 0x44, 0),
		dataFrame(0x7FF, bus.FD),
		dataFrame(0x123, 0, 0x55),
	}
	if diff := cmp.Diff(want, withoutTime(l.heard())); diff != "" {
		t.Errorf("frames (-want +got):\n%s", diff)
	}
	if !l.Info()[0].FD {
		t.Error("the interface passes FD frames, and Info does not say so")
	}
}

// testCanplayer plays a log and compares it with what the candump reader reads from the same file.
func testCanplayer(t *testing.T) {
	addVcan(t, "plplay0")
	var log strings.Builder
	for i := range 300 {
		fmt.Fprintf(&log, "(1700000000.%06d) plplay0 %03X#%016X\n", i*100, 0x200+i%7, i*7919)
	}
	file := filepath.Join(t.TempDir(), "drive.log")
	if err := os.WriteFile(file, []byte(log.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	l := listenTo(t, on("plplay0"))
	command(t, "canplayer", "-I", file, "-t")
	l.untilFrames(300)
	var want []bus.Frame
	r := candump.NewReader("drive.log", strings.NewReader(log.String()))
	for b := new(bus.Batch); r.Read(b) == nil; {
		want = append(want, b.Frames...)
	}
	if diff := cmp.Diff(withoutTime(want), withoutTime(l.heard())); diff != "" {
		t.Errorf("frames (-want +got):\n%s", diff)
	}
}

func testVxcan(t *testing.T) {
	ip(t, "link", "add", "plvx0", "type", "vxcan", "peer", "name", "plvx1")
	t.Cleanup(func() { command(t, "ip", "link", "del", "plvx0") })
	ip(t, "link", "set", "plvx0", "up")
	ip(t, "link", "set", "plvx1", "up")
	l := listenTo(t, on("plvx0"))
	command(t, "cansend", "plvx1", "123#1122")
	l.untilFrames(1)
	if f := l.heard()[0]; f.Flags.Has(bus.Transmitted) {
		t.Errorf("frame from the other end of the pair is marked as sent here: %+v", f)
	}
	if i := l.Info()[0]; i.Kind != "vxcan" || !i.Virtual {
		t.Errorf("info %+v", i)
	}
}

func testFilters(t *testing.T) {
	addVcan(t, "plflt0")
	l := listenTo(t, Config{SilentAfter: 300 * time.Millisecond, Interfaces: []Interface{{Name: "plflt0", Filters: []Filter{
		{ID: 0x123},
		{ID: 0x1ABCDEF0, Extended: true},
		{ID: 0x18FEF100, Extended: true, PGN: true},
		{ID: 0x18EF2700, Extended: true, PGN: true},
	}}}})
	for _, text := range []string{
		"122#00", "123#01", "00000123#00", "1ABCDEF0#02", "1ABCDEF1#00", "0CFEF133#03", "18FEF200#00", "1CEF4411#04", "1CEE4411#00", "123#R", "124#00",
	} {
		command(t, "cansend", "plflt0", text)
	}
	l.untilFrames(5)
	want := []bus.Frame{
		dataFrame(0x123, 0, 1), dataFrame(0x1ABCDEF0, bus.Extended, 2), dataFrame(0x0CFEF133, bus.Extended, 3), dataFrame(0x1CEF4411, bus.Extended, 4),
		dataFrame(0x123, bus.Remote),
	}
	if diff := cmp.Diff(want, withoutTime(l.heard())); diff != "" {
		t.Errorf("frames (-want +got):\n%s", diff)
	}
	l.untilLink(0, bus.Silent, "nobody sends")
	// others go on: that is not the same as silence
	done := make(chan struct{})
	defer func() { <-done }()
	go func() {
		defer close(done)
		command(t, "cangen", "plflt0", "-n", "250", "-g", "10", "-I", "55", "-L", "1")
	}()
	l.untilLink(0, bus.Silent, "none of those that are wanted")
}

// testFlood sends more than the queue holds while nobody reads: what was lost
// stands where it was lost, and the sum closes.
func testFlood(t *testing.T) {
	addVcan(t, "plflood0")
	c := on("plflood0")
	c.ReceiveBuffer = 32 << 10
	r, err := Open(c)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	send := sender(t, "plflood0")
	const sent = 3000
	for i := range sent {
		send(classic(0x100, byte(i), byte(i>>8)))
	}
	var b bus.Batch
	var received, lost, next uint64
	read := func(until func() bool) {
		for deadline := time.Now().Add(4 * time.Second); !until() && time.Now().Before(deadline); {
			if err := r.Read(&b); err != nil {
				t.Fatal(err)
			}
			n := 0
			for i := 0; i <= len(b.Frames); i++ {
				for ; n < len(b.Notes) && b.Notes[n].Before == i; n++ {
					if note := b.Notes[n]; note.Kind == bus.Loss {
						if note.Place != bus.Queue || note.Count == 0 {
							t.Errorf("loss %+v, want some frames in the queue", note)
						}
						lost += note.Count
						next += note.Count
					}
				}
				if i < len(b.Frames) {
					if got := uint64(binary.LittleEndian.Uint16(b.Frames[i].Data[:])); got != next {
						t.Fatalf("frame %d where %d was to come: the loss is told at another place", got, next)
					}
					received++
					next++
				}
			}
			if n != len(b.Notes) {
				t.Errorf("note behind the last frame of the batch: %+v", b.Notes[n:])
			}
		}
	}
	// the end of the flood is told though no frame follows
	read(func() bool { return received+lost == sent })
	if received+lost != sent || lost == 0 || received == 0 {
		t.Errorf("received %d + lost %d, want %d sent and some of both", received, lost, sent)
	}
	// a burst, then one frame: the loss stands before it
	for i := range sent {
		send(classic(0x100, byte(sent+i), byte((sent+i)>>8)))
	}
	read(func() bool { return received+lost >= sent+10 })
	send(classic(0x100, byte(2*sent&0xFF), byte(2*sent>>8)))
	read(func() bool { return received+lost == 2*sent+1 })
	if received+lost != 2*sent+1 {
		t.Errorf("received %d + lost %d, want %d", received, lost, 2*sent+1)
	}
	if got := r.Info()[0].LostQueue; got != lost {
		t.Errorf("info says %d lost, notes say %d", got, lost)
	}
	t.Logf("of %d frames %d were received and %d lost", 2*sent+1, received, lost)
}

// testOrder lets frames of two interfaces wait and reads them in the order in which they were sent.
func testOrder(t *testing.T) {
	addVcan(t, "plord0")
	addVcan(t, "plord1")
	r, err := Open(on("plord0", "plord1"))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	send := []func([]byte){sender(t, "plord0"), sender(t, "plord1")}
	for i := range 100 {
		send[i/3%2](classic(uint32(i)))
	}
	var got, want []uint32
	for b := new(bus.Batch); len(got) < 100; {
		if err := r.Read(b); err != nil {
			t.Fatal(err)
		}
		for _, f := range b.Frames {
			got = append(got, f.ID)
			if int(f.Source) != int(f.ID)/3%2 {
				t.Errorf("frame %d is said to be from source %d", f.ID, f.Source)
			}
		}
	}
	for i := range 100 {
		want = append(want, uint32(i))
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("order (-want +got):\n%s", diff)
	}
}
