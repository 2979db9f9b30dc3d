package record

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/bus/pcapng"
)

// start returns a recorder that runs, and a function that ends it.
func start(tb testing.TB, cfg Config) (*Recorder, func() *Stats) {
	tb.Helper()
	r, err := New(cfg)
	if err != nil {
		tb.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- r.Run(context.Background()) }()
	return r, func() *Stats {
		tb.Helper()
		for !r.running.Load() {
			time.Sleep(time.Millisecond)
		}
		r.Close()
		if err := <-done; err != nil {
			tb.Errorf("Run: %v", err)
		}
		return r.Stats()
	}
}

// everything is a batch with every kind of frame, note and chunk, and what of
// it is to be read back, in its order.
func everything() (*bus.Batch, []string) {
	b := &bus.Batch{}
	var want []string
	frame := func(f bus.Frame) {
		f.At = epoch + int64(len(b.Frames))
		b.Frames = append(b.Frames, f)
		if f.Source != 2 {
			want = append(want, fmt.Sprintf("%+v", f))
		}
	}
	note := func(n bus.Note) {
		n.Before, n.At = len(b.Frames), epoch+int64(len(b.Frames))
		b.Notes = append(b.Notes, n)
		n.Before = 0
		if n.Source == 2 && (n.Kind != bus.LinkChanged || n.Link != bus.Absent) {
			return
		}
		want = append(want, fmt.Sprintf("%+v", n))
	}
	chunk := func(data string) {
		c := bus.Chunk{Before: len(b.Frames), At: epoch + int64(len(b.Frames)), Source: 2, Data: []byte(data)}
		b.Chunks = append(b.Chunks, c)
		c.Before = 0
		want = append(want, fmt.Sprintf("%+v", c))
	}
	long := [bus.MaxData]byte{}
	for i := range long {
		long[i] = byte(i)
	}
	note(bus.Note{Kind: bus.Mark, Text: "on the lift"})
	frame(bus.Frame{ID: 0x123, Len: 2, Data: [64]byte{1, 2}})
	frame(bus.Frame{ID: 0x18FF1021, Flags: bus.Extended | bus.Transmitted, Len: 8, Data: [64]byte{1, 2, 3, 4, 5, 6, 7, 8}})
	chunk("first bytes")
	frame(bus.Frame{ID: 1, Source: 2, Len: 1})
	frame(bus.Frame{ID: 0x201, Source: 1, Flags: bus.Remote, Len: 4})
	frame(bus.Frame{ID: 0x204, Flags: bus.Error, Len: 8, Data: [64]byte{0, 8, 0, 0, 0, 0, 96, 3}})
	note(bus.Note{Kind: bus.Garbage, Source: 2, Count: 3, Text: "told again by who cuts the bytes"})
	note(bus.Note{Kind: bus.Loss, Source: 2, Count: 1, Text: "told again by who cuts the bytes"})
	note(bus.Note{Kind: bus.LinkChanged, Source: 2, Link: bus.NoValidFrame, Text: "told again by who cuts the bytes"})
	note(bus.Note{Kind: bus.LinkChanged, Source: 2, Link: bus.Absent, Text: "unplugged"})
	for link := bus.LinkUnknown; link <= bus.NoValidFrame; link++ {
		note(bus.Note{Kind: bus.LinkChanged, Source: 1, Link: link, Text: fmt.Sprint("link ", link)})
	}
	chunk("half")
	frame(bus.Frame{ID: 0x301, Flags: bus.FD | bus.BitRateSwitch | bus.ErrorState, Len: 64, Data: long})
	chunk(" and half")
	frame(bus.Frame{ID: 2, Source: 2, Len: 1})
	frame(bus.Frame{ID: 0x302, Source: 1, Flags: bus.FD, Len: 12, Data: [64]byte{0: 9}})
	for place := bus.Somewhere; place <= bus.Recorder; place++ {
		note(bus.Note{Kind: bus.Loss, Source: 1, Count: 1 + uint64(place), Place: place, Text: "lost"})
	}
	note(bus.Note{Kind: bus.Garbage, Source: 0, Count: 4, Text: "of a source without chunks"})
	note(bus.Note{Kind: bus.Clock, Step: -5_000_000_000, Text: "the clock was set back by 5 s"})
	note(bus.Note{Kind: bus.Tick})
	note(bus.Note{Kind: bus.BothClocks, Monotonic: 123_456_789_012})
	note(bus.Note{Kind: bus.Warning, Text: "a warning"})
	note(bus.Note{Kind: bus.Mark, Text: "down, and no frame follows"})
	return b, want
}

