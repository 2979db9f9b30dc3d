package capture_test

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/bus/capture"
)

// FuzzOpen: whatever stands in a file, it is refused or read to an end, within the memory of a batch; and packed by
// either packer it says the same.
func FuzzOpen(f *testing.F) {
	log := text(5)
	for _, data := range [][]byte{
		nil, log, append([]byte("\xEF\xBB\xBF# mark: x\r\n"), log...), recording(f, "can0.pcapng"), recording(f, "can0-nano.pcap"),
		packGzip(f, log), packZstd(f, log), append(packGzip(f, log), make([]byte, 80)...), packZstd(f, log)[:40], append(packGzip(f, log[:50]), "rest"...),
		slices.Concat([]byte{0x5A, 0x2A, 0x4D, 0x18, 2, 0, 0, 0, 9, 9}, packZstd(f, log)), packGzip(f, packZstd(f, log)), []byte("BZh91AY"), make([]byte, 100), []byte("\xFF\xFE("),
	} {
		f.Add(data)
	}
	path := filepath.Join(f.TempDir(), "recording")
	// heard reads data as a file; known is false where it is too much to wait for.
	heard := func(t *testing.T, data []byte) (frames []bus.Frame, notes []bus.Note, err error, known bool) {
		t.Helper()
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := capture.Open(path)
		if err != nil {
			return nil, nil, err, true
		}
		defer s.Close()
		var b bus.Batch
		for range 100 { // a bomb has more
			if err = s.Read(&b); errors.Is(err, io.EOF) {
				if len(b.Frames)+len(b.Notes) > 0 {
					t.Error("the end comes with a batch that is not empty")
				}
				return frames, notes, nil, true
			}
			if done, ok := s.(capture.Progress).Fraction(); !ok || done < 0 || done > 1 {
				t.Errorf("read %v of it, %t", done, ok)
			}
			if err != nil {
				return frames, notes, err, true
			}
			if len(b.Frames)+len(b.Notes) == 0 || len(b.Frames) > bus.BatchSize {
				t.Fatalf("a batch of %d frames and %d notes", len(b.Frames), len(b.Notes))
			}
			frames, notes = append(frames, b.Frames...), append(notes, b.Notes...)
		}
		return frames, notes, nil, false
	}
	packed := [][]byte{{0x1F, 0x8B}, {0x28, 0xB5, 0x2F, 0xFD}, {0xFD, '7', 'z', 'X', 'Z', 0}, []byte("BZh"), {0x04, 0x22, 0x4D, 0x18}, []byte("PK\x03\x04")}
	f.Fuzz(func(t *testing.T, data []byte) {
		frames, notes, err, known := heard(t, data)
		if err != nil && !strings.Contains(err.Error(), path) {
			t.Errorf("%v: does not name the file", err)
		}
		if !known || slices.ContainsFunc(packed, func(magic []byte) bool { return strings.HasPrefix(string(data), string(magic)) }) ||
			len(data) > 3 && string(data[1:4]) == "\x2A\x4D\x18" { // packed twice is not read
			return
		}
		for name, pack := range map[string]func(testing.TB, []byte) []byte{"gzip": packGzip, "zstd": packZstd} {
			f2, n2, err2, _ := heard(t, pack(t, data))
			if (err == nil) != (err2 == nil) || !slices.Equal(frames, f2) || !slices.Equal(notes, n2) {
				t.Errorf("plain: %v, %s: %v; packed before plain:\n%s%s", err, name, err2, cmp.Diff(f2, frames), cmp.Diff(n2, notes))
			}
		}
	})
}
