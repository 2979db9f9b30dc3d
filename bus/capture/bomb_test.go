package capture_test

import (
	"bytes"
	"fmt"
	"runtime"
	"runtime/metrics"
	"sync"
	"testing"
	"time"

	"plumbline/bus"
	"plumbline/bus/capture"
)

// TestBomb: a small file that unpacks to very much, of whatever, takes time and no memory. What is unpacked is
// read as it comes; a line without an end is dropped, not gathered.
func TestBomb(t *testing.T) {
	const (
		piece, pieces = 8 << 20, 8 // bytes; 64 MiB in all
		most          = 40 << 20   // bytes of heap: buffers, and a window of 8 MiB
	)
	for _, fill := range []string{"\x00", "(", "(1.0) can0 ", "# mark\n"} {
		for name, pack := range map[string]func(testing.TB, []byte) []byte{"gzip": packGzip, "zstd": packZstd} {
			t.Run(fmt.Sprintf("%q, %s", fill, name), func(t *testing.T) {
				path := write(t, bytes.Repeat(pack(t, bytes.Repeat([]byte(fill), piece/len(fill))), pieces))
				runtime.GC()
				peak := heapPeak()
				s, err := capture.Open(path)
				if err != nil {
					t.Fatal(err)
				}
				frames, notes := 0, 0
				var b bus.Batch
				for err == nil {
					err = s.Read(&b)
					frames, notes = frames+len(b.Frames), notes+len(b.Notes)
				}
				if got := peak(); got > most {
					t.Errorf("%d MiB of heap for a file of which %d MiB were unpacked, want %d at the most", got>>20, piece*pieces>>20, most>>20)
				}
				if err := s.Close(); err != nil {
					t.Error(err)
				}
				t.Logf("%d frames, %d notes, %v", frames, notes, err)
			})
		}
	}
}

// heapPeak measures the heap from now on; the function that it returns ends that and says what the most was, in bytes.
func heapPeak() func() uint64 {
	stop := make(chan struct{})
	var done sync.WaitGroup
	var most uint64
	done.Go(func() {
		sample := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
		for {
			metrics.Read(sample)
			most = max(most, sample[0].Value.Uint64())
			select {
			case <-stop:
				return
			case <-time.After(2 * time.Millisecond):
			}
		}
	})
	return func() uint64 { close(stop); done.Wait(); return most }
}
