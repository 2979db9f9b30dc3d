package serialport

import (
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
)

// played is a source of ready batches.
type played struct {
	batches []bus.Batch
	names   []string
}

func (p *played) Read(b *bus.Batch) error {
	b.Reset()
	if len(p.batches) == 0 {
		return io.EOF
	}
	next := p.batches[0]
	p.batches = p.batches[1:]
	b.Frames = append(b.Frames, next.Frames...)
	b.Notes = append(b.Notes, next.Notes...)
	b.Chunks = append(b.Chunks, next.Chunks...)
	return nil
}

func (p *played) Names() []string {
	if p.names == nil {
		return []string{"optics"}
	}
	return p.names
}

func (p *played) Close() error { return nil }

// TestDecoderOrder: frames of a bus, chunks of two lines and notes keep their places.
func TestDecoderOrder(t *testing.T) {
	w := func(i byte) []byte { return wire(&packets, []byte{0x10, i, 0, 0}) }
	can := func(at int64, id uint32) bus.Frame { return bus.Frame{At: at, ID: id, Source: 0, Len: 1} }
	in := []bus.Batch{{
		Frames: []bus.Frame{can(10, 1), can(30, 2), can(50, 3)},
		Chunks: []bus.Chunk{
			{Before: 0, At: 5, Source: 1, Data: w(1)},
			{Before: 1, At: 15, Source: 2, Data: []byte("any bytes")},
			{Before: 1, At: 20, Source: 1, Data: append(w(2), w(3)[:4]...)},
			{Before: 2, At: 40, Source: 1, Data: w(3)[4:]},
			{Before: 3, At: 60, Source: 1, Data: append(w(5), w(6)[:3]...)},
		},
		Notes: []bus.Note{
			{Before: 1, At: 12, Kind: bus.Mark, Text: "here"},
			{Before: 2, At: 35, Kind: bus.Garbage, Source: 1, Count: 99}, // made of bytes: it is made again, or not
			{Before: 2, At: 36, Kind: bus.LinkChanged, Source: 0, Link: bus.ErrorActive},
		},
	}, {
		Notes: []bus.Note{
			{At: 70, Kind: bus.LinkChanged, Source: 1, Link: bus.Absent},
			{At: 70, Kind: bus.Loss, Source: 0, Count: 4, Place: bus.Queue}, // of the bus
		},
		Chunks: []bus.Chunk{{At: 65, Source: 1, Data: append(w(9), w(10)[:3]...)}}, // the clock was set back: the place counts
	}, {
		Notes:  []bus.Note{{At: 75, Kind: bus.Loss, Source: 1, Place: bus.Recorder}},
		Chunks: []bus.Chunk{{At: 75, Source: 1, Data: append(w(11)[3:], w(14)...)}},
	}}
	want := []string{
		"frame 0 001", "frame 2 010#10010000", "note 12 here", "frame 2 010#10020000", "frame 0 002",
		"note 36 link active", "frame 2 010#10030000", "frame 0 003", "note 60 loss 1", "frame 2 010#10050000", "note 70 garbage 3: 3 bytes thrown away", "note 70 link absent",
		"note 70 loss 4", "frame 2 010#10090000", "note 75 loss 0", "frame 2 010#100E0000",
	}
	// links of the line when its first packet comes, and after it was gone
	for _, size := range []int{1, 2, 256} {
		d := NewDecoder(&played{batches: slices.Clone(in), names: []string{"can0", "optics", "other"}}, func(name string) *Framer {
			if name != "optics" {
				return nil
			}
			return newFramer(t, packets)
		})
		var got []string
		var raw []byte
		b := bus.Batch{Frames: make([]bus.Frame, 0, size)}
		for {
			err := d.Read(&b)
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			if cap(b.Frames) != size {
				t.Fatalf("capacity %d became %d", size, cap(b.Frames))
			}
			n := 0
			for i := range len(b.Frames) + 1 {
				for ; n < len(b.Notes) && b.Notes[n].Before <= i; n++ {
					if text := noteText(&b.Notes[n]); b.Notes[n].Source == 0 || text != "link active" {
						got = append(got, fmt.Sprintf("note %d %s", b.Notes[n].At, text))
					}
				}
				if i == len(b.Frames) {
					break
				}
				if f := b.Frames[i]; f.Source == 0 {
					got = append(got, fmt.Sprintf("frame 0 %03X", f.ID))
				} else {
					got = append(got, "frame 2 "+dump(b.Frames[i : i+1])[0])
				}
			}
			for _, c := range b.Chunks {
				raw = append(raw, c.Data...)
			}
		}
		// the first packet comes before the first frame of the bus
		want := append([]string{want[1], want[0]}, want[2:]...)
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("in batches of %d (-want +got):\n%s", size, diff)
		}
		if len(raw) != 6*8+3+3+5+len("any bytes") {
			t.Errorf("%d bytes handed on", len(raw))
		}
		if s, ok := d.Stats(1); !ok || s.Frames != 6 || s.Missing != 1 {
			t.Errorf("stats: got %+v, %t", s, ok)
		}
		if _, ok := d.Stats(2); ok {
			t.Error("stats of a source without a framer")
		}
	}
}

