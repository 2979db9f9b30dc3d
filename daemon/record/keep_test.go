package record

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
	"plumbline/bus/capture"
)

// TestKeep: the oldest parts go first, of the same name only, the one being
// written never, and what is no recording is left alone and told.
func TestKeep(t *testing.T) {
	d := newFake()
	put := func(name, data string) { d.files["rec/"+name] = &fakeFile{disk: d, data: []byte(data)} }
	part := "\x0A\x0D\x0D\x0A" + strings.Repeat("x", 9996)
	put("van-20300101T000000Z-000001.pcapng", part) // from a clock that was wrong
	put("van-19980101T000000Z-000002.pcapng", part)
	put("van-19980101T000000Z-000010.pcapng", part)
	put("van-19980101T000000Z-000001.pcapng", "")                        // never filled
	put("van-19990101T000000Z-000001.pcapng", strings.Repeat("\x00", 9)) // power was lost
	put("bus-19980101T000000Z-000001.pcapng", part)
	put("van-19980101T000000Z-000001.txt", part)
	put("van.pcapng", part)
	const keep = 60_000
	most := int64(0)
	var stats *Stats
	synctest.Test(t, func(t *testing.T) {
		r, end := start(t, Config{Dir: "rec", Name: "van", Keep: keep, PartBytes: 10_000, disk: d.disk()})
		for k := range 100 {
			r.Write(batch(50*k, 50), names)
			time.Sleep(100 * time.Millisecond)
			if k%5 == 4 { // right after a sync
				synctest.Wait()
				most = max(most, size(d, "rec/van-"))
			}
		}
		stats = end()
	})
	if most > keep || most < keep/2 {
		t.Errorf("%d bytes of parts, want at most %d, and not far less", most, keep)
	}
	for _, name := range []string{
		"van-19980101T000000Z-000001.pcapng", "van-19990101T000000Z-000001.pcapng",
		"bus-19980101T000000Z-000001.pcapng", "van-19980101T000000Z-000001.txt", "van.pcapng",
	} {
		if d.files["rec/"+name] == nil {
			t.Errorf("%s is gone", name)
		}
	}
	if diff := cmp.Diff(stats.Aside, []string{"van-19980101T000000Z-000001.pcapng", "van-19990101T000000Z-000001.pcapng"}); diff != "" {
		t.Errorf("left alone (-got +want):\n%s", diff)
	}
	for _, name := range []string{"van-19980101T000000Z-000002.pcapng", "van-19980101T000000Z-000010.pcapng", "van-20300101T000000Z-000001.pcapng"} {
		if d.files["rec/"+name] != nil {
			t.Errorf("%s is still there", name)
		}
	}
	for path := range d.files {
		if !strings.HasPrefix(path, "rec/van-2000") {
			delete(d.files, path)
		}
	}
	p := play(t, d.dump(t, false, nil))
	p.rising(t)
	if p.last() != 4999 || len(p.frames) < 500 || len(p.frames) > 1300 {
		t.Errorf("%d frames up to %d, want the last of 5000", len(p.frames), p.last())
	}
	if stats.Removed < 15 || stats.Frames != 5000 || stats.Lost != 0 {
		t.Errorf("%d parts removed, %d frames written, %d lost", stats.Removed, stats.Frames, stats.Lost)
	}
}

// size is that of all good parts.
func size(d *fake, prefix string) (n int64) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for path, f := range d.files {
		if strings.HasPrefix(path, prefix) && len(f.data) > 9 && strings.HasSuffix(path, ".pcapng") {
			n += int64(len(f.data))
		}
	}
	return n
}

// TestKeepShared: what signed tests hold as well takes no room that is counted, and others do not go in its place.
func TestKeepShared(t *testing.T) {
	const keep, each = 40_000, 10_000
	part := "\x0A\x0D\x0D\x0A" + strings.Repeat("x", each-4)
	older := []string{
		"rec/plumbline-19980101T000000Z-000001.pcapng", "rec/plumbline-19980101T000000Z-000002.pcapng",
		"rec/plumbline-19980101T000000Z-000003.pcapng", "rec/plumbline-19990101T000000Z-000001.pcapng",
	}
	for _, test := range []struct {
		name    string
		shared  int // of the older ones
		removed bool
	}{
		{"none is held elsewhere", 0, true},
		{"two are held elsewhere", 2, false},
		{"all are held elsewhere", 4, false},
	} {
		t.Run(test.name, func(t *testing.T) {
			d := newFake()
			for i, path := range older {
				f := &fakeFile{disk: d, data: []byte(part)}
				d.files[path] = f
				if i < test.shared {
					d.files["tests/"+filepath.Base(path)] = f
				}
			}
			record := func(frames int) (stats *Stats) {
				synctest.Test(t, func(t *testing.T) {
					r, end := start(t, Config{Dir: "rec", Keep: keep, PartBytes: each, disk: d.disk()})
					for k := range frames / 50 {
						r.Write(batch(50*k, 50), names)
						time.Sleep(time.Second)
					}
					stats = end()
				})
				return stats
			}
			if stats := record(50); (stats.Removed > 0) != test.removed {
				t.Errorf("%d parts removed with %d bytes that can be freed and some more", stats.Removed, (len(older)-test.shared)*each)
			}
			// in the end what is counted is what is there for the recording alone
			record(5000)
			if n := size(d, "rec/"); n > keep || n < keep/2 {
				t.Errorf("%d bytes left in the folder, want at most %d, and not far less", n, keep)
			}
			for i, path := range older {
				if d.files[path] != nil {
					t.Errorf("%s is still there, though newer parts are gone", path)
				}
				if i < test.shared && d.files["tests/"+filepath.Base(path)] == nil {
					t.Errorf("%s is gone from the signed test", path)
				}
			}
		})
	}
}

