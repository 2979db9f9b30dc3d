package daemon

import (
	"bytes"
	"errors"
	"io"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/bus/candump"
)

func TestPaced(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		src := Paced(&memory{names: []string{"can0"}, frames: wheel(1001), size: 10}, 20)
		var b bus.Batch
		for {
			if err := src.Read(&b); err != nil {
				break
			}
		}
		// the first batch ends at 0.09 s, the last frame is at 10 s: 9.91 s at 20 times
		if got, want := time.Since(began), 495500*time.Microsecond; got != want {
			t.Errorf("took %v, want %v", got, want)
		}
	})
}

func TestPacedClose(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		src := Paced(&memory{names: []string{"can0"}, frames: wheel(1000), size: 10}, 1e-6)
		done := make(chan error)
		go func() {
			var b bus.Batch
			_ = src.Read(&b)
			done <- src.Read(&b)
		}()
		synctest.Wait()
		if err := errors.Join(src.Close(), src.Close()); err != nil {
			t.Fatal(err)
		}
		if err := <-done; err != nil {
			t.Errorf("got %v, want what was read", err)
		}
	})
}

func TestPacedNot(t *testing.T) {
	src := &memory{}
	if got := Paced(src, 0); got != bus.Source(src) {
		t.Errorf("got %T, want the source itself", got)
	}
}

// TestRecorded: what was recorded reads back as what was heard.
func TestRecorded(t *testing.T) {
	var file bytes.Buffer
	w := candump.NewWriter(&file, nil)
	frames := wheel(600)
	src := Recorded(&memory{
		names: []string{"can0"}, frames: frames,
		notes: []bus.Note{{Before: 300, Kind: bus.Mark, Text: "turn FL"}, {Before: 600, Kind: bus.Warning, Text: "not recorded"}},
	}, w)
	heard, heardNotes := everything(t, src)
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	read, notes := everything(t, candump.NewReader("recording", &file))
	if diff := cmp.Diff(read, heard); diff != "" {
		t.Errorf("frames, got before want:\n%s", diff)
	}
	if len(heardNotes) != 2 || len(notes) != 1 || notes[0].Text != "turn FL" || notes[0].Kind != bus.Mark || notes[0].Before != 300 {
		t.Errorf("got notes %v of %v", notes, heardNotes)
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left") }

// TestRecordedFull: a full disk ends the run with its reason.
func TestRecordedFull(t *testing.T) {
	src := Recorded(&memory{names: []string{"can0"}, frames: wheel(5000)}, candump.NewWriter(full{}, nil))
	var b bus.Batch
	var err error
	for err == nil {
		err = src.Read(&b)
	}
	if got, want := err.Error(), "recording: write candump log: no space left"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// everything reads a source to its end; Before counts from the first frame.
func everything(t *testing.T, src bus.Source) (frames []bus.Frame, notes []bus.Note) {
	t.Helper()
	var b bus.Batch
	for {
		err := src.Read(&b)
		if errors.Is(err, io.EOF) {
			return frames, notes
		}
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range b.Notes {
			n.Before += len(frames)
			notes = append(notes, n)
		}
		frames = append(frames, b.Frames...)
	}
}