// TestRoundTrip: all that was heard comes back in its order, through parts of
// any size.
func TestRoundTrip(t *testing.T) {
	for _, test := range []struct {
		name  string
		cfg   Config
		parts int
	}{
		{"plain", Config{Serial: []string{"optics"}}, 1},
		{"serial port not named", Config{}, 1},
		{"packed", Config{Zstd: true}, 1},
		{"many parts", Config{PartBytes: 1}, 3},
		{"many packed parts", Config{PartBytes: 1, Zstd: true}, 3},
	} {
		t.Run(test.name, func(t *testing.T) {
			test.cfg.Dir = filepath.Join(t.TempDir(), "rec")
			test.cfg.Sync = 5 * time.Millisecond
			r, end := start(t, test.cfg)
			var want []string
			for part := range 3 {
				b, story := everything()
				r.Write(b, names)
				want = append(want, story...)
				for r.Stats().Frames != uint64((part+1)*len(b.Frames)) {
					time.Sleep(time.Millisecond)
				}
			}
			stats := end()
			p := &playback{tells: true}
			p.play(t, test.cfg.Dir)
			if diff := cmp.Diff(p.story, want); diff != "" {
				t.Errorf("story (-got +want):\n%s", diff)
			}
			if diff := cmp.Diff(p.names, names); diff != "" {
				t.Errorf("names (-got +want):\n%s", diff)
			}
			if stats.Parts != test.parts || stats.State != Closed || stats.Why != "" {
				t.Errorf("stats %+v, want %d parts and closed", stats, test.parts)
			}
			var size int64
			parts, err := Parts(test.cfg.Dir)
			if err != nil || len(parts) != test.parts {
				t.Errorf("parts %q, error %v, want %d", parts, err, test.parts)
			}
			for _, path := range parts {
				info, err := os.Stat(path)
				if err != nil || info.Mode() != 0o640 {
					t.Errorf("%s: mode %v, error %v, want 0640", path, info.Mode(), err)
				}
				size += info.Size()
			}
			if stats.Bytes != size {
				t.Errorf("%d bytes, there are %d", stats.Bytes, size)
			}
			if info, err := os.Stat(test.cfg.Dir); err != nil || info.Mode() != fs.ModeDir|0o750 {
				t.Errorf("folder: mode %v, error %v, want 0750", info.Mode(), err)
			}
			for _, b := range stats.Sources {
				// "lost" at each place was told three times, for body
				for place, n := range b.Lost {
					want := uint64(0)
					if b.Source == "body" && place != int(bus.Recorder) {
						want = 3 * (1 + uint64(place))
					}
					if b.Source == "optics" && place == 0 {
						want = 3
					}
					if n != want {
						t.Errorf("%s: %d lost at %d, want %d", b.Source, n, place, want)
					}
				}
			}
		})
	}
}

