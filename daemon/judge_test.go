package daemon

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/checks"
)

// judged runs a judge over src and returns its result.
func judged(t *testing.T, b *Bench, src bus.Source) (Result, error) {
	t.Helper()
	j := b.Judge("capture.log")
	err := j.Run(t.Context(), src)
	return j.Result(), err
}

// TestRunBatches: how frames are cut into batches changes nothing.
func TestRunBatches(t *testing.T) {
	b := bench(t)
	notes := []bus.Note{{Before: 3, Kind: bus.Mark, Text: "turn FL"}, {Before: 1000, Kind: bus.Loss, Count: 7}, {Before: 3000, Kind: bus.Warning, Text: "cut"}}
	var want bytes.Buffer
	for _, size := range []int{0, 1, 7, bus.BatchSize} {
		r, err := judged(t, b, &memory{names: []string{"can0"}, frames: wheel(3000), notes: notes, size: size})
		if err != nil {
			t.Fatal(err)
		}
		var got bytes.Buffer
		if err := Encode(&got, []Result{r}); err != nil {
			t.Fatal(err)
		}
		if want.Len() == 0 {
			want = got
			continue
		}
		if diff := cmp.Diff(got.String(), want.String()); diff != "" {
			t.Errorf("batches of %d, got before want:\n%s", size, diff)
		}
	}
}

// TestRunReachesTheChecks: samples, silence and the setup's numbering arrive.
func TestRunReachesTheChecks(t *testing.T) {
	find := func(r Result, check string) Finding {
		for _, f := range r.Findings {
			if f.Check == check && f.Subject == "FL" {
				return f
			}
		}
		t.Fatalf("no finding %s of FL in %v", check, r.Findings)
		return Finding{}
	}
	b := bench(t)
	frames := wheel(3000)
	r, err := judged(t, b, &memory{names: []string{"can7", "can0"}, frames: renumber(frames, 1)})
	if err != nil {
		t.Fatal(err)
	}
	if got := find(r, "alive"); got.Verdict != checks.Pass {
		t.Errorf("steady wheel: got %s: %s", got.Verdict, got.Sentence)
	}
	silent := append(wheel(1500), bus.Frame{At: start + 40e9, ID: 0x7ff})
	r, err = judged(t, b, &memory{names: []string{"can0"}, frames: silent})
	if err != nil {
		t.Fatal(err)
	}
	if got := find(r, "alive"); got.Verdict != checks.Fail {
		t.Errorf("wheel silent for 25 s: got %s: %s", got.Verdict, got.Sentence)
	}
}

func renumber(frames []bus.Frame, source uint16) []bus.Frame {
	for i := range frames {
		frames[i].Source = source
	}
	return frames
}

func TestRunWarnings(t *testing.T) {
	many := make([]bus.Note, 50)
	for i := range many {
		many[i] = bus.Note{Kind: bus.Warning, Text: "a line is broken"}
	}
	tests := []struct {
		name     string
		src      *memory
		last     string // of the warnings
		count    int
		unusable bool
	}{
		{"none", &memory{names: []string{"can0"}, frames: wheel(10)}, "", 0, false},
		{"bounded", &memory{names: []string{"can0"}, frames: wheel(10), notes: many}, "capture.log: 30 more warnings", bus.MaxWarnings + 1, false},
		{"no frame", &memory{}, "capture.log holds no frame: expected a recording of the running amplifier", 1, true},
		{"read error", &memory{names: []string{"can0"}, frames: wheel(10), err: errors.New("disk gone")}, "capture.log: reading ended after 10 frames: disk gone", 1, true},
		{"left out", &memory{names: []string{"can0", "can9"}, frames: append(wheel(10), bus.Frame{At: start, Source: 1})}, "capture.log: 1 frame of can9, which no source of the setup names, left out", 2, false},
		{"a source without a name", &memory{names: []string{"can0"}, frames: renumber(wheel(3), 5)}, "capture.log: none of its frames is of an interface that the setup names", 1, true},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			r, _ := judged(t, bench(t), test.src)
			warnings := r.Captures[0].Warnings
			last := ""
			if len(warnings) > 0 {
				last = warnings[len(warnings)-1]
			}
			if last != test.last {
				t.Errorf("last warning: got %q, want %q", last, test.last)
			}
			if len(warnings) != test.count {
				t.Errorf("got %d warnings, want %d: %q", len(warnings), test.count, warnings)
			}
			if r.Unusable() != test.unusable {
				t.Errorf("unusable: got %v, want %v", r.Unusable(), test.unusable)
			}
			if r.Unusable() && r.Verdict == checks.Pass {
				t.Error("unusable and passed")
			}
			if !test.src.closed.Load() {
				t.Error("the source was not closed")
			}
		})
	}
}

// TestRunCancel: a source that blocks is closed, and the reader joined (goleak).
func TestRunCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	src := &memory{names: []string{"can0"}, frames: wheel(100), block: make(chan struct{})}
	j := bench(t).Judge("capture.log")
	j.Grid = func(int64) { cancel() }
	if err := j.Run(ctx, src); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want %v", err, context.Canceled)
	}
	if !src.closed.Load() {
		t.Error("the source was not closed")
	}
}

// TestBatchAllocatesNothing guards the path that every frame takes.
func TestBatchAllocatesNothing(t *testing.T) {
	j := bench(t).Judge("capture.log")
	frames := wheel(20 * bus.BatchSize)
	d := &delivered{batch: bus.Batch{Frames: make([]bus.Frame, bus.BatchSize)}, names: []string{"can0"}}
	decoder := newDecoder(j.bench, "capture.log", false)
	next := 0
	step := func() {
		copy(d.batch.Frames, frames[next:next+bus.BatchSize])
		next = (next + bus.BatchSize) % len(frames)
		if next == 0 { // event time goes on
			for i := range frames {
				frames[i].At += int64(len(frames)) * 10_000_000
			}
		}
		decoder.decode(d)
		if err := j.batch(d); err != nil {
			t.Fatal(err)
		}
	}
	for range 40 {
		step() // accumulators grow to their size
	}
	// A turn of the wheel that is kept may allocate, and a check that is judged anew once in a while; a frame may not.
	if got := testing.AllocsPerRun(200, step); got > bus.BatchSize/4 {
		t.Errorf("got %.1f allocations per batch of %d frames, want 0", got, bus.BatchSize)
	}
}

func TestNewBenchFaults(t *testing.T) {
	s := *bench(t).setup
	s.Bindings = append(s.Bindings, s.Bindings[0])
	s.Bindings[len(s.Bindings)-1].Signal = 99
	_, err := NewBench(&s, "")
	if err == nil || !strings.Contains(err.Error(), "wheels.yaml: ") {
		t.Errorf("got %v, want the fault of the binding with the file", err)
	}
}

func BenchmarkJudge(b *testing.B) {
	j := bench(b).Judge("capture.log")
	frames := wheel(bus.BatchSize)
	d := &delivered{batch: bus.Batch{Frames: make([]bus.Frame, bus.BatchSize)}, names: []string{"can0"}}
	decoder := newDecoder(j.bench, "capture.log", false)
	b.ReportAllocs()
	for b.Loop() {
		copy(d.batch.Frames, frames)
		for i := range frames {
			frames[i].At += int64(len(frames)) * 10_000_000
		}
		decoder.decode(d)
		if err := j.batch(d); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)*bus.BatchSize/b.Elapsed().Seconds()/1e6, "Mframes/s")
}