func TestConfigFaults(t *testing.T) {
	_, err := Open(Config{DataBits: 9, StopBits: 3, Parity: 7, Silence: -1})
	if err == nil {
		t.Fatal("got no error")
	}
	for _, want := range []string{"no path", "baud 0: expected the bit rate", "9 data bits", "3 stop bits", "parity 7", "silence", "no framing"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("got\n%v\nwant %q in it", err, want)
		}
	}
}

func TestExplain(t *testing.T) {
	tests := []struct {
		err  error
		link bus.Link
		text string
	}{
		{syscall.ENOENT, bus.Absent, "there is no /dev/x"},
		{syscall.ENXIO, bus.Absent, "stands for no device"},
		{syscall.ENODEV, bus.Absent, "stands for no device"},
		{syscall.EACCES, bus.Down, "often dialout"},
		{errors.New("odd"), bus.Down, "cannot be opened as a serial port: odd"},
	}
	for _, tt := range tests {
		link, text := explain("/dev/x", fmt.Errorf("open: %w", tt.err))
		if link != tt.link || !strings.Contains(text, tt.text) {
			t.Errorf("%v: got %d, %q", tt.err, link, text)
		}
	}
}

// fake is a Reader over a function instead of a port.
func fake(t *testing.T, clock func() (int64, int64), read func([]byte) (int, error)) (*Reader, *int) {
	t.Helper()
	r, err := Open(Config{Path: "fake", Baud: 9600, Format: packets, Clock: clock})
	if err != nil {
		t.Fatal(err)
	}
	closes := 0
	r.open = func() (*input, error) {
		return &input{read: read, close: func() error { closes++; return nil }}, nil
	}
	return r, &closes
}

// TestReadsThatReturnAtOnce: a driver that answers at once with nothing is taken for gone, without a busy loop.
func TestReadsThatReturnAtOnce(t *testing.T) {
	n := 0
	r, closes := fake(t, nil, func([]byte) (int, error) { n++; return 0, nil })
	var b bus.Batch
	var h heard
	begin := time.Now()
	for len(h.notes) < 2 {
		if err := r.Read(&b); err != nil {
			t.Fatal(err)
		}
		h.take(&b)
	}
	if diff := cmp.Diff([]string{"0 link silent", "0 link absent"}, h.notes); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if n != emptyReads || *closes != 1 {
		t.Errorf("%d reads, closed %d times, want %d and 1", n, *closes, emptyReads)
	}
	if took := time.Since(begin); took < 80*time.Millisecond {
		t.Errorf("%d reads within %v", n, took)
	}
}

// TestBytesWithAnError: what came with an error is kept, then the port is lost.
func TestBytesWithAnError(t *testing.T) {
	r, closes := fake(t, nil, func(b []byte) (int, error) { return copy(b, wire(&packets, []byte("\x10\x01ab"))), io.ErrUnexpectedEOF })
	var b bus.Batch
	var h heard
	for len(h.notes) < 3 {
		if err := r.Read(&b); err != nil {
			t.Fatal(err)
		}
		h.take(&b)
	}
	if diff := cmp.Diff([]string{"0 link silent", "0 link active", "1 link absent"}, h.notes); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if *closes != 1 {
		t.Errorf("closed %d times, want 1", *closes)
	}
}

// TestClockStep: a clock that is set is marked, one that runs is not; bytes read then are not lost.
func TestClockStep(t *testing.T) {
	wall, steady := int64(epoch), int64(0)
	i := 0
	r, _ := fake(t, func() (int64, int64) { return wall, steady }, func(b []byte) (int, error) {
		i++
		wall += 100_000_001 // as a clock that is being drawn
		steady += 100_000_000
		switch i {
		case 3:
			wall += 5 * second
		case 5:
			wall -= 7 * second
		}
		return copy(b, wire(&packets, []byte{0x10, byte(i), 1, 2})), nil
	})
	var b bus.Batch
	var h heard
	for len(h.frames) < 8 {
		if err := r.Read(&b); err != nil {
			t.Fatal(err)
		}
		h.take(&b)
	}
	want := []string{"0 link silent", "0 link active", "2 clock 5000000001", "4 clock -6999999999"}
	if diff := cmp.Diff(want, h.notes); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if got, want := h.frames[2].At-h.frames[1].At, int64(5*second+100_000_001); got != want {
		t.Errorf("the step in the frames: got %d, want %d", got, want)
	}
}

// forbidden are the ways by which a port could be written to, moved or enumerated.
var forbidden = regexp.MustCompile(`^(Write|WriteString|SetDTR|SetRTS|Break|Drain|ResetOutputBuffer|GetPortsList|SetMode)$`)

// TestNoWayOut looks through the code of this package, and shows that it would find something.
func TestNoWayOut(t *testing.T) {
	names, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	look := func(name string, src any) (found []string) {
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, name, src, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			if s, ok := n.(*ast.SelectorExpr); ok && forbidden.MatchString(s.Sel.Name) {
				found = append(found, fmt.Sprintf("%s: %s", set.Position(s.Pos()), s.Sel.Name))
			}
			return true
		})
		return found
	}
	seen := 0
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		seen++
		src, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if found := look(name, src); found != nil {
			t.Errorf("got %q", found)
		}
	}
	if seen < 10 {
		t.Errorf("looked into %d files only", seen)
	}
	if found := look("x.go", "package x\nfunc f() { port.Write(nil) }"); len(found) != 1 {
		t.Errorf("found %q in a file that writes", found)
	}
}
