package record

import (
	"encoding/binary"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
)

// seldom is a frame that carries its number; ten come in a second of event time.
func seldom(n int) bus.Frame {
	f := bus.Frame{At: epoch + int64(n)*100_000_000, ID: 0x100, Len: 8}
	binary.BigEndian.PutUint64(f.Data[:], uint64(n))
	return f
}

// recordSeldom records frames first to last and tells of failures at some of them.
func recordSeldom(t *testing.T, cfg Config, first, last int, failures ...int) (stats *Stats, most int64) {
	t.Helper()
	d := cfg.disk
	cfg.Dir = "rec"
	synctest.Test(t, func(t *testing.T) {
		r, end := start(t, cfg)
		for n := first; n <= last; n += 10 {
			b := &bus.Batch{}
			if n == first {
				b.Notes = []bus.Note{{At: seldom(n).At, Kind: bus.LinkChanged, Link: bus.ErrorActive, BitRate: 500_000, Text: "wheels is up"}}
			}
			for k := range 10 {
				b.Frames = append(b.Frames, seldom(n+k))
			}
			r.Write(b, []string{"wheels"})
			for _, f := range failures {
				if f >= n && f < n+10 {
					r.Tell(bus.Note{At: seldom(f).At, Count: 1, Text: "alive of FL fails"})
				}
			}
			time.Sleep(20 * time.Millisecond)
			if n%500 == 0 {
				time.Sleep(time.Second)
				synctest.Wait()
				most = max(most, folder(t, d))
			}
		}
		stats = end()
	})
	return stats, most
}

