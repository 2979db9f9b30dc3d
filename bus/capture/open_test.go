package capture_test

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/klauspost/compress/zstd"

	"plumbline/bus"
	"plumbline/bus/capture"
	"plumbline/bus/pcapng"
)

// text is a candump -L log of n frames.
func text(n int) []byte {
	var b bytes.Buffer
	for i := range n {
		fmt.Fprintf(&b, "(%d.%06d) can0 201#%016X\n", 1_700_000_000+i/1000, i%1000*1000, uint64(i)*0x9E3779B97F4A7C15)
	}
	return b.Bytes()
}

func recording(tb testing.TB, name string) []byte {
	tb.Helper()
	data, err := os.ReadFile(filepath.Join("..", "pcapng", "testdata", name))
	if err != nil {
		tb.Fatal(err)
	}
	return data
}

func packGzip(tb testing.TB, data []byte) []byte {
	tb.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b) // the standard library's: another hand than the reader's
	if _, err := w.Write(data); err != nil {
		tb.Fatal(err)
	}
	if err := w.Close(); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

func packZstd(tb testing.TB, data []byte) []byte {
	tb.Helper()
	w, err := zstd.NewWriter(nil)
	if err != nil {
		tb.Fatal(err)
	}
	defer w.Close()
	return w.EncodeAll(data, nil)
}

func write(tb testing.TB, data []byte) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), "recording")
	if err := os.WriteFile(path, data, 0o600); err != nil {
		tb.Fatal(err)
	}
	return path
}

// everything reads a source to its end.
func everything(s bus.Source) (frames []bus.Frame, notes []bus.Note, err error) {
	var b bus.Batch
	for {
		if err := s.Read(&b); err != nil {
			if errors.Is(err, io.EOF) {
				err = nil
			}
			return frames, notes, err
		}
		frames = append(frames, b.Frames...)
		notes = append(notes, b.Notes...)
	}
}

// read opens path, reads it to its end and closes it; the messages come
// without the folder.
func read(tb testing.TB, path string) (frames []bus.Frame, notes []string, err error) {
	tb.Helper()
	s, err := capture.Open(path)
	if err != nil {
		return nil, nil, err
	}
	frames, all, err := everything(s)
	for _, n := range all {
		notes = append(notes, strings.ReplaceAll(n.Text, filepath.Dir(path)+"/", ""))
	}
	if done, known := s.(capture.Progress).Fraction(); err == nil && (done != 1 || !known) {
		tb.Errorf("%s: read %v of it (%t) at its end, want all", path, done, known)
	}
	if err := s.Close(); err != nil {
		tb.Error(err)
	}
	return frames, notes, err
}

// TestFormats: the same frames come out of every way of packing.
func TestFormats(t *testing.T) {
	contents := []struct {
		name   string
		data   []byte
		frames int
	}{
		{"candump", text(5000), 5000},
		{"candump with a byte order mark", append([]byte("\xEF\xBB\xBF"), text(3)...), 3},
		{"candump with comments in Latin-1", append([]byte("# Pr\xFCfstand 3, Achse h\xF6her\n"), text(3)...), 3},
		{"pcapng", recording(t, "can0.pcapng"), 9},
		{"pcap", recording(t, "can0-nano.pcap"), 9},
	}
	packings := []struct {
		name string
		pack func(testing.TB, []byte) []byte
	}{
		{"plain", func(_ testing.TB, p []byte) []byte { return p }},
		{"gzip", packGzip},
		{"gzip in two members", func(tb testing.TB, p []byte) []byte {
			tb.Helper()
			return append(packGzip(tb, p[:len(p)/2]), packGzip(tb, p[len(p)/2:])...)
		}},
		{"zstd", packZstd},
		{"zstd in two frames, a skippable one before", func(tb testing.TB, p []byte) []byte {
			tb.Helper()
			return slices.Concat([]byte{0x5A, 0x2A, 0x4D, 0x18, 2, 0, 0, 0, 9, 9}, packZstd(tb, p[:len(p)/2]), packZstd(tb, p[len(p)/2:]))
		}},
	}
	for _, content := range contents {
		want, _, err := read(t, write(t, content.data))
		if err != nil || len(want) != content.frames {
			t.Fatalf("%s: %d frames, error %v, want %d", content.name, len(want), err, content.frames)
		}
		for _, packing := range packings {
			t.Run(content.name+", "+packing.name, func(t *testing.T) {
				got, notes, err := read(t, write(t, packing.pack(t, content.data)))
				if err != nil || len(notes) > 0 {
					t.Errorf("error %v, notes %q, want none", err, notes)
				}
				if !slices.Equal(got, want) {
					t.Errorf("%d frames, want %d, the same", len(got), len(want))
				}
			})
		}
	}
}

