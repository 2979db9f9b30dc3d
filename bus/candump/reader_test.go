package candump

import (
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
)

const (
	one = "(1.000000) can0 001#11\n"
	two = "(2.000000) can0 002#22\n"
)

// Damage and notes: what stands about two good lines.
func TestNotes(t *testing.T) {
	warning := func(before int, text string) bus.Note {
		return bus.Note{Before: before, At: int64(before) * second, Kind: bus.Warning, Text: text}
	}
	const dropped = "last line has no newline and is dropped: the recording was cut there"
	for _, tt := range []struct {
		name  string
		text  string
		notes []bus.Note
	}{
		{"nothing", one + two, nil},
		{"comments", "# rig: none\n\nfree words\n" + one + "; x\n#mark\n# marks: 3\n \t\r\n" + two + "# end\n", nil},
		{"byte order mark", "\ufeff" + one + two, nil},
		{"blanks before", "  " + one + "\t" + two, nil},

		{"cut in the data, pairs whole", one + two + "(3.000000) can0 003#3344", []bus.Note{warning(2, "t.log:3: "+dropped)}},
		{"cut in the stamp", one + two + "(3.0", []bus.Note{warning(2, "t.log:3: "+dropped)}},
		{"cut after the line", one + two + "(3.000000) can0 003#33\r", []bus.Note{warning(2, "t.log:3: "+dropped)}},
		{"cut comment", one + two + "# mark: turn F", []bus.Note{warning(2, "t.log:3: "+dropped)}},
		{"blanks at the end", one + two + " \r", nil},

		{"NULs at the end", one + two + strings.Repeat("\x00", 5000), []bus.Note{
			warning(2, "t.log:3: 5000 NUL bytes skipped, as a power loss leaves them"),
		}},
		{"NULs after a cut line", one + two + "(3.000000) can0 003#3344" + strings.Repeat("\x00", 100), []bus.Note{
			warning(2, "t.log:3: 100 NUL bytes skipped, as a power loss leaves them; the line before them was cut and is dropped"),
		}},
		{"NULs, then text", one + "(1.5) can0 00" + strings.Repeat("\x00", 1<<20) + two, []bus.Note{
			warning(1, "t.log:2: 1048576 NUL bytes skipped, as a power loss leaves them; the line before them was cut and is dropped"),
		}},
		{"NULs, then the rest of a line", one + "\x00\x00\x00 003#11\n" + two, []bus.Note{
			warning(1, "t.log:2: 3 NUL bytes skipped, as a power loss leaves them"),
		}},
		{"NULs, newline", one + "\x00\x00\n" + two, []bus.Note{warning(1, "t.log:2: 2 NUL bytes skipped, as a power loss leaves them")}},
		{"NULs first", "\x00" + one + two, []bus.Note{warning(0, "t.log:1: 1 NUL bytes skipped, as a power loss leaves them")}},

		{"long line", one + "(" + strings.Repeat("9", 3*maxLine) + "\n" + two, []bus.Note{
			warning(1, "t.log:2: expected a line of at most 8192 bytes; longer line skipped"),
		}},
		{"longest line", one + strings.Repeat("x", maxLine) + "\n" + two, nil},
		{"one byte more", one + strings.Repeat("x", maxLine+1) + "\n" + two, []bus.Note{
			warning(1, "t.log:2: expected a line of at most 8192 bytes; longer line skipped"),
		}},
		{"longest line, then NULs", one + strings.Repeat("x", maxLine) + "\x00" + two, []bus.Note{
			warning(1, "t.log:2: 1 NUL bytes skipped, as a power loss leaves them; the line before them was cut and is dropped"),
		}},
		{"long line that could be read", one + "(1.5) can0 003#" + strings.Repeat(" ", maxLine) + "\n" + two, []bus.Note{
			warning(1, "t.log:2: expected a line of at most 8192 bytes; longer line skipped"),
		}},
		{"line that never ends", one + two + strings.Repeat("x", 1<<20), []bus.Note{
			warning(2, "t.log:3: expected a line of at most 8192 bytes; longer line skipped"),
		}},
		{"long line with NULs", one + strings.Repeat("x", maxLine+1) + "\x00\x00" + two, []bus.Note{
			warning(1, "t.log:2: expected a line of at most 8192 bytes; longer line skipped"),
			warning(1, "t.log:2: 2 NUL bytes skipped, as a power loss leaves them"),
		}},

		{"marks", "# mark: on the lift\n" + one + "#mark:turn FL \r\n#  mark:\tdown\xff\n" + two, []bus.Note{
			{Kind: bus.Mark, Text: "on the lift"},
			{Before: 1, At: second, Kind: bus.Mark, Text: "turn FL"},
			{Before: 1, At: second, Kind: bus.Mark, Text: "down\ufffd"},
		}},
		// Words of can-utils candump.c, v2020.11.0 and v2025.01 alike.
		{"drop counts", one + "DROPCOUNT: dropped 1 CAN frame on 'can0' socket (total drops 1)\n" + two +
			"DROPCOUNT: dropped 4294967295 CAN frames on 'can0' socket (total drops 0)\n", []bus.Note{
			{Before: 1, At: second, Kind: bus.Loss, Count: 1, Text: "1 frame of can0 was lost before it reached the recorder"},
			{Before: 2, At: 2 * second, Kind: bus.Loss, Count: 4294967295, Text: "4294967295 frames of can0 were lost before they reached the recorder"},
		}},
		{"broken drop counts", one + "DROPCOUNT: dropped -7 CAN frames on 'can0' socket\nDROPCOUNT: 5\nDROPCOUNT: dropped 3 CAN frames\n" + two, []bus.Note{
			warning(1, `t.log:2: expected "dropped" and a number of frames at column 20, found "-7 CAN frames on 'can0' "; line skipped`),
			warning(1, `t.log:3: expected "dropped" and a number of frames at column 11, found " 5"; line skipped`),
			warning(1, `t.log:4: expected "on 'NAME' socket" at column 21, found " CAN frames"; line skipped`),
		}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := read(t, tt.text)
			if diff := cmp.Diff(got.Notes, tt.notes); diff != "" {
				t.Errorf("notes: got -, want +\n%s", diff)
			}
			want := []bus.Frame{
				{At: second, ID: 1, Len: 1, Data: data("\x11")},
				{At: 2 * second, ID: 2, Len: 1, Data: data("\x22")},
			}
			if diff := cmp.Diff(got.Frames, want); diff != "" {
				t.Errorf("frames: got -, want +\n%s", diff)
			}
			bytewise, err := readAll(t, NewReader("t.log", iotest.OneByteReader(strings.NewReader(tt.text))), 3)
			if diff := cmp.Diff(bytewise, got); err != nil || diff != "" {
				t.Errorf("byte by byte: error %v, got -, want +\n%s", err, diff)
			}
		})
	}
}

