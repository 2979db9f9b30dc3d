package record

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"plumbline/bus"
)

// held returns how many frames some parts of a fake disk hold, read back by themselves.
func held(t *testing.T, d *fake, parts []string) *playback {
	t.Helper()
	all, only := d.dump(t, false, nil), t.TempDir()
	for _, p := range parts {
		if err := os.Rename(filepath.Join(all, filepath.Base(p)), filepath.Join(only, filepath.Base(p))); err != nil {
			t.Fatal(err)
		}
	}
	return play(t, only)
}

// TestCut divides a recording: each stretch can be read by itself, and nothing is missing between them.
func TestCut(t *testing.T) {
	for _, packed := range []bool{false, true} {
		d := newFake()
		synctest.Test(t, func(t *testing.T) {
			r, end := start(t, Config{Dir: "rec", PartBytes: 20_000, Zstd: packed, disk: d.disk()})
			first := r.Stats().Session
			frames := 0
			write := func(batches int) {
				for range batches {
					r.Write(batch(frames, 50), names)
					frames += 50
					time.Sleep(20 * time.Millisecond)
				}
			}
			cut := func(afresh bool) []string {
				t.Helper()
				parts, err := r.Cut(afresh).Wait(t.Context())
				if err != nil {
					t.Fatal(err)
				}
				return parts
			}
			if parts := cut(true); len(parts) != 0 || r.Stats().Session != first {
				t.Errorf("before anything was heard: parts %v, session %s, want none and still %s", parts, r.Stats().Session, first)
			}
			write(30)
			one := cut(false)
			if p := held(t, d, one); len(one) < 1 || len(p.frames) != 1500 || p.last() != 1499 {
				t.Errorf("the first stretch holds %d frames up to %d in %d parts, want 1500", len(p.frames), p.last(), len(one))
			}
			write(10)
			two := cut(true)
			if p := held(t, d, two); len(two) <= len(one) || len(p.frames) != 2000 || p.last() != 1999 {
				t.Errorf("after the second cut the session holds %d frames in %d parts, want 2000 in more than %d", len(p.frames), len(two), len(one))
			}
			if r.Stats().Session == first {
				t.Error("a cut that begins afresh has left the session as it was")
			}
			write(1)
			three := cut(false)
			p := held(t, d, three)
			if len(three) != 1 || len(p.frames) != 50 || p.last() != 2049 || !strings.Contains(three[0], "-000001.") {
				t.Errorf("the new session is %v with %d frames up to %d, want its part number 1 with 50", three, len(p.frames), p.last())
			}
			stats := end()
			if stats.Lost > 0 || stats.Frames != 2050 {
				t.Errorf("written %d, lost %d, want all 2050", stats.Frames, stats.Lost)
			}
			if _, err := r.Cut(false).Wait(t.Context()); err == nil {
				t.Error("a cut after the end succeeds")
			}
		})
	}
}

// TestCutSweep refuses the N-th call of each kind: what stands before a cut is in its parts, whole, all the same.
func TestCutSweep(t *testing.T) {
	for _, op := range []string{"open", "write", "truncate", "sync", "syncdir", "close"} {
		for n := 0; ; n++ {
			d, hit := newFake(), false
			d.half = true
			d.refuse = func(called string, k int) error {
				if called == op && k == n {
					hit = true
					return syscall.EIO
				}
				return nil
			}
			synctest.Test(t, func(t *testing.T) {
				r, end := start(t, Config{Dir: "rec", PartBytes: 9_000, disk: d.disk()})
				for k := range 4 {
					for i := range 5 {
						r.Write(batch(k*250+i*50, 50), names)
						time.Sleep(100 * time.Millisecond)
					}
					parts, err := r.Cut(k == 1).Wait(t.Context())
					if err != nil {
						t.Fatalf("%s %d: cut %d: %v", op, n, k, err)
					}
					want := (k + 1) * 250
					if k > 1 {
						want -= 500 // of the session before
					}
					if p := held(t, d, parts); len(p.frames)+int(p.lost(bus.Recorder)) != want || len(p.frames) > 0 && p.last() != (k+1)*250-1 {
						t.Errorf("%s %d: cut %d: %d frames up to %d, %d told as lost, want %d", op, n, k, len(p.frames), p.last(), p.lost(bus.Recorder), want)
					}
				}
				end()
			})
			if t.Failed() || !hit {
				break
			}
		}
	}
}

// TestCutWaits: while the disk takes nothing a cut is not reached; who waits for it may give up.
func TestCutWaits(t *testing.T) {
	d := newFake()
	broken := true
	d.refuse = func(op string, _ int) error {
		if broken && op == "open" {
			return syscall.ENOSPC
		}
		return nil
	}
	synctest.Test(t, func(t *testing.T) {
		r, end := start(t, Config{Dir: "rec", disk: d.disk()})
		r.Write(batch(0, 50), names)
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
		defer cancel()
		c := r.Cut(true)
		if _, err := c.Wait(ctx); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("%v while the disk is full, want the deadline", err)
		}
		d.mu.Lock()
		broken = false
		d.mu.Unlock()
		parts, err := c.Wait(t.Context())
		if err != nil || len(held(t, d, parts).frames) != 50 {
			t.Errorf("%v, %v, want a part with 50 frames once there is room", parts, err)
		}
		r.Write(batch(50, 50), names)
		c = r.Cut(false)
		end()
		if parts, err := c.Wait(t.Context()); err != nil || len(held(t, d, parts).frames) != 50 {
			t.Errorf("%v, %v, want a cut just before the end to be reached", parts, err)
		}
	})
}

// TestCutAfterRemoval: parts that were removed to keep the bound are told, not passed over in silence.
func TestCutAfterRemoval(t *testing.T) {
	d := newFake()
	synctest.Test(t, func(t *testing.T) {
		r, end := start(t, Config{Dir: "rec", PartBytes: 5_000, Keep: 20_000, disk: d.disk()})
		for k := range 20 {
			r.Write(batch(k*50, 50), names)
			time.Sleep(time.Second)
		}
		c := r.Cut(false)
		parts, err := c.Wait(t.Context())
		if err != nil || len(parts) == 0 {
			t.Fatalf("%v, %v", err, parts)
		}
		first, ok := parsePart(filepath.Base(parts[0]))
		if !ok || c.Removed() != first.number-1 || c.Removed() == 0 {
			t.Errorf("%d parts removed, the first left is %s", c.Removed(), parts[0])
		}
		end()
	})
}