// TestOtherTools reads what gzip and zstd of the system wrote.
func TestOtherTools(t *testing.T) {
	for _, args := range [][]string{{"gzip", "-9"}, {"zstd", "-q", "-19", "-f", "--rm"}, {"zstd", "-q", "--ultra", "-22", "--long=27", "--rm"}} {
		t.Run(args[0], func(t *testing.T) {
			if _, err := exec.LookPath(args[0]); err != nil {
				if os.Getenv("CI") == "true" {
					t.Fatalf("%s is missing: apt install %[1]s", args[0])
				}
				t.Skipf("%s is missing: apt install %[1]s", args[0])
			}
			path := write(t, text(20_000))
			if out, err := exec.Command(args[0], append(args[1:], path)...).CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, out)
			}
			made, err := filepath.Glob(path + ".*")
			if err != nil || len(made) != 1 {
				t.Fatal(made, err)
			}
			frames, notes, err := read(t, made[0])
			if err != nil || len(frames) != 20_000 || len(notes) > 0 {
				t.Errorf("%d frames, notes %q, error %v", len(frames), notes, err)
			}
		})
	}
}

// TestCutStream cuts packed recordings at every byte: what can be unpacked
// counts, and a warning says that there was more.
func TestCutStream(t *testing.T) {
	const n = 30
	whole, _, err := read(t, write(t, text(n)))
	if err != nil {
		t.Fatal(err)
	}
	for name, packed := range map[string][]byte{"gzip": packGzip(t, text(n)), "zstd": packZstd(t, text(n))} {
		path := write(t, nil)
		for cut := range packed {
			for _, tail := range []int{0, 4096} {
				if err := os.WriteFile(path, append(slices.Clip(packed[:cut]), make([]byte, tail)...), 0o600); err != nil {
					t.Fatal(err)
				}
				frames, notes, err := read(t, path)
				if cut < 4 {
					continue // no magic yet: text, or nothing known
				}
				if err != nil {
					t.Fatalf("%s cut at byte %d, %d NUL bytes: %v", name, cut, tail, err)
				}
				if len(frames) > len(whole) || !slices.Equal(frames, whole[:len(frames)]) {
					t.Fatalf("%s cut at byte %d, %d NUL bytes: %d frames are not the first of the whole", name, cut, tail, len(frames))
				}
				told := slices.ContainsFunc(notes, func(s string) bool {
					return strings.HasPrefix(s, "recording: the "+name+" stream ends early, after ")
				})
				if !told {
					t.Fatalf("%s cut at byte %d, %d NUL bytes: not told: %q", name, cut, tail, notes)
				}
			}
		}
	}
	frames, notes, err := read(t, write(t, append(packGzip(t, text(n)), make([]byte, 100_000)...)))
	if err != nil || !slices.Equal(frames, whole) || len(notes) > 1 {
		t.Errorf("whole gzip and NUL bytes: %d frames of %d, notes %q, error %v", len(frames), n, notes, err)
	}
	// long enough to lose only a part
	packed := packGzip(t, text(50_000))
	frames, notes, err = read(t, write(t, packed[:len(packed)/2]))
	if err != nil || len(frames) < 20_000 || len(frames) > 30_000 || len(notes) != 2 {
		t.Errorf("half a gzip: %d frames, notes %q, error %v", len(frames), notes, err)
	}
}

