package serialport

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/sys/unix"

	"plumbline/bus"
)

// recording is what a Reader delivered, as a recorder keeps it.
type recording struct {
	heard
	batches []bus.Batch
	bytes   []byte
}

// keep takes a batch; derived notes are left out of what is recorded, frames too.
func (r *recording) keep(b *bus.Batch) {
	r.take(b)
	var kept bus.Batch
	for _, c := range b.Chunks {
		r.bytes = append(r.bytes, c.Data...)
		c.Data, c.Before = append([]byte(nil), c.Data...), 0
		kept.Chunks = append(kept.Chunks, c)
	}
	for _, n := range b.Notes {
		if !Derived(&n) {
			n.Before = 0
			kept.Notes = append(kept.Notes, n)
		}
	}
	r.batches = append(r.batches, kept)
}

// listener is a Reader in a test, which is ended when it waits too long.
type listener struct {
	*Reader
	t testing.TB
	recording
	batch bus.Batch
}

func open(t testing.TB, c Config) *listener {
	t.Helper()
	if c.Baud == 0 {
		c.Baud = 115200
	}
	r, err := Open(c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	})
	return &listener{Reader: r, t: t}
}

// until reads until something is so.
func (l *listener) until(what string, so func() bool) {
	l.t.Helper()
	watchdog := time.AfterFunc(20*time.Second, func() { _ = l.Close() })
	defer watchdog.Stop()
	for !so() {
		if err := l.Read(&l.batch); err != nil {
			l.t.Fatalf("waiting for %s: %v; so far %d frames, notes %q, %+v", what, err, len(l.frames), l.notes, l.Stats())
		}
		l.keep(&l.batch)
	}
}

func (l *listener) untilNote(text string) {
	l.t.Helper()
	n := len(l.notes)
	l.until(text, func() bool { return len(l.notes) > n && strings.HasSuffix(l.notes[len(l.notes)-1], text) })
}

func (l *listener) untilFrames(n int) {
	l.t.Helper()
	l.until(fmt.Sprintf("%d frames", n), func() bool { return len(l.frames) >= n })
}

// replayed runs a recording through a Decoder, in batches of another size.
func (r *recording) replayed(t testing.TB, format Format, size int) *heard {
	t.Helper()
	d := NewDecoder(&played{batches: r.batches}, func(string) *Framer { return newFramer(t, format) })
	h := &heard{}
	b := bus.Batch{Frames: make([]bus.Frame, 0, size)}
	for d.Read(&b) == nil {
		h.take(&b)
	}
	return h
}

// TestEveryFraming: thousands of packets through the terminal driver in random
// pieces arrive whole, each once, in order; replay gives the same again.
func TestEveryFraming(t *testing.T) {
	for name, dev := range devices() {
		t.Run(name, func(t *testing.T) {
			d := plug(t, byID(t))
			l := open(t, Config{Path: d.path, Name: "optics", Format: dev.format})
			if got := l.Names(); !cmp.Equal(got, []string{"optics"}) {
				t.Errorf("names: got %q", got)
			}
			l.untilNote("link silent")
			const n = 3000
			rng := rand.New(rand.NewPCG(9, 9))
			// Framings with a delimiter begin after the first one; the device is joined anywhere.
			stream := append([]byte{}, wire(&dev.format, dev.payload(n-1))...)
			for i := range n {
				stream = append(stream, wire(&dev.format, dev.payload(i))...)
			}
			sent := make(chan struct{})
			go func() {
				defer close(sent)
				for rest := stream; len(rest) > 0; {
					k := min(len(rest), 1+rng.IntN(700))
					d.send(rest[:k])
					rest = rest[k:]
				}
			}()
			l.until("all bytes", func() bool { return l.Stats().Bytes == uint64(len(stream)) })
			<-sent
			if string(l.bytes) != string(stream) {
				t.Error("the chunks are not what was sent")
			}
			whole, stats := cut(t, dev.format, string(stream))
			if diff := cmp.Diff(dump(whole.frames), dump(l.frames)); diff != "" {
				t.Errorf("frames (-at once +live):\n%.2000s", diff)
			}
			if len(l.frames) < n || stats.Garbage > 0 || l.Stats().Garbage > 0 {
				t.Errorf("got %d frames of %d, %+v", len(l.frames), n, l.Stats())
			}
			for _, size := range []int{1, 7, 256} {
				again := l.replayed(t, dev.format, size)
				if diff := cmp.Diff(l.frames, again.frames); diff != "" {
					t.Fatalf("frames (-live +replay):\n%.2000s", diff)
				}
				if diff := cmp.Diff(l.notes, again.notes); diff != "" {
					t.Errorf("notes (-live +replay):\n%.2000s", diff)
				}
			}
			balanced(t, l.framer)
		})
	}
}