// TestOthersRead: tshark reads a part, while it is written and afterwards, and
// zstd unpacks a packed one.
func TestOthersRead(t *testing.T) {
	for _, tool := range []string{"tshark", "zstd"} {
		if _, err := exec.LookPath(tool); err != nil {
			if os.Getenv("CI") == "true" {
				t.Fatalf("%s is missing: apt install %[1]s", tool)
			}
			t.Skipf("%s is missing: apt install %[1]s", tool)
		}
	}
	for _, packed := range []bool{false, true} {
		dir := t.TempDir()
		r, end := start(t, Config{Dir: dir, Zstd: packed, Sync: 5 * time.Millisecond, Program: "plumbline test", Setup: "van.yaml", SHA256: "abcd"})
		b, _ := everything()
		r.Write(b, names)
		for r.Stats().Frames == 0 {
			time.Sleep(time.Millisecond)
		}
		for _, moment := range []string{"while it is written", "when it has ended"} {
			path := r.Stats().Part
			if moment == "when it has ended" {
				end()
				parts, err := Parts(dir)
				if err != nil || len(parts) != 1 {
					t.Fatal(parts, err)
				}
				path = parts[0]
			}
			if packed {
				plain := filepath.Join(t.TempDir(), "plain.pcapng")
				if out, err := exec.Command("zstd", "-q", "-d", path, "-o", plain).CombinedOutput(); err != nil {
					t.Fatalf("%s: %v: %s", moment, err, out)
				}
				path = plain
			}
			cmd := exec.Command("tshark", "-r", path, "-T", "fields", "-e", "frame.interface_name", "-e", "can.id", "-e", "can.len", "-e", "frame.comment")
			var complaint bytes.Buffer
			cmd.Stderr = &complaint
			out, err := cmd.Output()
			if err != nil || strings.Contains(complaint.String(), "cut short") {
				t.Fatalf("%s: %v: %s", moment, err, complaint.String())
			}
			for _, line := range []string{
				"wheels\t291\t2\t", "wheels\t419368993\t8\t", "body\t513\t4\t", "wheels\t769\t64\t", "body\t770\t12\t",
				"plumbline\t\t\ton the lift", "plumbline\t\t\tlink 3", "plumbline\t\t\tthe clock was set back by 5 s",
				"plumbline\t\t\tdown, and no frame follows", "optics\t\t\t",
			} {
				if !slices.Contains(strings.Split(string(out), "\n"), line) {
					t.Errorf("%s: no line %q in\n%s", moment, line, out)
				}
			}
			about, err := exec.Command("capinfos", path).CombinedOutput()
			for _, text := range []string{"plumbline test", "setup van.yaml", "sha256 abcd", "source optics"} {
				if err != nil || !strings.Contains(string(about), text) {
					t.Errorf("%s: capinfos: %v, no %q in\n%s", moment, err, text, about)
				}
			}
		}
	}
}

// TestSectionHeader: each part says which it is, and by what setup.
func TestSectionHeader(t *testing.T) {
	d := newFake()
	synctest.Test(t, func(t *testing.T) {
		r, end := start(t, Config{Dir: "rec", Name: "van 7", Program: "p 1", Setup: "s.yaml", SHA256: "12", PartTime: time.Second, disk: d.disk()})
		for k := range 3 {
			r.Write(batch(10*k, 10), names)
			time.Sleep(2 * time.Second)
		}
		end()
	})
	dir := d.dump(t, false, nil)
	parts, err := Parts(dir)
	if err != nil || len(parts) != 3 {
		t.Fatal(parts, err)
	}
	for k, path := range parts {
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		src := pcapng.NewReader(path, f)
		var b bus.Batch
		if err := src.Read(&b); err != nil {
			t.Fatal(err)
		}
		got, ok := src.Section()
		want := pcapng.Section{Program: "p 1", Session: "van 7-20000101T000000Z", Part: k + 1, Setup: "s.yaml", SHA256: "12", Sources: names}
		if diff := cmp.Diff(got, want); diff != "" || !ok {
			t.Errorf("%s: known %t (-got +want):\n%s", path, ok, diff)
		}
		if want := fmt.Sprintf("van 7-20000101T000000Z-%06d.pcapng", k+1); filepath.Base(path) != want {
			t.Errorf("%s, want %s", path, want)
		}
		if diff := cmp.Diff(src.Names(), names); diff != "" {
			t.Errorf("%s: names (-got +want):\n%s", path, diff)
		}
		src.Close()
	}
}