func TestDamagedStream(t *testing.T) {
	packed := packGzip(t, text(50_000))
	packed[len(packed)-6] ^= 1 // the check sum
	frames, _, err := read(t, write(t, packed))
	if len(frames) == 0 || err == nil || !strings.Contains(err.Error(), "the gzip stream is damaged after 2") {
		t.Errorf("check sum: %d frames, error %v", len(frames), err)
	}
	for name, pack := range map[string]func(testing.TB, []byte) []byte{"gzip": packGzip, "zstd": packZstd} {
		path := write(t, append(pack(t, text(10)), "and more that is not packed"...))
		frames, notes, err := read(t, path)
		if want := fmt.Sprintf("recording: something that is not %s follows the stream of 460 unpacked bytes: it is not read", name); len(frames) != 10 || err != nil || len(notes) != 1 || notes[0] != want {
			t.Errorf("%s: %d frames, notes %q, error %v, want 10 and %q", name, len(frames), notes, err, want)
		}
	}
}

func TestWindow(t *testing.T) {
	// a frame that asks for a window of 2 GiB (RFC 8878, 3.1.1.1.2: exponent 21), then a raw block
	path := write(t, []byte{0x28, 0xB5, 0x2F, 0xFD, 0x00, 21 << 3, 0x09, 0x00, 0x00, '#'})
	_, err := capture.Open(path)
	if err == nil || !strings.Contains(err.Error(), "unpacking asks for a window of more than 128 MiB: pack it anew with zstd --long=27 or less") {
		t.Errorf("error %v", err)
	}
}

func TestEmpty(t *testing.T) {
	for name, data := range map[string][]byte{"empty": nil, "empty gzip": packGzip(t, nil), "empty zstd": packZstd(t, nil)} {
		if name == "empty zstd" && len(data) == 0 {
			data = []byte{0x28, 0xB5, 0x2F, 0xFD, 0x20, 0x00, 0x01, 0x00, 0x00} // of zero bytes, written by hand
		}
		frames, notes, err := read(t, write(t, data))
		if len(frames)+len(notes) > 0 || err != nil {
			t.Errorf("%s: %d frames, notes %q, error %v, want nothing", name, len(frames), notes, err)
		}
	}
}

func TestRefused(t *testing.T) {
	const expected = ": not a recording of a bus: expected candump -L text, pcapng or pcap, each also packed with gzip or zstd; it begins with "
	tests := []struct {
		name string
		data []byte
		want string
	}{
		{"program", append([]byte("\x7FELF\x02\x01\x01"), make([]byte, 3000)...), expected + "7F 45 4C 46 02 01 01 00"},
		{"picture", []byte("\x89PNG\r\n\x1A\n\x00\x00\x00\rIHDR"), expected + "89 50 4E 47 0D 0A 1A 0A"},
		{"packed twice", packGzip(t, packGzip(t, text(3))), expected + "1F 8B 08 00 00 00 00 00"},
		{"xz", []byte("\xFD7zXZ\x00\x00"), ": packed with xz, which is not read here; unpack it first"},
		{"zip", []byte("PK\x03\x04\x14\x00"), ": packed with zip, which is not read here; unpack it first"},
		{"UTF-16", []byte("\xFF\xFE(\x001\x00"), ": UTF-16 text; candump -L writes ASCII: convert it, for example with iconv -f UTF-16 -t ASCII"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			path := write(t, test.data)
			s, err := capture.Open(path)
			if err == nil {
				s.Close()
				t.Fatal("no error")
			}
			if got := strings.TrimPrefix(err.Error(), path); got != test.want {
				t.Errorf("error %q, want %q", got, test.want)
			}
		})
	}
	dir := t.TempDir()
	if _, err := capture.Open(dir); err == nil || err.Error() != dir+": a directory; name the recordings in it" {
		t.Errorf("directory: %v", err)
	}
	if _, err := capture.Open(dir + "/none.log"); !errors.Is(err, os.ErrNotExist) || !strings.Contains(err.Error(), "none.log") {
		t.Errorf("missing file: %v", err)
	}
}

