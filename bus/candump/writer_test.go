package candump

import (
	"bytes"
	"errors"
	"io"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
)

// write writes all frames with a Writer.
func write(tb testing.TB, frames []bus.Frame, names []string) []byte {
	tb.Helper()
	var out bytes.Buffer
	w := NewWriter(&out, names)
	for i := range frames {
		if err := w.Write(&frames[i]); err != nil {
			tb.Fatalf("frame %d: %v", i, err)
		}
	}
	if err := w.Flush(); err != nil {
		tb.Fatalf("Flush: %v", err)
	}
	return out.Bytes()
}

// randomFrames makes frames of every kind, of three sources. The first three are
// of source 0, 1 and 2, so that a Reader counts the sources the same way.
func randomFrames(seed uint64, n int) []bus.Frame {
	rnd := rand.New(rand.NewPCG(seed, seed))
	frames := make([]bus.Frame, n)
	for i := range frames {
		f := &frames[i]
		f.Source = uint16(rnd.IntN(3))
		if i < 3 {
			f.Source = uint16(i)
		}
		f.At = rnd.Int64N((maxSeconds + 1) * second)
		if rnd.IntN(2) == 0 {
			f.At -= f.At % 1000
		}
		if rnd.IntN(4) == 0 {
			f.Flags |= bus.Transmitted
		}
		maxLen := 8
		switch f.ID = rnd.Uint32() & maxID29; rnd.IntN(6) {
		case 0:
			f.Flags |= bus.Error
		case 1:
			f.Flags |= bus.Remote
		case 2, 3:
			maxLen = 64
			f.Flags |= bus.FD | []bus.Flags{0, bus.BitRateSwitch, bus.ErrorState, bus.BitRateSwitch | bus.ErrorState}[rnd.IntN(4)]
		}
		if !f.Flags.Has(bus.Error) {
			if rnd.IntN(2) == 0 {
				f.Flags |= bus.Extended
			} else {
				f.ID &= maxID11
			}
		}
		f.Len = uint8(rnd.IntN(maxLen + 1))
		if !f.Flags.Has(bus.Remote) {
			for j := range f.Len {
				f.Data[j] = byte(rnd.Uint32())
			}
		}
	}
	return frames
}

func TestRoundTrip(t *testing.T) {
	names := []string{"can0", "vcan1", "a_long_interface_name"}
	for seed := range uint64(5) {
		frames := randomFrames(seed, 2000)
		got := read(t, string(write(t, frames, names)))
		if diff := cmp.Diff(got, result{Frames: frames, Names: names}); diff != "" {
			t.Fatalf("seed %d: got -, want +\n%s", seed, diff)
		}
	}
}

// The text itself: as candump -L writes it (can-utils candump.c and
// snprintf_canframe in lib.c), FD without the newer mark 0x4.
func TestWriterText(t *testing.T) {
	const at = 1436509052_249713000
	for _, tt := range []struct {
		want string
		f    bus.Frame
	}{
		{"(1436509052.249713) can0 201#1027F0D8\n", bus.Frame{At: at, ID: 0x201, Len: 4, Data: data("\x10\x27\xf0\xd8")}},
		{"(1436509052.249713001) can0 001#\n", bus.Frame{At: at + 1, ID: 1}},
		{"(0000000000.000000) can0 000#\n", bus.Frame{}},
		{"(9223372035.999999999) can0 000#\n", bus.Frame{At: (maxSeconds+1)*second - 1}},
		{"(0000000001.000000) can0 0000000A#R\n", bus.Frame{At: second, ID: 10, Flags: bus.Extended | bus.Remote}},
		{"(0000000001.000000) can0 00A#R8 T\n", bus.Frame{At: second, ID: 10, Len: 8, Flags: bus.Transmitted | bus.Remote}},
		{"(0000000001.000000) can0 20000204#000C\n", bus.Frame{At: second, ID: 0x204, Len: 2, Flags: bus.Error, Data: data("\x00\x0c")}},
		{"(0000000001.000000) can0 7FF##0\n", bus.Frame{At: second, ID: 0x7FF, Flags: bus.FD}},
		{"(0000000001.000000) can0 1FFFFFFF##3AB T\n", bus.Frame{
			At: second, ID: 0x1FFFFFFF, Len: 1, Data: data("\xab"),
			Flags: bus.FD | bus.BitRateSwitch | bus.ErrorState | bus.Extended | bus.Transmitted,
		}},
	} {
		t.Run(tt.want, func(t *testing.T) {
			if got := string(write(t, []bus.Frame{tt.f}, []string{"can0"})); got != tt.want {
				t.Errorf("got %q, want %q", got, tt.want)
			}
		})
	}
}

