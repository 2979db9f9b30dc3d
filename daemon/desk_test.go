package daemon

import (
	"bytes"
	"context"
	"errors"
	"io"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/daemon/record"
)

// fed is a source that a test feeds batch by batch.
type fed struct {
	batches chan bus.Batch
	once    sync.Once
	closed  chan struct{}
}

func newFed() *fed { return &fed{batches: make(chan bus.Batch), closed: make(chan struct{})} }

func (f *fed) Names() []string { return []string{"can0"} }
func (f *fed) Close() error    { f.once.Do(func() { close(f.closed) }); return nil }

func (f *fed) Read(b *bus.Batch) error {
	b.Reset()
	select {
	case next, ok := <-f.batches:
		if !ok {
			return io.EOF
		}
		b.Frames = append(b.Frames, next.Frames...)
		b.Notes = append(b.Notes, next.Notes...)
		return nil
	case <-f.closed:
		return io.EOF
	case <-time.After(5 * time.Millisecond): // as a live source does: it comes back, so that wishes are met
		return nil
	}
}

func (f *fed) feed(t *testing.T, frames []bus.Frame, notes ...bus.Note) {
	t.Helper()
	for len(frames) > 0 {
		n := min(20, len(frames))
		select {
		case f.batches <- bus.Batch{Frames: frames[:n], Notes: notes}:
		case <-f.closed:
			t.Fatal("the source is closed")
		}
		frames, notes = frames[n:], nil
	}
}

// text is what a result finds, without where it came from.
func text(t *testing.T, r Result) string {
	t.Helper()
	r.Captures, r.Confirmations = nil, nil
	var b bytes.Buffer
	if err := Encode(&b, []Result{r}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// again judges parts of a recording as replay does.
func again(t *testing.T, b *Bench, parts []string) Result {
	t.Helper()
	results, err := b.Replay(t.Context(), []string{"parts"}, func(string) (bus.Source, error) { return record.Open(parts) })
	if err != nil {
		t.Fatal(err)
	}
	return results[0]
}

// TestDesk freezes a test twice and begins another: each time the parts say again what was frozen, to the byte.
func TestDesk(t *testing.T) {
	b, src := bench(t), newFed()
	recorder, err := record.New(record.Config{Dir: t.TempDir(), Sync: 5 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	var joined sync.WaitGroup
	joined.Go(func() { _ = recorder.Run(context.Background()) })
	judges := 0
	d := &Desk{Bench: b, File: "live", Recorder: recorder, Begin: func(*Judge) { judges++ }}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- d.Run(ctx, src) }()
	frozen := func(words string) *Frozen {
		t.Helper()
		f, err := d.Freeze(t.Context(), words)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(text(t, again(t, b, f.Parts)), text(t, f.Result)); diff != "" {
			t.Errorf("%s: replay of %q before what was frozen:\n%s", words, f.Parts, diff)
		}
		return f
	}
	frames := wheel(3000)
	link := bus.Note{At: start, Kind: bus.LinkChanged, Link: bus.ErrorActive, BitRate: 500_000, Text: "frames arrive"}
	src.feed(t, frames[:1000], link)
	one := frozen("one")
	src.feed(t, frames[1000:2000])
	two := frozen("two")
	if one.Result.Captures[0].Frames != 1000 || two.Result.Captures[0].Frames != 2000 || len(two.Parts) <= len(one.Parts) {
		t.Errorf("frozen at %d and %d frames, want 1000 and 2000", one.Result.Captures[0].Frames, two.Result.Captures[0].Frames)
	}
	if err := d.Afresh(t.Context()); err != nil {
		t.Fatal(err)
	}
	src.feed(t, frames[2000:])
	three := frozen("three")
	if c := three.Result.Captures[0]; c.Frames != 1000 || int64(c.First) != frames[2000].At || judges != 2 {
		t.Errorf("the new test has %d frames from %v, %d judges, want 1000 from %v and 2", c.Frames, c.First, judges, Instant(frames[2000].At))
	}
	if len(three.Parts) != 1 || filepath.Base(three.Parts[0]) == filepath.Base(two.Parts[0]) {
		t.Errorf("the new test is recorded into %q, want another session than %q", three.Parts, two.Parts)
	}
	if got := marksOf(t, three.Parts); strings.Join(got, "; ") != "new test; link frames arrive; sign-off three" {
		t.Errorf("the recording of the new test tells %q, want the mark, the link as it is, and the sign-off", got)
	}
	cancel()
	if err := <-ended; !errors.Is(err, context.Canceled) {
		t.Errorf("Run: %v, want canceled", err)
	}
	if _, err := d.Freeze(t.Context(), ""); err == nil {
		t.Error("a test is frozen after the end")
	}
	recorder.Close()
	joined.Wait()
}

// marksOf lists marks and links of a recording.
func marksOf(t *testing.T, parts []string) (list []string) {
	t.Helper()
	src, err := record.Open(parts)
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	var b bus.Batch
	for {
		if err := src.Read(&b); errors.Is(err, io.EOF) {
			return list
		} else if err != nil {
			t.Fatal(err)
		}
		for _, n := range b.Notes {
			switch n.Kind {
			case bus.Mark:
				list = append(list, n.Text)
			case bus.LinkChanged:
				list = append(list, "link "+n.Text)
			case bus.Warning, bus.Loss, bus.Clock, bus.Garbage, bus.Tick, bus.Told, bus.BothClocks:
			}
		}
	}
}

// TestDeskRenews: where there is a source for each test, the desk outlives the end of one.
func TestDeskRenews(t *testing.T) {
	frames := wheel(500)
	source := func() (bus.Source, error) { return &memory{names: []string{"can0"}, frames: frames}, nil }
	ends := make(chan struct{}, 4)
	d := &Desk{Bench: bench(t), File: "demo", Renew: source, Ended: func() { ends <- struct{}{} }}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	first, _ := source()
	go func() { ended <- d.Run(ctx, first) }()
	for range 3 {
		<-ends
		f, err := d.Freeze(t.Context(), "")
		if err != nil || f.Result.Captures[0].Frames != 500 {
			t.Fatalf("%v, %+v, want 500 frames at the end of each test", err, f)
		}
		if err := d.Afresh(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	cancel()
	if err := <-ended; !errors.Is(err, context.Canceled) {
		t.Errorf("Run: %v, want canceled", err)
	}
}
