package record

import (
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"plumbline/bus"
)

// nowhere is a disk that takes everything and keeps nothing.
func nowhere() *disk {
	d := realDisk()
	d.mkdir = func(string) error { return nil }
	d.list = func(string) ([]os.DirEntry, error) { return nil, nil }
	d.create = func(string) (file, error) { return sink{}, nil }
	d.remove = func(string) error { return nil }
	d.syncDir = func(string) error { return nil }
	return d
}

type sink struct{}

func (sink) Write(p []byte) (int, error) { return len(p), nil }
func (sink) Truncate(int64) error        { return nil }
func (sink) Sync() error                 { return nil }
func (sink) Close() error                { return nil }

// TestWriteDoesNotAllocate: not for a frame, on neither goroutine. Parts and
// snapshots are few.
func TestWriteDoesNotAllocate(t *testing.T) {
	for _, packed := range []bool{false, true} {
		r, end := start(t, Config{Dir: t.TempDir(), Zstd: packed, Sync: 10 * time.Millisecond, PartBytes: 1 << 40, Queue: 256 << 20, disk: nowhere()})
		b := batch(0, bus.BatchSize)
		b.Chunks = []bus.Chunk{{Source: 2, Data: make([]byte, 512)}}
		const batches = 3000
		for range 1000 {
			r.Write(b, names)
		}
		n := testing.AllocsPerRun(1, func() { // all goroutines count
			for range batches {
				r.Write(b, names)
				if n, most := r.queue.waiting(); n > most/2 {
					time.Sleep(time.Millisecond)
				}
			}
		})
		if frames := float64(batches * bus.BatchSize); n > frames/1000 {
			t.Errorf("packed %t: %v allocations for %v frames", packed, n, frames)
		}
		end()
	}
}

// BenchmarkWrite is what listening pays: one operation is a frame.
func BenchmarkWrite(b *testing.B) {
	r, end := startBench(b, Config{Dir: b.TempDir(), PartBytes: 1 << 40, Sync: 5 * time.Millisecond, disk: nowhere()})
	all := batch(0, bus.BatchSize)
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		if n++; n%bus.BatchSize > 0 {
			continue
		}
		r.Write(all, names)
		for n, most := r.queue.waiting(); n > most/2; n, most = r.queue.waiting() {
			runtime.Gosched()
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "frames/s")
	if stats := end(); stats.Lost > 0 {
		b.Errorf("%d frames lost", stats.Lost)
	}
}

// BenchmarkRecord writes to a real disk as fast as it goes, all of it read back
// by no one: one operation is a frame.
func BenchmarkRecord(b *testing.B) {
	for name, packed := range map[string]bool{"plain": false, "zstd": true} {
		b.Run(name, func(b *testing.B) {
			dir := b.TempDir()
			r, end := startBench(b, Config{Dir: dir, Zstd: packed, Keep: 256 << 20})
			all := batch(0, bus.BatchSize)
			b.ReportAllocs()
			n := 0
			for b.Loop() {
				if n++; n%bus.BatchSize > 0 {
					continue
				}
				r.Write(all, names)
				for n, most := r.queue.waiting(); n > most/2; n, most = r.queue.waiting() {
					time.Sleep(time.Millisecond)
				}
			}
			stats := end()
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "frames/s")
			b.ReportMetric(float64(stats.Bytes)/float64(max(1, stats.Frames)), "bytes/frame")
			if stats.Lost > 0 {
				b.Errorf("%d frames lost", stats.Lost)
			}
		})
	}
}

func startBench(b *testing.B, cfg Config) (*Recorder, func() *Stats) {
	b.Helper()
	cfg.Dir = filepath.Join(cfg.Dir, "rec")
	return start(b, cfg)
}