// The caller hands in the same batch again; nothing of its old frames shows.
func TestOldFramesDoNotShow(t *testing.T) {
	r := NewReader("t.log", strings.NewReader(one+" "+two))
	for _, want := range []bus.Frame{
		{At: second, ID: 1, Len: 1, Data: data("\x11")},
		{At: 2 * second, ID: 2, Len: 1, Data: data("\x22")},
	} {
		old := bus.Frame{ID: 7, Flags: bus.FD | bus.Extended, Source: 3, Len: 64, Data: data(strings.Repeat("\xff", 64))}
		b := bus.Batch{Frames: []bus.Frame{old}}
		if err := r.Read(&b); err != nil || len(b.Frames) != 1 || b.Frames[0] != want {
			t.Errorf("got %v, %v, want %v", b.Frames, err, want)
		}
	}
}

func TestDropCountOfNewInterface(t *testing.T) {
	got := read(t, one+"DROPCOUNT: dropped 2 CAN frames on 'can7' socket (total drops 2)\n")
	if len(got.Notes) != 1 || got.Notes[0].Source != 1 || len(got.Names) != 2 || got.Names[1] != "can7" {
		t.Errorf("got %+v, want the loss to be of source 1, can7", got)
	}
}

func TestNoFrameAtAll(t *testing.T) {
	for _, tt := range []struct {
		name, text, want string
	}{
		{"other text", "hello\nworld\n", `t.log:2: no frame found: expected lines such as "(1436509052.249713) can0 201#1027F0D8", as candump -L writes them`},
		{"only remarks", "# hello\n\n", ""},
		{"empty", "", ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			text := ""
			for _, n := range read(t, tt.text).Notes {
				text += n.Text
			}
			if text != tt.want {
				t.Errorf("got %q, want %q", text, tt.want)
			}
		})
	}
}

func TestWarningsAreBounded(t *testing.T) {
	for _, tt := range []struct {
		broken, notes int
		last          string
	}{
		{bus.MaxWarnings, bus.MaxWarnings, "t.log:20: expected "},
		{bus.MaxWarnings + 1, bus.MaxWarnings + 1, "t.log: 21 warnings in all, the first 20 are listed"},
		{1234, bus.MaxWarnings + 1, "t.log: 1234 warnings in all, the first 20 are listed"},
	} {
		t.Run(fmt.Sprint(tt.broken), func(t *testing.T) {
			got := read(t, strings.Repeat("(broken\n", tt.broken)+one)
			if len(got.Notes) != tt.notes || len(got.Frames) != 1 {
				t.Fatalf("got %d notes, %d frames, want %d and 1", len(got.Notes), len(got.Frames), tt.notes)
			}
			if last := got.Notes[len(got.Notes)-1].Text; !strings.HasPrefix(last, tt.last) {
				t.Errorf("last: got %q, want %q…", last, tt.last)
			}
		})
	}
}