func TestWriterRefuses(t *testing.T) {
	long := strings.Repeat("n", maxName+1)
	names := []string{"can0", "can 1", "", "can\n0", long, "can\xff", strings.Repeat("n", maxName), "/dev/ttyÄ0"}
	for _, tt := range []struct {
		name string
		f    bus.Frame
		want string // empty: accepted
	}{
		{"good", bus.Frame{}, ""},
		{"longest name", bus.Frame{Source: 6}, ""},
		{"not ASCII", bus.Frame{Source: 7}, ""},
		{"source", bus.Frame{Source: 8}, "candump: frame of source 8, but 8 names are known"},
		{"blank", bus.Frame{Source: 1}, `candump: interface name "can 1" cannot stand in a log: expected 1 to 64 bytes, printable, no blank`},
		{"empty", bus.Frame{Source: 2}, `candump: interface name "" cannot stand in a log: expected 1 to 64 bytes, printable, no blank`},
		{"newline", bus.Frame{Source: 3}, `candump: interface name "can\n0" cannot stand in a log: expected 1 to 64 bytes, printable, no blank`},
		{"long name", bus.Frame{Source: 4}, `candump: interface name "` + long + `" cannot stand in a log: expected 1 to 64 bytes, printable, no blank`},
		{"not UTF-8", bus.Frame{Source: 5}, `candump: interface name "can\xff" cannot stand in a log: expected 1 to 64 bytes, printable, no blank`},
		{"before 1970", bus.Frame{At: -1, ID: 0x1A}, "candump: frame 1A: expected a time after 1970, got -1 ns"},
		{"after 2262", bus.Frame{At: 1<<63 - 1}, "candump: frame 0: expected a time before the year 2262, got 9223372036854775807 ns"},
		{"nine bytes", bus.Frame{Len: 9}, "candump: frame 0: expected at most 8 bytes, got 9"},
		{"65 bytes", bus.Frame{Flags: bus.FD, Len: 65}, "candump: frame 0: expected at most 64 bytes, got 65"},
		{"12 bits", bus.Frame{ID: 0x800}, "candump: expected an identifier up to 7FF, got 800"},
		{"30 bits", bus.Frame{ID: 0x20000000, Flags: bus.Extended}, "candump: expected an identifier up to 1FFFFFFF, got 20000000"},
		{"error extended", bus.Frame{Flags: bus.Error | bus.Extended}, "candump: an error frame cannot be extended, remote or FD"},
		{"FD remote", bus.Frame{Flags: bus.FD | bus.Remote}, "candump: frame 0: an FD frame cannot be remote"},
		{"classic BRS", bus.Frame{Flags: bus.BitRateSwitch}, "candump: frame 0: only an FD frame switches its bit rate or tells an error state"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var out bytes.Buffer
			w := NewWriter(&out, names)
			got := ""
			if err := w.Write(&tt.f); err != nil {
				got = err.Error()
			}
			if got != tt.want {
				t.Errorf("got %q, want %q", got, tt.want)
			}
			if err := w.Flush(); err != nil || out.Len() == 0 != (tt.want != "") {
				t.Errorf("afterwards: got %q, %v; want text only of what was accepted", out.String(), err)
			}
		})
	}
}

// Append must not fail on a frame that nobody checked.
func TestAppendNeverPanics(t *testing.T) {
	for flags := range 256 {
		f := bus.Frame{At: -1 << 63, ID: 1<<32 - 1, Len: 255, Flags: bus.Flags(flags)}
		if got := Append(nil, &f, "x"); !bytes.HasPrefix(got, []byte("(0000000000.000000) x ")) || bytes.Count(got, []byte("\n")) != 1 {
			t.Errorf("flags %x: got %q, want one line", flags, got)
		}
	}
}

