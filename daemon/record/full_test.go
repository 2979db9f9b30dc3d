package record

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"plumbline/bus"
)

// fillUp records on a small disk until it is full, makes room and records on.
// It fails where anything that was heard before is not read back, or where
// recording does not begin again.
func fillUp(t *testing.T, cfg Config, room func(), dump func() string, why string) {
	t.Helper()
	cfg.Queue = 4 * segmentSize
	r, end := start(t, cfg)
	heard := 0
	until := func(what string, state State) {
		t.Helper()
		for range 1000 {
			r.Write(batch(heard, 500), names)
			heard += 500
			time.Sleep(20 * time.Millisecond)
			if r.Stats().State == state {
				return
			}
		}
		t.Fatalf("%s: state %v (%s)", what, r.Stats().State, r.Stats().Why)
	}
	until("full", Stopped)
	stopped := r.Stats()
	if !strings.Contains(stopped.Why, why) {
		t.Errorf("stopped because %q, want %q", stopped.Why, why)
	}
	if stopped.Full != strings.HasPrefix(why, "the disk is almost full") || stopped.Dir != cfg.Dir || stopped.Since.IsZero() {
		t.Errorf("full %v in %q since %v", stopped.Full, stopped.Dir, stopped.Since)
	}
	if stopped.Frames == 0 {
		t.Error("nothing was recorded before")
	}
	for range 100 { // listening goes on
		r.Write(batch(heard, 500), names)
		heard += 500
		time.Sleep(20 * time.Millisecond)
	}
	if now := r.Stats(); now.Frames < stopped.Frames || now.Lost == 0 {
		t.Errorf("while it was full: %d written and %d lost, before %d", now.Frames, now.Lost, stopped.Frames)
	}
	room()
	until("room", Recording)
	for range 10 {
		r.Write(batch(heard, 500), names)
		heard += 500
		time.Sleep(20 * time.Millisecond)
	}
	stats := end()
	p := play(t, dump())
	p.rising(t)
	closes(t, stats, p, heard)
	if got := p.lost(bus.Recorder); got != stats.Lost || uint64(len(p.frames))+got != uint64(heard) {
		t.Errorf("%d frames read back and %d told as lost, %d were; %d were heard", len(p.frames), got, stats.Lost, heard)
	}
	if p.last() != heard-1 {
		t.Errorf("the last frame is %d, want %d", p.last(), heard-1)
	}
	if stats.Stops == 0 || stats.Parts < 2 {
		t.Errorf("%d stops and %d parts, want one and two at least", stats.Stops, stats.Parts)
	}
	for _, n := range p.kinds(bus.Loss) {
		if !strings.Contains(n.Text, why) {
			t.Errorf("%q does not say %q", n.Text, why)
		}
	}
}

// TestFullDisk fills a disk of 2 MiB, to its reserve and to its last byte: in
// memory, and a real one where one can be mounted.
func TestFullDisk(t *testing.T) {
	for _, test := range []struct {
		name    string
		reserve int64
		zstd    bool
		why     string
	}{
		{"up to the reserve", 512 << 10, false, "the disk is almost full: 0 MiB are to stay free"},
		{"up to the last byte", -1, false, "no space left on device"},
		{"up to the last byte, packed", -1, true, "no space left on device"},
	} {
		cfg := Config{Reserve: test.reserve, Zstd: test.zstd}
		t.Run(test.name+", in memory", func(t *testing.T) {
			d := newFake()
			d.size = 2 << 20
			if test.zstd {
				d.size /= 8
			}
			synctest.Test(t, func(t *testing.T) {
				cfg := cfg
				cfg.Dir, cfg.disk = "rec", d.disk()
				fillUp(t, cfg, func() {
					d.mu.Lock()
					d.size *= 32
					d.mu.Unlock()
				}, func() string { return d.dump(t, false, nil) }, test.why)
			})
		})
		t.Run(test.name+", mounted", func(t *testing.T) {
			if testing.Short() || test.zstd {
				t.Skip("the one in memory is enough")
			}
			dir, filler := mounted(t)
			cfg := cfg
			cfg.Dir, cfg.Sync = dir, 20*time.Millisecond
			fillUp(t, cfg, func() {
				if err := os.Remove(filler); err != nil {
					t.Error(err)
				}
			}, func() string { return dir }, test.why)
		})
	}
}

// mounted mounts a disk of 2 MiB for parts and 62 MiB that a file takes.
func mounted(t *testing.T) (dir, filler string) {
	t.Helper()
	if runtime.GOOS != "linux" || os.Geteuid() != 0 {
		t.Skip("mounting needs root on Linux; the disk in memory was tested")
	}
	dir = t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=64m", "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("mounting is not possible here; the disk in memory was tested: %v: %s", err, out)
	}
	t.Cleanup(func() {
		if out, err := exec.Command("umount", dir).CombinedOutput(); err != nil {
			t.Errorf("umount: %v: %s", err, out)
		}
	})
	filler = filepath.Join(dir, "filler")
	if err := os.WriteFile(filler, make([]byte, 62<<20), 0o600); err != nil {
		t.Fatal(err)
	}
	return dir, filler
}

// TestPulledDisk: a folder that goes away with its disk is not made anew on the
// disk below, and recording begins again when it is back.
func TestPulledDisk(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "stick")
	r, end := start(t, Config{Dir: dir, Sync: 5 * time.Millisecond, PartTime: 30 * time.Millisecond})
	heard := 0
	write := func(state State) {
		t.Helper()
		for range 2000 {
			r.Write(batch(heard, 1), names)
			heard++
			time.Sleep(5 * time.Millisecond)
			if r.Stats().State == state {
				return
			}
		}
		t.Fatalf("state %v, want %v", r.Stats().State, state)
	}
	write(Recording)
	away := dir + "-away"
	if err := os.Rename(dir, away); err != nil {
		t.Fatal(err)
	}
	write(Stopped)
	if _, err := os.Stat(dir); !os.IsNotExist(err) {
		t.Errorf("the folder was made anew: %v", err)
	}
	if err := os.Rename(away, dir); err != nil {
		t.Fatal(err)
	}
	write(Recording)
	stats := end()
	p := play(t, dir)
	p.rising(t)
	closes(t, stats, p, heard)
	if len(p.frames) != heard {
		t.Errorf("%d frames read back, want %d: all of them fit into memory; %v; %+v", len(p.frames), heard, p.notes, stats)
	}
}

// TestNoFolder: a folder that cannot be had is no reason not to listen.
func TestNoFolder(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	r, end := start(t, Config{Dir: filepath.Join(file, "rec"), Sync: 5 * time.Millisecond})
	if s := r.Stats(); s.State != Stopped || !strings.Contains(s.Why, "not a directory") {
		t.Errorf("state %v: %q", s.State, s.Why)
	}
	r.Write(batch(0, 10), names)
	if s := end(); s.Lost != 10 || s.State != Closed {
		t.Errorf("%+v, want 10 lost", s)
	}
}