// A log that is still being written is delivered line by line.
func TestDeliversWithoutWaiting(t *testing.T) {
	in, out := io.Pipe()
	r := NewReader("pipe", in)
	var b bus.Batch
	for i := range 3 {
		go func() { fmt.Fprintf(out, "(%d.000000) can0 001#\n(9.0", i) }()
		if err := r.Read(&b); err != nil || len(b.Frames) != 1 {
			t.Fatalf("line %d: got %d frames, %v, want 1 without waiting for more", i, len(b.Frames), err)
		}
		go func() { fmt.Fprint(out, ") can0 002#\n") }()
		if err := r.Read(&b); err != nil || len(b.Frames) != 1 || b.Frames[0].ID != 2 {
			t.Fatalf("line %d: got %v, %v, want the second half to be joined", i, b.Frames, err)
		}
	}
	if err := r.Close(); err != nil {
		t.Errorf("Close: %v", err)
	}
}

func TestCloseEndsRead(t *testing.T) {
	in, _ := io.Pipe()
	r := NewReader("pipe", in)
	failed := make(chan error)
	go func() {
		var b bus.Batch
		failed <- r.Read(&b)
	}()
	time.Sleep(10 * time.Millisecond) // most often the Read waits by now; it must return either way
	if err := r.Close(); err != nil {
		t.Errorf("Close: %v", err)
	}
	if err := r.Close(); err != nil {
		t.Errorf("second Close: %v", err)
	}
	if err := <-failed; !errors.Is(err, os.ErrClosed) {
		t.Errorf("Read: got %v, want os.ErrClosed", err)
	}
}

func TestReadError(t *testing.T) {
	disk := errors.New("disk trouble")
	for _, tt := range []struct {
		name string
		r    io.Reader
		is   error
		text string
	}{
		{"failing", io.MultiReader(strings.NewReader(one+two+"(3"), iotest.ErrReader(disk)), disk, "read t.log after line 2: disk trouble"},
		{"no progress", io.MultiReader(strings.NewReader(one+two+"(3"), idle{}), io.ErrNoProgress, "read t.log after line 2: " + io.ErrNoProgress.Error()},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := NewReader("t.log", tt.r)
			got, err := readAll(t, r, 0)
			if !errors.Is(err, tt.is) || err.Error() != tt.text {
				t.Errorf("error: got %v, want %s", err, tt.text)
			}
			if len(got.Frames) != 2 || len(got.Notes) != 1 {
				t.Errorf("before it: got %d frames, notes %v, want 2 and the cut line", len(got.Frames), got.Notes)
			}
			if again := r.Read(&bus.Batch{}); !errors.Is(again, tt.is) {
				t.Errorf("again: got %v, want the same", again)
			}
		})
	}
}

// A reader that breaks io.Reader's promise gives an error, not a panic.
func TestReaderWithWrongCount(t *testing.T) {
	for _, count := range []int{-1, bufferSize + 1} {
		_, err := readAll(t, NewReader("t.log", wrongCount(count)), 0)
		if want := fmt.Sprintf("read t.log after line 0: reader returned a count of %d for %d bytes", count, bufferSize); err == nil || err.Error() != want {
			t.Errorf("got %v, want %s", err, want)
		}
	}
}

type wrongCount int

func (c wrongCount) Read([]byte) (int, error) { return int(c), nil }

type idle struct{}

func (idle) Read([]byte) (int, error) { return 0, nil }

func TestReaderAllocatesNothingPerFrame(t *testing.T) {
	if testing.CoverMode() != "" {
		t.Skip("coverage counters disturb the count; run without -cover")
	}
	text := strings.Repeat("(1436509052.249713) can0 201#1027F0D800007FFF\n(1436509052.249713)  vcan1 18FF1021##1001122 T\r\n  (1436509052.24) can0 123#R4\n# rig\n", 1000)
	var input strings.Reader
	var b bus.Batch
	r := NewReader("t.log", &input)
	got := testing.AllocsPerRun(10, func() {
		input.Reset(text)
		r.readErr, r.err = nil, nil
		if n := drain(t, r, &b); n != 3000 {
			t.Fatalf("got %d frames, want 3000", n)
		}
	})
	if got != 0 {
		t.Errorf("got %v allocations for 3000 frames, want 0", got)
	}
}

// Memory does not grow with the length: not with frames, broken lines, NULs nor
// a line without an end.
func TestMemoryIsBounded(t *testing.T) {
	for _, tt := range []struct{ name, unit string }{
		{"frames", one},
		{"broken", "(1.0) can0 xyz\n"},
		{"NULs", "\x00"},
		{"NULs and text", "x\x00"},
		{"no newline", "(1.0) can0 123#"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			const size = 32 << 20
			r := NewReader("t.log", io.LimitReader(&endless{unit: strings.Repeat(tt.unit, 4096)}, size))
			b := bus.Batch{}
			var before, after runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&before)
			for {
				if err := r.Read(&b); err != nil {
					break
				}
			}
			runtime.ReadMemStats(&after)
			if grown := after.TotalAlloc - before.TotalAlloc; grown > 1<<20 {
				t.Errorf("got %d bytes allocated for %d read, want at most 1 MiB", grown, size)
			}
		})
	}
}

// endless repeats its unit.
type endless struct {
	unit string
	at   int
}

func (e *endless) Read(p []byte) (int, error) {
	n := copy(p, e.unit[e.at:])
	e.at = (e.at + n) % len(e.unit)
	return n, nil
}