// TestOverflow: a disk that is too slow costs frames, at a place that is told,
// and no marks.
func TestOverflow(t *testing.T) {
	d := newFake()
	const each = 1000
	var stats *Stats
	heard := 0
	synctest.Test(t, func(t *testing.T) {
		d.slow = 3 * time.Second
		d.stall = func(n int) time.Duration {
			if n > 3 && n < 10 {
				return 2 * time.Second
			}
			return 0
		}
		r, end := start(t, Config{Dir: "rec", Queue: 4 * segmentSize, disk: d.disk()})
		for k := range 200 {
			b := batch(heard, each)
			heard += each
			if k%10 == 5 {
				b.Notes = []bus.Note{{Before: each / 2, Kind: bus.Mark, Text: fmt.Sprint("mark ", k)}}
			}
			before := time.Now()
			r.Write(b, names)
			if took := time.Since(before); took > 0 {
				t.Errorf("Write took %v", took)
			}
			time.Sleep(100 * time.Millisecond)
		}
		stats = end()
	})
	p := play(t, d.dump(t, false, nil))
	p.rising(t)
	closes(t, stats, p, heard)
	if stats.Lost == 0 || stats.Frames == 0 {
		t.Fatalf("lost %d and written %d, want some of both", stats.Lost, stats.Frames)
	}
	if got := p.lost(bus.Recorder); got != stats.Lost {
		t.Errorf("%d frames told as lost, %d were", got, stats.Lost)
	}
	if uint64(len(p.frames))+stats.Lost != uint64(heard) {
		t.Errorf("%d frames read back, %d lost, %d heard", len(p.frames), stats.Lost, heard)
	}
	if marks := p.kinds(bus.Mark); len(marks) != 20 {
		t.Errorf("%d marks, want 20", len(marks))
	}
	// a loss stands where the frames are missing: of each source, before the first that follows
	for _, n := range p.kinds(bus.Loss) {
		want := "frames of " + names[n.Source] + " heard but not recorded: the disk did not keep up and the queue to it was full"
		if !strings.HasSuffix(n.Text, want) {
			t.Errorf("text %q, want … %q", n.Text, want)
		}
		if n.Before == len(p.frames) {
			continue // that at the end
		}
		gap := p.frames[n.Before].At - p.frames[n.Before-1].At
		if missing := uint64(gap/125_000) - 1; missing < n.Count {
			t.Errorf("%d frames missing where %d are told", missing, n.Count)
		}
	}
}

// TestWriteAfterClose: what comes late is counted.
func TestWriteAfterClose(t *testing.T) {
	dir := t.TempDir()
	r, end := start(t, Config{Dir: dir})
	r.Write(batch(0, 10), names)
	end()
	r.Write(batch(10, 5), names)
	if got := r.queue.snapshot()[0]; got.Received != 8 || got.Written != 5 || got.Lost[bus.Recorder] != 3 {
		t.Errorf("%+v, want 8 received, 5 written, 3 lost", got)
	}
	if p := play(t, dir); len(p.frames) != 10 {
		t.Errorf("%d frames, want 10", len(p.frames))
	}
	never, err := New(Config{Dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	never.Close() // without Run
	if never.Stats().Session == r.Stats().Session {
		t.Error("two sessions of one name")
	}
}

func TestContext(t *testing.T) {
	dir := t.TempDir()
	r, err := New(Config{Dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	r.Write(batch(0, 10), names)
	cancel()
	if err := r.Run(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	r.Close()
	if p := play(t, dir); len(p.frames) != 10 {
		t.Errorf("%d frames, want the 10 that were in the queue", len(p.frames))
	}
}

func TestValidate(t *testing.T) {
	for _, test := range []struct {
		cfg  Config
		want string
	}{
		{Config{}, "record: no folder to record into"},
		{Config{Dir: "x", Name: "../x"}, `record: "../x" cannot begin the name of a file: expected at most 64 letters, digits, blanks and any of . _ -, a letter or digit first`},
		{Config{Dir: "x", Keep: 10, PartBytes: 6}, "record: parts of 6 bytes are too large to keep 10 bytes: expected at most half of it"},
		{Config{Dir: "x", Queue: -1}, "record: a size or time is negative"},
	} {
		_, err := New(test.cfg)
		if err == nil || err.Error() != test.want {
			t.Errorf("%+v: error %v, want %s", test.cfg, err, test.want)
		}
	}
}