// TestUnplug pulls the cable a hundred times in the middle of a packet. Nothing
// stays open, nothing spins, and every time it comes back by the same path.
func TestUnplug(t *testing.T) {
	path := byID(t)
	d := plug(t, path)
	l := open(t, Config{Path: path, Format: packets})
	l.firstDelay, l.lastDelay = 2*time.Millisecond, 20*time.Millisecond
	opens := 0
	inner := l.open
	l.open = func() (*input, error) { opens++; return inner() }
	l.untilNote("link silent")
	packet := func(i int) []byte { return wire(&packets, []byte{0x10, byte(i), 1, 2}) }
	before := 0
	for i := range 100 {
		d.send(packet(2 * i))
		d.send(packet(2*i + 1)[:5])
		l.untilFrames(i + 1)
		l.until("half a packet", func() bool { return l.Stats().Bytes == uint64(13*(i+1)) })
		d.pull()
		l.untilNote("link absent")
		if now := descriptors(t); i == 0 {
			before = now
		} else if now > before {
			t.Fatalf("after %d times unplugged: %d descriptors, %d after the first", i+1, now, before)
		}
		d = plug(t, path)
		l.untilNote("link silent")
	}
	want := []string{"link silent", "link active", "garbage 5", "link absent", "link silent", "link active"}
	for i, w := range want {
		if !strings.Contains(l.notes[i], w) {
			t.Errorf("note %d: got %q, want %q in it", i, l.notes[i], w)
		}
	}
	if s := l.Stats(); s.Frames != 100 || s.Garbage != 500 || s.Missing != 0 {
		t.Errorf("got %+v, want 100 frames and 500 bytes of packets cut off", s)
	}
	if opens > 1000 || l.reads > 1500 {
		t.Errorf("opened %d times and read %d times for 100 times unplugged", opens, l.reads)
	}
	t.Logf("%d attempts to open, %d reads", opens, l.reads)
	again := l.replayed(t, packets, 256)
	if diff := cmp.Diff(l.notes, again.notes); diff != "" {
		t.Errorf("notes (-live +replay):\n%.2000s", diff)
	}
}

// TestBackOff: a port that is not there is tried after 0.2, 0.4, 0.8 s …; it is told once; nothing is held open.
func TestBackOff(t *testing.T) {
	path := byID(t)
	held := descriptors(t)
	l := open(t, Config{Path: path, Format: packets})
	var tries []time.Time
	inner := l.open
	l.open = func() (*input, error) { tries = append(tries, time.Now()); return inner() }
	l.untilNote("link absent")
	if n := l.raw[0]; !strings.Contains(n.Text, "there is no "+path) {
		t.Errorf("got %q", n.Text)
	}
	var usage, later unix.Rusage
	if err := unix.Getrusage(unix.RUSAGE_SELF, &usage); err != nil {
		t.Fatal(err)
	}
	time.AfterFunc(1200*time.Millisecond, func() { plug(t, path) })
	l.untilNote("link silent")
	if err := unix.Getrusage(unix.RUSAGE_SELF, &later); err != nil {
		t.Fatal(err)
	}
	if len(l.notes) != 2 {
		t.Errorf("got notes %q, want two", l.notes)
	}
	if len(tries) != 4 { // at 0, 0.2, 0.6, 1.4 s
		t.Errorf("%d tries, want 4", len(tries))
	}
	for i, want := range []time.Duration{200 * time.Millisecond, 400 * time.Millisecond, 800 * time.Millisecond} {
		if i+1 >= len(tries) {
			break
		}
		if got := tries[i+1].Sub(tries[i]); got < want || got > want+500*time.Millisecond {
			t.Errorf("pause %d: got %v, want %v", i, got, want)
		}
	}
	used := time.Duration(later.Utime.Nano() + later.Stime.Nano() - usage.Utime.Nano() - usage.Stime.Nano())
	if used > 200*time.Millisecond {
		t.Errorf("waiting took %v of processor time", used)
	}
	if got := descriptors(t) - held; got > 5 { // master and slave, the library's two ends of a pipe, the poller of the runtime
		t.Errorf("%d descriptors more than at the start", got)
	}
}

