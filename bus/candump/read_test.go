package candump

import (
	"errors"
	"io"
	"strings"
	"testing"

	"plumbline/bus"
)

// result is all that a Reader delivered, with Note.Before counted from the
// first frame of the log.
type result struct {
	Frames []bus.Frame
	Notes  []bus.Note
	Names  []string
}

// teller is a testing.TB, or what checks a property.
type teller interface {
	Helper()
	Errorf(format string, args ...any)
	Fatal(args ...any)
}

// readAll reads to the end, in batches of the given capacity, and checks what the
// contract of bus.Source asks of each batch.
func readAll(tb teller, r *Reader, batch int) (result, error) {
	tb.Helper()
	var got result
	b := bus.Batch{Frames: make([]bus.Frame, 0, batch)}
	for {
		err := r.Read(&b)
		if err != nil {
			if len(b.Frames)+len(b.Notes) > 0 {
				tb.Errorf("batch with error %v: got %d frames, %d notes, want none", err, len(b.Frames), len(b.Notes))
			}
			got.Names = r.Names()
			if errors.Is(err, io.EOF) {
				err = nil
			}
			return got, err
		}
		if len(b.Frames)+len(b.Notes) == 0 {
			tb.Fatal("batch without error: got nothing in it")
		}
		if cap(b.Frames) != batch && batch > 0 {
			tb.Errorf("capacity: got %d, want %d as given", cap(b.Frames), batch)
		}
		for _, n := range b.Notes {
			if n.Before < 0 || n.Before > len(b.Frames) {
				tb.Errorf("note before frame %d in a batch of %d", n.Before, len(b.Frames))
			}
			n.Before += len(got.Frames)
			got.Notes = append(got.Notes, n)
		}
		got.Frames = append(got.Frames, b.Frames...)
	}
}

// read reads a whole text that must end without an error.
func read(tb testing.TB, text string) result {
	tb.Helper()
	got, err := readAll(tb, NewReader("t.log", strings.NewReader(text)), bus.BatchSize)
	if err != nil {
		tb.Fatalf("read: %v", err)
	}
	return got
}

// data pads the bytes of a frame.
func data(s string) (d [bus.MaxData]byte) {
	copy(d[:], s)
	return d
}
