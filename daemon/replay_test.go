package daemon

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/checks"
)

func TestReplay(t *testing.T) {
	open := func(name string) (bus.Source, error) {
		switch name {
		case "gone.log":
			return nil, errors.New("gone.log: no such file")
		case "empty.log":
			return &memory{}, nil
		case "other.log":
			return &memory{names: []string{"vcan0"}, frames: wheel(500)}, nil
		case "two.log", "-": // the second interface shows late
			return &memory{names: []string{"vcan0", "can0"}, frames: append(wheel(500), renumber(wheel(500), 1)...), grow: true}, nil
		}
		return &memory{names: []string{"can0"}, frames: wheel(500)}, nil
	}
	var names []string
	for i := range 20 {
		names = append(names, fmt.Sprintf("%d.log", i))
	}
	names = append(names, "gone.log", "empty.log", "other.log", "two.log", "-")
	results, err := bench(t).Replay(t.Context(), names, open)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, r := range results {
		c := r.Captures[0]
		line := fmt.Sprintf("%s %d", c.File, c.Frames)
		if c.Unusable != "" {
			line += " unusable"
		}
		if r.Verdict == checks.Pass && c.Unusable != "" {
			line += " but passed"
		}
		got = append(got, strings.Join(append([]string{line}, c.Warnings...), "; "))
	}
	var want []string
	for i := range 20 {
		want = append(want, fmt.Sprintf("%d.log 500", i))
	}
	want = append(
		want,
		"gone.log 0 unusable; gone.log: no such file",
		"empty.log 0 unusable; empty.log holds no frame: expected a recording of the running amplifier",
		"other.log 500; other.log speaks of vcan0, the setup of can0: taken as wheels; write match: vcan0",
		"two.log 1000; two.log: time stamps step back by 4.990 s at frame 501 (2023-11-14T22:13:20.000000000Z): what was being measured there began anew; two.log: 500 frames of vcan0, which no source of the setup names, left out",
	)
	last := len(got) - 1
	if !strings.HasPrefix(got[last], "- ") || !strings.Contains(got[last], "unusable") || !strings.Contains(got[last], "-: it holds several interfaces: write match: under the source that one of them is") {
		t.Errorf("standard input with a late interface: got %q", got[last])
	}
	if diff := cmp.Diff(got[:last], want); diff != "" {
		t.Errorf("got before want:\n%s", diff)
	}
}

func TestReplayCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	open := func(string) (bus.Source, error) {
		cancel()
		return &memory{names: []string{"can0"}, frames: wheel(10), block: make(chan struct{})}, nil
	}
	if _, err := bench(t).Replay(ctx, []string{"a", "b", "c"}, open); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want %v", err, context.Canceled)
	}
}

func TestExitCode(t *testing.T) {
	of := func(v checks.Verdict) Result { return Result{Verdict: v} }
	unusable := Result{Verdict: checks.Pass, Captures: []Capture{{Unusable: "cut"}}}
	tests := []struct {
		name    string
		results []Result
		want    int
	}{
		{"nothing", nil, 3},
		{"pass", []Result{of(checks.Pass), of(checks.Pass)}, 0},
		{"fail", []Result{of(checks.Pass), of(checks.Fail)}, 1},
		{"inconclusive", []Result{of(checks.Pass), of(checks.Inconclusive)}, 3},
		{"fail outweighs inconclusive", []Result{of(checks.Inconclusive), of(checks.Fail)}, 1},
		{"absent is no pass", []Result{of(checks.Absent)}, 3},
		{"unusable is no pass", []Result{unusable}, 3},
		{"fail outweighs unusable", []Result{unusable, of(checks.Fail)}, 1},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if got := ExitCode(test.results); got != test.want {
				t.Errorf("got %d, want %d", got, test.want)
			}
		})
	}
}

// TestReplayTwice: the same input gives the same bytes.
func TestReplayTwice(t *testing.T) {
	var texts [2]bytes.Buffer
	for i := range texts {
		results, err := bench(t).Replay(t.Context(), []string{"a.log", "b.log"}, func(string) (bus.Source, error) {
			return &memory{names: []string{"can0"}, frames: wheel(5000), size: 1 + 100*i}, nil
		})
		if err != nil {
			t.Fatal(err)
		}
		if err := Encode(&texts[i], results); err != nil {
			t.Fatal(err)
		}
	}
	if diff := cmp.Diff(texts[0].String(), texts[1].String()); diff != "" {
		t.Errorf("first before second:\n%s", diff)
	}
}

// broken is a source with a fault of the program in it.
type broken struct{ memory }

func (*broken) Read(*bus.Batch) error { panic("index out of range") }

// TestReplayPanic: a panic in any goroutine arrives at the caller, once all are joined.
func TestReplayPanic(t *testing.T) {
	defer func() {
		err, ok := recover().(error)
		if !ok || !strings.HasPrefix(err.Error(), "index out of range\n") || !strings.Contains(err.Error(), "replay_test.go") {
			t.Errorf("got %v, want the panic with its stack", err)
		}
	}()
	_, err := bench(t).Replay(t.Context(), []string{"a", "b", "c"}, func(name string) (bus.Source, error) {
		if name == "b" {
			return &broken{}, nil
		}
		return &memory{names: []string{"can0"}, frames: wheel(5000)}, nil
	})
	t.Errorf("no panic, error %v", err)
}