// folder is how many bytes are on a disk.
func folder(t *testing.T, d *disk) (n int64) {
	t.Helper()
	entries, err := d.list("rec")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		_, size, err := d.head(filepath.Join("rec", e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		n += size
	}
	return n
}

// numbers returns the numbers of the frames of a session.
func numbers(t *testing.T, s Session) (list []int, p *playback) {
	t.Helper()
	src, err := Open(s.Parts)
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	p = &playback{}
	p.read(t, src)
	for _, f := range p.frames {
		list = append(list, int(binary.BigEndian.Uint64(f.Data[:])))
	}
	return list, p
}

// TestCutouts: what is heard half a minute before and after a failure outlives the part it is in, whether the session
// runs still or is an older one, and no frame is in two sessions.
func TestCutouts(t *testing.T) {
	for _, test := range []struct {
		name  string
		zstd  bool
		older bool
		keep  int64
	}{{"this session", false, false, 800_000}, {"packed", true, false, 90_000}, {"an older session", false, true, 800_000}} {
		t.Run(test.name, func(t *testing.T) {
			d := newFake()
			// A failure within a part, two near each other, and one whose half a minute reaches into other parts.
			failures := []int{310, 1000, 1200, 4030, 6501}
			cfg := Config{Name: "van", Keep: test.keep, PartBytes: test.keep / 33, Zstd: test.zstd, disk: d.disk()}
			from, to := 0, 30_000
			if test.older {
				first := cfg
				first.Keep = 0
				recordSeldom(t, first, 0, 9_990, failures...)
				from, to, failures = 100_000, 130_000, nil
			}
			stats, most := recordSeldom(t, cfg, from, to, failures...)
			if most > test.keep {
				t.Errorf("%d bytes in the folder, want at most %d", most, test.keep)
			}
			dir := d.dump(t, false, nil)
			sessions, err := Sessions(dir)
			if err != nil {
				t.Fatal(err)
			}
			got, seen := map[string][]int{}, map[int]string{}
			for _, s := range sessions {
				list, p := numbers(t, s)
				for _, n := range list {
					if other, ok := seen[n]; ok {
						t.Fatalf("frame %d is in %s and in %s", n, other, s.Name)
					}
					seen[n] = s.Name
				}
				if !strings.Contains(s.Name, "-event-") {
					continue
				}
				got[s.Name] = []int{list[0], list[len(list)-1], len(list)}
				if links := p.kinds(bus.LinkChanged); len(links) == 0 && list[0] < 100 {
					t.Errorf("%s does not say what its link was", s.Name)
				}
			}
			var spans [][]int
			for _, span := range got {
				spans = append(spans, span)
			}
			slices.SortFunc(spans, func(a, b []int) int { return a[0] - b[0] })
			want := [][]int{{10, 610, 601}, {700, 1500, 801}, {3730, 4330, 601}, {6201, 6801, 601}}
			if diff := cmp.Diff(spans, want); diff != "" {
				t.Errorf("first, last and number of frames of the cut-outs (-got +want):\n%s", diff)
			}
			if stats.Cuts == 0 || stats.Removed == 0 {
				t.Errorf("%d bytes, %d cut-outs and %d parts removed are told", most, stats.Cuts, stats.Removed)
			}
		})
	}
}

// TestCutoutsAreBounded: a flood of failures keeps no more than its share of what may be kept.
func TestCutoutsAreBounded(t *testing.T) {
	const keep = 400_000
	d := newFake()
	var failures []int
	for n := 0; n < 30_000; n += 150 {
		failures = append(failures, n)
	}
	_, most := recordSeldom(t, Config{Name: "van", Keep: keep, PartBytes: 24_000, disk: d.disk()}, 0, 30_000, failures...)
	if most > keep {
		t.Errorf("%d bytes in the folder, want at most %d", most, keep)
	}
	cuts := int64(0)
	for path, f := range d.files {
		if strings.Contains(path, "-event-") {
			cuts += int64(len(f.data))
		}
	}
	if cuts == 0 || cuts > keep/cutShare {
		t.Errorf("cut-outs of %d bytes, want some and at most %d", cuts, keep/cutShare)
	}
}

// TestCutoutFails: a cut-out that cannot be written is told and holds up nothing.
func TestCutoutFails(t *testing.T) {
	for _, op := range []string{"read", "write", "sync", "open"} {
		t.Run(op, func(t *testing.T) {
			d := newFake()
			cutting := false
			d.refuse = func(called string, _ int) error {
				if called == "read" {
					cutting = true
				}
				if cutting && called == op {
					cutting = false
					return os.ErrPermission
				}
				return nil
			}
			stats, most := recordSeldom(t, Config{Name: "van", Keep: 400_000, PartBytes: 24_000, disk: d.disk()}, 0, 20_000, 1000)
			if most > 400_000 {
				t.Errorf("%d bytes in the folder", most)
			}
			if op == "read" && stats.Lost != 0 {
				t.Errorf("%d frames lost", stats.Lost)
			}
			sessions, err := Sessions(d.dump(t, false, nil))
			if err != nil || len(sessions) == 0 {
				t.Fatalf("%v, %v", sessions, err)
			}
		})
	}
}

func TestCutSessions(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{
		"a-20260101T000000Z-000003-event-01.pcapng", // its part is still there
		"a-20260101T000000Z-000003.pcapng",
		"a-20260101T000000Z-000001-event-01.pcapng.zst",
		"a-20260101T000000Z-000001-event-02-more.pcapng.zst",
		"a-20260101T000000Z-000002-event-01.pcapng",
		"b-20250101T000000Z-000002-event-01-more.pcapng", // nothing goes on
		"a-20260101T000000Z-000001-event-1.pcapng",       // not of ours
	} {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	sessions, err := Sessions(dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, s := range sessions {
		var parts []string
		for _, p := range s.Parts {
			parts = append(parts, filepath.Base(p))
		}
		got = append(got, s.Name+": "+strings.Join(parts, " "))
	}
	want := []string{
		"a-20260101T000000Z-000001-event-01: a-20260101T000000Z-000001-event-01.pcapng.zst",
		"a-20260101T000000Z-000001-event-02: a-20260101T000000Z-000001-event-02-more.pcapng.zst a-20260101T000000Z-000002-event-01.pcapng",
		"a-20260101T000000Z: a-20260101T000000Z-000003.pcapng",
		"b-20250101T000000Z-000002-event-01: b-20250101T000000Z-000002-event-01-more.pcapng",
	}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
}

func TestAddWindow(t *testing.T) {
	var list []window
	for _, w := range []window{{10, 20}, {40, 50}, {0, 5}, {25, 30}, {15, 27}, {60, 61}, {49, 60}} {
		list = addWindow(list, w)
	}
	want := []window{{0, 5}, {10, 30}, {40, 61}}
	if !slices.Equal(list, want) {
		t.Errorf("got %v, want %v", list, want)
	}
}