// TestIdle: a silent line costs ten reads a second, and is told once.
func TestIdle(t *testing.T) {
	d := plug(t, byID(t))
	l := open(t, Config{Path: d.path, Format: packets, Silence: 400 * time.Millisecond})
	l.untilNote("link silent")
	d.send(wire(&packets, []byte("\x10\x01ab")))
	l.untilFrames(1)
	begin := l.reads
	time.AfterFunc(1500*time.Millisecond, func() { d.send(wire(&packets, []byte("\x10\x02ab"))) })
	l.untilFrames(2)
	if got := l.reads - begin; got > 20 {
		t.Errorf("%d reads in 1.5 s of silence", got)
	}
	want := []string{"0 link silent", "0 link active", "1 link silent", "1 link active"}
	if diff := cmp.Diff(want, l.notes); diff != "" {
		t.Errorf("notes (-want +got):\n%s", diff)
	}
	if text := l.raw[2].Text; !strings.Contains(text, "nothing has arrived for 400ms") {
		t.Errorf("got %q", text)
	}
}

// TestNothingIsSent: nothing arrives at the device from opening to closing, not even an echo.
func TestNothingIsSent(t *testing.T) {
	for _, lower := range []bool{false, true} {
		d := plug(t, byID(t))
		l := open(t, Config{Path: d.path, Format: Format{Framing: SLCAN}, LowerLines: lower})
		l.untilNote("link silent")
		d.send([]byte("\rV\rt1230\r\x03\x04\x11\x13\x15\x1a\n"))
		l.untilFrames(1)
		if d.hears(200 * time.Millisecond) {
			t.Error("something was sent to the device")
		}
		if err := l.Close(); err != nil {
			t.Error(err)
		}
		if d.hears(50 * time.Millisecond) {
			t.Error("something was sent to the device as the port was closed")
		}
	}
}

func TestDribble(t *testing.T) {
	for name, dev := range devices() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			d := plug(t, byID(t))
			l := open(t, Config{Path: d.path, Format: dev.format})
			l.untilNote("link silent")
			sent := make(chan struct{})
			go func() {
				defer close(sent)
				for i := range 4 {
					for _, c := range wire(&dev.format, dev.payload(i)) {
						d.send([]byte{c})
						time.Sleep(3 * time.Millisecond)
					}
				}
			}()
			l.untilFrames(3)
			<-sent
			if s := l.Stats(); s.Garbage != 0 || s.BadChecksums != 0 {
				t.Errorf("got %+v", s)
			}
		})
	}
}

// TestWrongBaud: noise, as a wrong baud rate makes it, is told from silence and from data.
func TestWrongBaud(t *testing.T) {
	for name, dev := range devices() {
		t.Run(name, func(t *testing.T) {
			d := plug(t, byID(t))
			// a clock by which 50 ms pass with each look
			now := int64(epoch)
			l := open(t, Config{Path: d.path, Format: dev.format, Clock: func() (int64, int64) {
				now += 25_000_000
				return now, now
			}})
			l.untilNote("link silent")
			rng := rand.New(rand.NewPCG(4, 4))
			for range 150 {
				b := make([]byte, 64)
				for i := range b {
					b[i] = byte(rng.Uint32())
				}
				d.send(b)
				want := l.Stats().Bytes + 64
				l.until("noise", func() bool { return l.Stats().Bytes >= want })
			}
			if !strings.Contains(strings.Join(l.notes, "\n"), "link no valid frame") {
				t.Errorf("got notes %q, %+v", l.notes, l.Stats())
			}
			if len(l.frames) > 0 {
				t.Errorf("got %d frames from noise", len(l.frames))
			}
			for i := range 3 {
				d.send(wire(&dev.format, dev.payload(i)))
			}
			l.untilNote("link active")
			again := l.replayed(t, dev.format, 4)
			if diff := cmp.Diff(l.notes, again.notes); diff != "" {
				t.Errorf("notes (-live +replay):\n%s", diff)
			}
		})
	}
}

