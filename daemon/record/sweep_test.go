package record

import (
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"plumbline/bus"
)

// operations is all that a recorder asks of a disk.
var operations = []string{"mkdir", "list", "head", "space", "open", "write", "truncate", "sync", "syncdir", "close", "remove"}

const (
	sweepEach    = 50 // frames a batch, ten batches a second
	sweepBatches = 80
	badPart      = "plumbline-19990101T000000Z-000009.pcapng"
)

// leftOver puts into the folder what an earlier session left: two parts, one
// that was never filled, and a file of somebody else.
func leftOver(d *fake) {
	for name, data := range map[string]string{
		"plumbline-19990101T000000Z-000001.pcapng":     "\x0A\x0D\x0D\x0A" + strings.Repeat("x", 5000),
		"plumbline-19990101T000000Z-000002.pcapng.zst": "\x28\xB5\x2F\xFD" + strings.Repeat("x", 5000),
		badPart:     strings.Repeat("\x00", 5000),
		"notes.txt": "do not touch",
	} {
		d.files[filepath.Join("rec", name)] = &fakeFile{disk: d, data: []byte(data), safe: []byte(data)}
	}
}

// record records for eight seconds on a disk and returns how it ended.
func recordOn(t *testing.T, d *fake, cfg Config) (stats *Stats) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		cfg.Dir, cfg.disk = "rec", d.disk()
		cfg.PartBytes, cfg.PartTime, cfg.Keep = 30_000, 3*time.Second, 205_000 // the old parts have to go
		r, end := start(t, cfg)
		for k := range sweepBatches {
			b := batch(k*sweepEach, sweepEach)
			if k%20 == 7 {
				b.Notes = []bus.Note{{Before: 9, At: b.Frames[9].At, Kind: bus.Mark, Text: fmt.Sprint("mark ", k)}}
			}
			r.Write(b, names)
			time.Sleep(100 * time.Millisecond)
		}
		stats = end()
	})
	return stats
}

// TestSweep fails the N-th call of each kind, for every N until there is none
// to fail: once, with half a write done, and everything for three seconds.
// Each time recording goes on, and whatever was reported as written is read back.
func TestSweep(t *testing.T) {
	for _, variant := range []string{"once", "once, half written", "once, packed", "everything for a while", "everything for a while, half written", "then it cannot be cut back, half written"} {
		t.Run(variant, func(t *testing.T) {
			swept, reached := 0, make(map[string]bool)
			for _, op := range operations {
				for n := 0; ; n++ {
					if testing.Short() && n > 20 && n%7 != 0 {
						continue
					}
					if !sweep(t, variant, op, n) {
						break
					}
					if t.Failed() {
						t.Fatalf("at call %d of %s", n, op)
					}
					swept++
					reached[op] = true
				}
			}
			for _, op := range operations {
				if !reached[op] && op != "truncate" && (op != "remove" || !strings.Contains(variant, "packed")) {
					t.Errorf("no %s was refused", op)
				}
			}
			t.Log(swept, "calls refused")
		})
	}
}