func TestFraction(t *testing.T) {
	s, err := capture.Open(write(t, packGzip(t, text(200_000))))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	p := s.(capture.Progress)
	var b bus.Batch
	last, steps := 0.0, 0
	for s.Read(&b) == nil {
		done, known := p.Fraction()
		if !known || done < last || done > 1 {
			t.Fatalf("%v (%t) after %v", done, known, last)
		}
		if done > last {
			steps++
		}
		last = done
	}
	if steps < 10 || last != 1 {
		t.Errorf("%d steps, %v at the end", steps, last)
	}
}

func TestClose(t *testing.T) {
	s, err := capture.Open(write(t, text(100_000)))
	if err != nil {
		t.Fatal(err)
	}
	var b bus.Batch
	if err := s.Read(&b); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	for err == nil {
		err = s.Read(&b)
	}
	if !errors.Is(err, os.ErrClosed) {
		t.Errorf("Read after Close: %v, want %v", err, os.ErrClosed)
	}
	if err := s.Close(); err != nil {
		t.Errorf("second Close: %v", err)
	}
}

// TestStandardInput runs this test program anew, with a pipe or a file.
func TestStandardInput(t *testing.T) {
	const variable = "PLUMBLINE_TEST_STANDARD_INPUT"
	if mode := os.Getenv(variable); mode != "" {
		s, err := capture.Open("-")
		if err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		if mode == "close" { // one frame, then silence: Close has to end the Read
			var b bus.Batch
			fmt.Println(s.Read(&b), len(b.Frames))
			time.AfterFunc(50*time.Millisecond, func() { s.Close() })
			fmt.Println(errors.Is(s.Read(&b), os.ErrClosed))
			os.Exit(0)
		}
		frames, notes, err := everything(s)
		_, known := s.(capture.Progress).Fraction()
		fmt.Println(len(frames), len(notes), err, known, s.Names())
		os.Exit(0)
	}
	run := func(mode string, in io.Reader) string {
		cmd := exec.Command(os.Args[0], "-test.run=^TestStandardInput$")
		cmd.Env = append(os.Environ(), variable+"="+mode)
		cmd.Stdin = in
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Errorf("%v: %s", err, out)
		}
		return string(out)
	}
	if diff := cmp.Diff(run("read", bytes.NewReader(packGzip(t, text(1000)))), "1000 0 <nil> false [can0]\n"); diff != "" {
		t.Errorf("pipe (-got +want):\n%s", diff)
	}
	f, err := os.Open(write(t, recording(t, "can0.pcapng")))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if diff := cmp.Diff(run("read", f), "9 0 <nil> true [can0]\n"); diff != "" {
		t.Errorf("file (-got +want):\n%s", diff)
	}
	in, out, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	if _, err := out.Write(text(1)); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(run("close", in), "<nil> 1\ntrue\n"); diff != "" {
		t.Errorf("open pipe (-got +want):\n%s", diff)
	}
	out.Close()
}

// TestCutStreamOfSerial: a packed recording that was cut off between two of its blocks looks whole to who reads the blocks.
// That bytes of a serial port are missing is said, for another file may go on with them.
func TestCutStreamOfSerial(t *testing.T) {
	p := pcapng.AppendInterface(pcapng.AppendSection(nil, &pcapng.Section{}), pcapng.Serial, "optics")
	p = pcapng.AppendChunk(p, 0, 5, []byte("half of a pac"))
	packed := packGzip(t, p)
	for _, test := range []struct {
		name   string
		packed []byte
		told   int
	}{
		{"whole", packed, 0},
		{"cut off", packed[:len(packed)-5], 1}, // in the middle of its check sum
	} {
		s, err := capture.Open(write(t, test.packed))
		if err != nil {
			t.Fatal(err)
		}
		var b bus.Batch
		told, bytes := 0, 0
		for s.Read(&b) == nil {
			for _, n := range b.Notes {
				if n.Kind == bus.Loss && s.Names()[n.Source] == "optics" && n.Place == bus.Recorder && bytes > 0 {
					told++
				}
			}
			for _, c := range b.Chunks {
				bytes += len(c.Data)
			}
		}
		if told != test.told || bytes != 13 {
			t.Errorf("%s: %d bytes, told %d times that some are missing, want 13 and %d", test.name, bytes, told, test.told)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
}