// TestForeignKinds: what is called like a part and is no file is left alone.
func TestForeignKinds(t *testing.T) {
	dir := t.TempDir()
	folder := filepath.Join(dir, "plumbline-19990101T000000Z-000001.pcapng")
	if err := os.Mkdir(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	target := filepath.Join(t.TempDir(), "precious")
	if err := os.WriteFile(target, []byte("\x0A\x0D\x0D\x0A"), 0o600); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(dir, "plumbline-19990101T000000Z-000002.pcapng")
	if err := os.Symlink(target, link); err != nil {
		t.Skip(err)
	}
	var stats *Stats
	synctest.Test(t, func(t *testing.T) { // on a busy machine all of it came in one part, larger than what is kept, which went at the end
		r, end := start(t, Config{Dir: dir, Keep: 2000, PartBytes: 1000, Sync: 5 * time.Millisecond})
		for k := range 20 {
			r.Write(batch(k*10, 10), names)
			time.Sleep(10 * time.Millisecond)
		}
		stats = end()
	})
	if stats.Removed == 0 {
		t.Error("no part was removed: nothing was tried")
	}
	for _, path := range []string{folder, link, target} {
		if _, err := os.Lstat(path); err != nil {
			t.Error(err)
		}
	}
	if len(stats.Aside) != 2 {
		t.Errorf("left alone: %q, want two", stats.Aside)
	}
	if parts, err := Parts(dir); err != nil || len(parts) == 0 || strings.Contains(parts[0], "1999") {
		t.Errorf("parts %q, error %v", parts, err)
	}
}

// TestOpen: parts are one stream, whatever became of some of them.
func TestOpen(t *testing.T) {
	d := newFake()
	synctest.Test(t, func(t *testing.T) {
		r, end := start(t, Config{Dir: "rec", PartTime: time.Second, disk: d.disk()})
		for k := range 5 {
			b := batch(k*10, 10)
			list := names
			if k == 0 {
				// the order in which sources are met is another one in the first part
				list = []string{"wheels", "body"}
			}
			b.Notes = []bus.Note{{Before: 1, At: b.Frames[0].At, Kind: bus.LinkChanged, Source: 1, Link: bus.Silent}}
			if k == 2 {
				b.Chunks = []bus.Chunk{{Source: 2, Data: []byte("half of a pac")}}
			}
			r.Write(b, list)
			time.Sleep(2 * time.Second)
		}
		end()
	})
	dir := d.dump(t, false, nil)
	parts, err := Parts(dir)
	if err != nil || len(parts) != 5 {
		t.Fatal(parts, err)
	}
	src, err := Open(parts)
	if err != nil {
		t.Fatal(err)
	}
	p := &playback{}
	p.read(t, src)
	if done, known := src.(capture.Progress).Fraction(); done != 1 || !known {
		t.Errorf("%v of it read (%t), want all", done, known)
	}
	p.rising(t)
	if len(p.frames) != 50 || len(p.kinds(bus.Warning)) > 0 || len(p.kinds(bus.LinkChanged)) != 5 {
		t.Errorf("%d frames, notes %v", len(p.frames), p.notes)
	}
	if diff := cmp.Diff(p.names, names); diff != "" {
		t.Errorf("names (-got +want):\n%s", diff)
	}
	src.Close()

	if err := os.Remove(parts[3]); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(parts[1], []byte("\x7FELF no recording"), 0o600); err != nil {
		t.Fatal(err)
	}
	p = play(t, dir)
	p.rising(t)
	var warnings []string
	for _, n := range p.kinds(bus.Warning) {
		warnings = append(warnings, fmt.Sprint(n.Before, " ", n.Text))
	}
	want := []string{
		"10 " + filepath.Base(parts[1]) + ": not read: " + parts[1] + ": not a recording of a bus: expected candump -L text, pcapng or pcap, each also packed with gzip or zstd; it begins with 7F 45 4C 46 20 6E 6F 20",
		"20 plumbline-20000101T000000Z: the parts between number 3 and number 5 are missing",
	}
	if diff := cmp.Diff(warnings, want); diff != "" || len(p.frames) != 30 {
		t.Errorf("%d frames, want 30; warnings (-got +want):\n%s", len(p.frames), diff)
	}

	holes := 0
	for _, n := range p.kinds(bus.Loss) {
		if n.Place == bus.Recorder && n.Count == 0 && p.names[n.Source] == "optics" {
			holes++
		}
	}
	if holes != 1 { // the first part that is not there comes before its bytes
		t.Errorf("holes of the serial port told %d times, want once: %v", holes, p.kinds(bus.Loss))
	}

	none, err := Open(parts[1:2])
	if err != nil {
		t.Fatal(err)
	}
	var b bus.Batch
	if err := none.Read(&b); err != nil || len(b.Notes) != 1 {
		t.Errorf("error %v, notes %v, want a warning", err, b.Notes)
	}
	if err := none.Read(&b); err == nil || !strings.Contains(err.Error(), "not a recording of a bus") {
		t.Errorf("error %v", err)
	}
	if _, err := Open(nil); err == nil {
		t.Error("no parts and no error")
	}
}

// TestOpenRenumbers: a source has one number, whatever it has in a part.
func TestOpenRenumbers(t *testing.T) {
	dir := t.TempDir()
	for _, list := range [][]string{{"wheels", "body", "optics"}, {"optics", "wheels", "body"}} {
		r, end := start(t, Config{Dir: dir, Serial: []string{"optics"}})
		b := &bus.Batch{}
		for n, name := range list {
			if name == "optics" {
				b.Chunks = append(b.Chunks, bus.Chunk{Before: len(b.Frames), Source: uint16(n), Data: []byte(name)})
				continue
			}
			b.Frames = append(b.Frames, bus.Frame{Source: uint16(n), ID: uint32(len(name))})
			b.Notes = append(b.Notes, bus.Note{Before: len(b.Frames), Kind: bus.Loss, Source: uint16(n), Count: 1, Place: bus.Queue, Text: name})
		}
		r.Write(b, list)
		end()
	}
	parts, err := Parts(dir)
	if err != nil || len(parts) != 2 {
		t.Fatal(parts, err)
	}
	src, err := Open(parts)
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	p := &playback{}
	p.read(t, src)
	for _, f := range p.frames {
		if int(f.ID) != len(p.names[f.Source]) {
			t.Errorf("frame %X is of %s", f.ID, p.names[f.Source])
		}
	}
	for _, n := range p.notes {
		if n.Text != p.names[n.Source] {
			t.Errorf("loss of %s is of %s", n.Text, p.names[n.Source])
		}
	}
	for _, c := range p.chunks {
		if string(c.Data) != p.names[c.Source] {
			t.Errorf("chunk of %s is of %s", c.Data, p.names[c.Source])
		}
	}
	if len(p.frames) != 4 || len(p.notes) != 4 || len(p.chunks) != 2 {
		t.Errorf("%d frames, %d notes, %d chunks", len(p.frames), len(p.notes), len(p.chunks))
	}
}

func TestSessions(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{
		"a-20260101T000000Z-000010.pcapng", "a-20260101T000000Z-000009.pcapng.zst", "a-20260101T000000Z-1000000.pcapng",
		"a-b-20250101T000000Z-000001.pcapng", "a-20250101T000000Z-000003.pcapng",
		"a-20250101T000000Z-3.pcapng", "a-20250101T000000Z-000003.pcap", "-20250101T000000Z-000003.pcapng", "log.txt",
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
		for _, p := range s.Parts {
			got = append(got, s.Name+": "+filepath.Base(p))
		}
	}
	want := []string{
		"a-20250101T000000Z: a-20250101T000000Z-000003.pcapng",
		"a-20260101T000000Z: a-20260101T000000Z-000009.pcapng.zst",
		"a-20260101T000000Z: a-20260101T000000Z-000010.pcapng",
		"a-20260101T000000Z: a-20260101T000000Z-1000000.pcapng",
		"a-b-20250101T000000Z: a-b-20250101T000000Z-000001.pcapng",
	}
	if diff := cmp.Diff(got, want); diff != "" {
		t.Errorf("(-got +want):\n%s", diff)
	}
	parts, err := Parts(dir)
	if err != nil || len(parts) != 5 || !slices.Equal(parts[:1], sessions[0].Parts) {
		t.Errorf("parts %q, error %v", parts, err)
	}
	if _, err := Parts(filepath.Join(dir, "none")); err == nil {
		t.Error("no folder and no error")
	}
}

// TestLinks: the system tells how many names a file has.
func TestLinks(t *testing.T) {
	a, b := filepath.Join(t.TempDir(), "a"), filepath.Join(t.TempDir(), "b")
	if err := os.WriteFile(a, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	n, err := links(a)
	if errors.Is(err, errors.ErrUnsupported) {
		t.Skip("this system does not tell it")
	}
	if err != nil || n != 1 {
		t.Errorf("got %d, %v, want 1", n, err)
	}
	if err := os.Link(a, b); err != nil {
		t.Skip(err)
	}
	if n, err := links(b); err != nil || n != 2 {
		t.Errorf("got %d, %v, want 2", n, err)
	}
	if _, err := links(a + "x"); err == nil {
		t.Error("what is not there has no error")
	}
}