func TestMarksAndLosses(t *testing.T) {
	var out bytes.Buffer
	w := NewWriter(&out, []string{"can0"})
	steps := []error{
		w.Mark(" turn FL\r\n"),
		w.Write(&bus.Frame{At: second}),
		w.Mark("a\nb\x00c ü"),
		w.Loss(0, 1),
		w.Loss(0, 0),
		w.Loss(0, 41),
		w.Mark(strings.Repeat("ü", maxText/2)),
	}
	w.SetNames([]string{"can0", "can1"})
	steps = append(steps, w.Loss(1, 2), w.Flush())
	for i, err := range steps {
		if err != nil {
			t.Errorf("step %d: %v", i, err)
		}
	}
	// Words of can-utils candump.c.
	want := `# mark: turn FL
(0000000001.000000) can0 000#
# mark: a b c ü
DROPCOUNT: dropped 1 CAN frame on 'can0' socket (total drops 1)
DROPCOUNT: dropped 41 CAN frames on 'can0' socket (total drops 42)
# mark: ` + strings.Repeat("ü", maxText/2) + `
DROPCOUNT: dropped 2 CAN frames on 'can1' socket (total drops 2)
`
	if diff := cmp.Diff(out.String(), want); diff != "" {
		t.Errorf("got -, want +\n%s", diff)
	}

	type note struct {
		Kind   bus.NoteKind
		Source uint16
		Count  uint64
	}
	var got []note
	for _, n := range read(t, out.String()).Notes {
		got = append(got, note{n.Kind, n.Source, n.Count})
	}
	back := []note{{bus.Mark, 0, 0}, {bus.Mark, 0, 0}, {bus.Loss, 0, 1}, {bus.Loss, 0, 41}, {bus.Mark, 0, 0}, {bus.Loss, 1, 2}}
	if diff := cmp.Diff(got, back); diff != "" {
		t.Errorf("read back: got -, want +\n%s", diff)
	}

	for _, text := range []string{"", " \n", strings.Repeat("x", maxText+1)} {
		if err := w.Mark(text); err == nil {
			t.Errorf("mark of %d bytes: got no error", len(text))
		}
	}
	if err := w.Loss(2, 1); err == nil {
		t.Error("loss of an unknown source: got no error")
	}
}

// The error of a write stays: what follows would stand behind a gap.
func TestWriterKeepsItsError(t *testing.T) {
	full := errors.New("disk full")
	for _, tt := range []struct {
		name string
		out  io.Writer
		want error
	}{
		{"error", writerFunc(func([]byte) (int, error) { return 0, full }), full},
		{"short write", writerFunc(func(p []byte) (int, error) { return len(p) / 2, nil }), io.ErrShortWrite},
	} {
		t.Run(tt.name, func(t *testing.T) {
			w := NewWriter(tt.out, []string{"can0"})
			if err := w.Flush(); err != nil {
				t.Errorf("Flush of nothing: got %v", err)
			}
			var err error
			written := 0
			for ; err == nil && written < 10_000; written++ {
				err = w.Write(&bus.Frame{})
			}
			if !errors.Is(err, tt.want) || written < writerSize/64 || written > writerSize/30 {
				t.Errorf("got %v after %d frames, want %v when the buffer is full", err, written, tt.want)
			}
			for name, again := range map[string]error{"Write": w.Write(&bus.Frame{}), "Mark": w.Mark("x"), "Loss": w.Loss(0, 1), "Flush": w.Flush()} {
				if !errors.Is(again, tt.want) {
					t.Errorf("%s: got %v, want %v again", name, again, tt.want)
				}
			}
		})
	}
}

type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(p []byte) (int, error) { return f(p) }

func TestWriterAllocatesNothingPerFrame(t *testing.T) {
	if testing.CoverMode() != "" {
		t.Skip("coverage counters disturb the count; run without -cover")
	}
	frames := randomFrames(3, 1000)
	w := NewWriter(io.Discard, []string{"can0", "can1", "a_long_interface_name"})
	got := testing.AllocsPerRun(10, func() {
		for i := range frames {
			if err := w.Write(&frames[i]); err != nil {
				t.Fatal(err)
			}
		}
	})
	if got != 0 {
		t.Errorf("got %v allocations for %d frames, want 0", got, len(frames))
	}
}