// sweep is one run; it reports whether the call came.
func sweep(t *testing.T, variant, op string, n int) bool {
	t.Helper()
	d := newFake()
	leftOver(d)
	d.half = strings.Contains(variant, "half")
	while, stuck := strings.Contains(variant, "while"), strings.Contains(variant, "cut back")
	var until time.Time
	hit := false
	d.refuse = func(called string, k int) error {
		if called == op && k == n && !hit {
			hit = true
			until = time.Now().Add(3 * time.Second)
			return syscall.EIO
		}
		if while && hit && time.Now().Before(until) {
			return syscall.EIO
		}
		if stuck && hit && (called == "truncate" || called == "remove") {
			return syscall.EIO
		}
		return nil
	}
	stats := recordOn(t, d, Config{Zstd: strings.Contains(variant, "packed")})
	if !hit {
		return false
	}
	if _, ok := d.files["rec/notes.txt"]; !ok {
		t.Error("a file of somebody else is gone")
	}
	if _, ok := d.files["rec/"+badPart]; !ok {
		t.Error("a part that is no recording was removed")
	}
	for path := range d.files {
		if strings.Contains(path, "-1999") {
			delete(d.files, path)
		}
	}
	p := play(t, d.dump(t, false, nil))
	p.rising(t)
	const heard = sweepEach * sweepBatches
	closes(t, stats, p, heard)
	if stats.State != Closed {
		t.Errorf("state %v, want closed", stats.State)
	}
	if !while && !stuck {
		if stats.Lost > 0 || stats.Frames != heard || len(p.frames) != heard {
			t.Errorf("lost %d, written %d, read back %d, want none, %d, %[4]d", stats.Lost, stats.Frames, len(p.frames), heard)
		}
		if marks := p.kinds(bus.Mark); len(marks) != 4 {
			t.Errorf("marks %v, want 4", marks)
		}
		if p.lost(bus.Recorder) > 0 {
			t.Errorf("told as lost: %v", p.kinds(bus.Loss))
		}
		return true
	}
	if stats.Lost > 0 && p.lost(bus.Recorder) == 0 && stats.Parts > 1 && p.last() == heard-1 {
		t.Errorf("%d frames lost and not told", stats.Lost)
	}
	// the fault is over before the end, or retried at the end
	if d.refused(until) && p.last() != heard-1 {
		t.Errorf("the last frame read back is %d, want %d: recording has not begun again", p.last(), heard-1)
	}
	if missing := heard - uint64(len(p.frames)); missing > stats.Lost {
		t.Errorf("%d frames missing, %d counted as lost", missing, stats.Lost)
	}
	return true
}

// refused reports whether a fault was over before recording ended.
func (d *fake) refused(until time.Time) bool {
	began := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC) // of every bubble
	return until.Before(began.Add(sweepBatches * 100 * time.Millisecond))
}

// last returns the number of the last frame.
func (p *playback) last() int {
	if len(p.frames) == 0 {
		return -1
	}
	return int(binary.BigEndian.Uint64(p.frames[len(p.frames)-1].Data[:]))
}

// TestPowerLoss takes power away at every tenth of a second: what was heard a
// second before is there, whatever became of the tail that was not synced.
func TestPowerLoss(outer *testing.T) {
	for _, packed := range []bool{false, true} {
		random := rand.New(rand.NewPCG(5, 6))
		for moment := range sweepBatches {
			if testing.Short() && moment%9 != 0 {
				continue
			}
			d := newFake()
			var dir string
			synctest.Test(outer, func(t *testing.T) {
				r, end := start(t, Config{Dir: "rec", PartBytes: 60_000, PartTime: 3 * time.Second, Zstd: packed, disk: d.disk()})
				for k := range moment {
					r.Write(batch(k*sweepEach, sweepEach), names)
					time.Sleep(100 * time.Millisecond)
				}
				dir = d.dump(outer, true, func(f *fakeFile) []byte {
					if len(f.data) == len(f.safe) {
						return nil
					}
					tail := slices.Clone(f.data[len(f.safe):][:random.IntN(len(f.data)-len(f.safe))])
					if random.IntN(2) == 0 {
						clear(tail)
					}
					return tail
				})
				end()
			})
			p := play(outer, dir)
			p.rising(outer)
			if want := (moment - 10) * sweepEach; len(p.frames) < want || p.last() != len(p.frames)-1 {
				outer.Errorf("power lost after %d ms: %d frames up to %d, want the first %d", moment*100, len(p.frames), p.last(), want)
			}
		}
	}
}

// TestSlowSync: a sync that takes long does not hold up writing.
func TestSlowSync(t *testing.T) {
	d := newFake()
	d.slow = 4 * time.Second
	synctest.Test(t, func(t *testing.T) {
		r, end := start(t, Config{Dir: "rec", disk: d.disk()})
		for k := range 60 {
			r.Write(batch(k*sweepEach, sweepEach), names)
			time.Sleep(100 * time.Millisecond)
		}
		p := play(t, d.dump(t, false, nil))
		if want := 50 * sweepEach; len(p.frames) < want {
			t.Errorf("%d frames handed to the system after 6 s, want %d", len(p.frames), want)
		}
		if got := r.Stats().Frames; got > 20*sweepEach {
			t.Errorf("%d frames reported as written, and no sync has ended since 2 s", got)
		}
		end()
	})
}