// TestBursts: a device that sends at 1 kHz through something that hands on every
// 16 ms. The reconstructed times go up evenly; the arrivals do not.
func TestBursts(t *testing.T) {
	format := packets
	format.Length = 6
	format.Counter = &Counter{Field: Field{Offset: 1, Size: 2}}
	format.ID = nil
	format.Retime = []Retime{{0, 1_000_000}}
	d := plug(t, byID(t))
	l := open(t, Config{Path: d.path, Format: format})
	l.untilNote("link silent")
	const n = 1600
	go func() {
		begin := time.Now()
		for i := 0; i < n; {
			time.Sleep(16 * time.Millisecond)
			var burst []byte
			for ; i < n && int64(i) <= time.Since(begin).Milliseconds(); i++ {
				payload := binary.LittleEndian.AppendUint16([]byte{0}, uint16(i))
				burst = append(burst, wire(&format, append(payload, 1, 2, 3))...)
			}
			d.send(burst)
		}
	}()
	l.untilFrames(n)
	// How many depends on when this machine finds the time to send: a burst that is too late is not told.
	if s := l.Stats(); s.Missing > 0 || s.Retimed < n/4 {
		t.Errorf("got %+v, want nothing missing and times reconstructed", s)
	}
	even := 0
	for i := n / 2; i < n; i++ {
		step := l.frames[i].At - l.frames[i-1].At
		if step <= 0 {
			t.Fatalf("frame %d: step of %d ns", i, step)
		}
		if step > 900_000 && step < 1_100_000 {
			even++
		}
	}
	if even < n/8 {
		t.Errorf("%d of %d steps are within a tenth of 1 ms", even, n/2)
	}
	again := l.replayed(t, format, 256)
	if diff := cmp.Diff(l.frames, again.frames); diff != "" {
		t.Errorf("frames (-live +replay):\n%.1000s", diff)
	}
}

func TestClose(t *testing.T) {
	t.Run("while reading", func(t *testing.T) {
		d := plug(t, byID(t))
		l := open(t, Config{Path: d.path, Format: packets})
		l.untilNote("link silent")
		time.AfterFunc(50*time.Millisecond, func() { _ = l.Close() })
		begin := time.Now()
		if err := l.Read(&l.batch); !errors.Is(err, os.ErrClosed) {
			t.Errorf("got %v, want os.ErrClosed", err)
		}
		if took := time.Since(begin); took > time.Second {
			t.Errorf("took %v", took)
		}
		if err := l.Read(&l.batch); !errors.Is(err, os.ErrClosed) {
			t.Errorf("once more: got %v, want os.ErrClosed", err)
		}
	})
	t.Run("while waiting for a port", func(t *testing.T) {
		l := open(t, Config{Path: byID(t), Format: packets})
		l.firstDelay = time.Hour
		l.lastDelay = time.Hour
		l.untilNote("link absent")
		time.AfterFunc(50*time.Millisecond, func() { _ = l.Close() })
		if err := l.Read(&l.batch); !errors.Is(err, os.ErrClosed) {
			t.Errorf("got %v, want os.ErrClosed", err)
		}
	})
	t.Run("while nobody reads", func(t *testing.T) {
		held := descriptors(t)
		d := plug(t, byID(t))
		l := open(t, Config{Path: d.path, Format: packets})
		l.untilNote("link silent")
		if err := l.Close(); err != nil {
			t.Error(err)
		}
		d.pull()
		if now := descriptors(t); now != held {
			t.Errorf("%d descriptors are open, want %d", now, held)
		}
	})
}

func TestNoPort(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, []byte("text"), 0o644); err != nil {
		t.Fatal(err)
	}
	held := descriptors(t)
	for _, lower := range []bool{false, true} {
		l := open(t, Config{Path: file, Format: packets, LowerLines: lower})
		l.untilNote("link down")
		if text := l.raw[0].Text; !strings.Contains(text, "cannot be opened as a serial port") {
			t.Errorf("got %q", text)
		}
	}
	if now := descriptors(t); now != held {
		t.Errorf("%d descriptors are open, want %d", now, held)
	}
}
