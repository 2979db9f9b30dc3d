package main

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"plumbline/bus"
	"plumbline/bus/simulated"
)

// loopS is how long the frames of a wire are before they begin anew, s: at 25 Hz 512 frames of a message, so that
// a counter of 8 bits goes on.
const loopS = 20.48

// outlet takes frames as whoever sends them would see it. It belongs to one goroutine at a time.
type outlet interface {
	// take returns how many of the frames, from the first on, were taken; what is not taken does not come again.
	take(frames []*bus.Frame) int
	// flush delivers what was taken and waits on this side; false: it still waits.
	flush() bool
	// cut ends it, with a frame half sent where the medium has such a thing.
	cut()
}

// span are frames one after the other, counted from the start of the wire: from from on, and before to. Frames of a
// flood are counted apart.
type span struct {
	from, to int64
	flood    bool
}

// wire is what sends to one source of the setup, at the times at which an amplifier sends, whether or not anybody
// takes it. Its frames are numbered from the start; those taken are kept as spans.
type wire struct {
	source string // name in the setup
	loop   []bus.Frame
	length time.Duration // of the loop

	mu     sync.Mutex
	to     outlet        // nil: unplugged
	hushed bool          // the amplifier says nothing
	flood  int64         // frames that come with each one, of no message of the setup
	at     time.Duration // of its own time
	next   int64         // frame
	taken  []span
	more   int64         // frame of the flood, next
	held   time.Duration // longest that the outlet took for a batch
	missed int64         // there was an outlet, and it had no room
	away   int64         // there was none
	since  time.Time     // when it fell silent; zero: it has not
}

// newWires makes the wires of a vehicle, one for each bus, which has a source of the same name. They are filled up to
// so many frames/s.
func newWires(t *testing.T, cfg simulated.Config, rate int) []*wire {
	t.Helper()
	v, err := simulated.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	var wires []*wire
	first := int64(0)
	frames(t, v, func(f *bus.Frame) {
		if first == 0 {
			first = f.At
		}
		for len(wires) <= int(f.Source) {
			wires = append(wires, &wire{hushed: true, length: time.Duration(loopS * float64(time.Second))})
		}
		w, g := wires[f.Source], *f
		g.At, g.Source = f.At-first, 0
		w.loop = append(w.loop, g)
	})
	for _, w := range wires {
		n := int(float64(rate)*loopS) - len(w.loop)
		for k := range max(n, 0) {
			f := bus.Frame{At: int64(float64(k) / float64(n) * float64(w.length)), ID: 0x600 + uint32(k%16), Len: 4}
			binary.BigEndian.PutUint32(f.Data[:], uint32(k)) // so that each is another one
			w.loop = append(w.loop, f)
		}
		slices.SortStableFunc(w.loop, func(a, b bus.Frame) int { return cmp.Compare(a.At, b.At) })
	}
	names := v.Names()
	for i, w := range wires {
		if w.source = names[i]; len(names) == 1 {
			w.source = "wheels" // as the simulation's own setup calls it
		}
	}
	return wires
}

// run sends until stop is closed.
func (w *wire) run(stop <-chan struct{}) {
	const step = 5 * time.Millisecond
	tick := time.NewTicker(step)
	defer tick.Stop()
	last := time.Now()
	for {
		select {
		case <-stop:
			return
		case <-tick.C:
		}
		now := time.Now()
		w.mu.Lock()
		w.at += now.Sub(last)
		w.send()
		w.mu.Unlock()
		last = now
	}
}

// due is when a frame is sent, in the wire's own time.
func (w *wire) due(n int64) time.Duration {
	k := int64(len(w.loop))
	return time.Duration(n/k)*w.length + time.Duration(w.loop[n%k].At)
}

// frame returns a frame by its number.
func (w *wire) frame(n int64) *bus.Frame { return &w.loop[n%int64(len(w.loop))] }

// send sends what is due. mu is held.
func (w *wire) send() {
	from := w.next
	var batch []*bus.Frame
	for ; w.due(w.next) <= w.at; w.next++ {
		batch = append(batch, w.frame(w.next))
	}
	switch {
	case len(batch) == 0:
	case w.to == nil || w.hushed:
		w.away += int64(len(batch))
	default:
		w.deliver(batch, span{from: from})
		var flood []*bus.Frame
		for n := range int64(len(batch)) * w.flood {
			flood = append(flood, flooded(w.more+n))
		}
		w.deliver(flood, span{from: w.more, flood: true})
		w.more += int64(len(flood))
	}
}

// deliver hands over frames, which are numbered from s on. mu is held.
func (w *wire) deliver(batch []*bus.Frame, s span) {
	if len(batch) == 0 {
		return
	}
	from := time.Now()
	n := int64(w.to.take(batch))
	w.held = max(w.held, time.Since(from))
	w.missed += int64(len(batch)) - n
	s.to = s.from + n
	if k := len(w.taken); k > 0 && w.taken[k-1].to == s.from && w.taken[k-1].flood == s.flood {
		w.taken[k-1].to = s.to
	} else if n > 0 {
		w.taken = append(w.taken, s)
	}
}

// flooded is a frame of a flood.
func flooded(n int64) *bus.Frame {
	f := bus.Frame{ID: 0x7E0, Len: 8}
	binary.BigEndian.PutUint64(f.Data[:], uint64(n))
	return &f
}

// of returns a frame of a span.
func (w *wire) of(s span, n int64) *bus.Frame {
	if s.flood {
		return flooded(n)
	}
	return w.frame(n)
}

// sent is how many frames were taken.
func (w *wire) sent() int64 {
	w.mu.Lock()
	defer w.mu.Unlock()
	n := int64(0)
	for _, s := range w.taken {
		n += s.to - s.from
	}
	return n
}

// silentSince returns since when it is silent; zero: it is not.
func (w *wire) silentSince() time.Time {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.since
}

// set changes how it sends.
func (w *wire) set(change func()) {
	w.mu.Lock()
	defer w.mu.Unlock()
	change()
}

// speak lets the amplifier send; hush ends that.
func (w *wire) speak() { w.set(func() { w.hushed, w.since = false, time.Time{} }) }

func (w *wire) hush() {
	w.set(func() {
		w.hushed = true
		if w.since.IsZero() {
			w.since = time.Now()
		}
	})
}

// terminal is a pseudo-terminal that stands for a serial adapter: it takes bytes as far as there is room.
type terminal struct {
	master *os.File
	rest   []byte // of a frame of which the beginning was taken
	begun  bool
	wait   time.Duration // for room; a busy machine may read late, a serial line never waits
}

func (p *terminal) take(frames []*bus.Frame) int {
	if !p.begun { // whoever joins a line cannot know of its first packet whether it is whole: it is an empty one
		p.rest, p.begun = []byte("\r"), true
	}
	if !p.flush() {
		return 0
	}
	var text []byte
	ends := make([]int, len(frames))
	for i, f := range frames {
		text = slcan(text, f)
		ends[i] = len(text)
	}
	n := p.write(text)
	for i, end := range ends {
		if n < end {
			begun := i > 0 && n > ends[i-1] || i == 0 && n > 0
			if begun {
				p.rest = bytes.Clone(text[n:end])
				return i + 1
			}
			return i
		}
	}
	return len(frames)
}

func (p *terminal) write(b []byte) int {
	_ = p.master.SetWriteDeadline(time.Now().Add(p.wait))
	n, _ := p.master.Write(b) // a line has no room, or nobody listens: both are no error of who sends
	return n
}

func (p *terminal) flush() bool {
	if len(p.rest) > 0 {
		p.rest = p.rest[p.write(p.rest):]
	}
	return len(p.rest) == 0
}

func (p *terminal) cut() {
	p.write([]byte("t1208")) // the plug is pulled in the middle of a frame
	time.Sleep(time.Millisecond)
	_ = p.master.Close()
}

// plug connects a wire to a pseudo-terminal that is found at path, as below /dev/serial/by-id.
func (w *wire) plug(t *testing.T, path string, wait time.Duration) {
	t.Helper()
	master, slave := pseudoTerminal(t)
	if err := os.Symlink(slave, path); err != nil {
		t.Fatal(err)
	}
	w.set(func() { w.to = &terminal{master: master, wait: wait} })
}

// unplug takes the terminal away again.
func (w *wire) unplug(t *testing.T, path string) {
	t.Helper()
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	w.set(func() {
		w.to.cut()
		w.to = nil
		if w.since.IsZero() {
			w.since = time.Now()
		}
	})
}

// canOutlet is a CAN interface that a wire sends on.
type canOutlet struct {
	fd  int
	buf [16]byte
}

// openCAN opens a socket for a test to send on: the program has none.
func openCAN(t *testing.T, name string) *canOutlet {
	t.Helper()
	fd, err := unix.Socket(unix.AF_CAN, unix.SOCK_RAW|unix.SOCK_CLOEXEC|unix.SOCK_NONBLOCK, unix.CAN_RAW)
	if err != nil {
		t.Fatal(err)
	}
	o := &canOutlet{fd: fd}
	if err := o.bind(name); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = unix.Close(fd) })
	return o
}

func (o *canOutlet) bind(name string) error {
	ifr, err := unix.NewIfreq(name)
	if err != nil {
		return err
	}
	if err := unix.IoctlIfreq(o.fd, unix.SIOCGIFINDEX, ifr); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return unix.Bind(o.fd, &unix.SockaddrCAN{Ifindex: int(ifr.Uint32())})
}

func (o *canOutlet) take(frames []*bus.Frame) int {
	for i, f := range frames {
		o.buf = [16]byte{byte(f.ID), byte(f.ID >> 8), byte(f.ID >> 16), byte(f.ID >> 24), f.Len} // little-endian, as the guest is
		copy(o.buf[8:], f.Payload())
		_, err := unix.Write(o.fd, o.buf[:])
		if errors.Is(err, unix.ENETDOWN) || errors.Is(err, unix.EINTR) { // that it was down is told once, when it is up again
			_, err = unix.Write(o.fd, o.buf[:])
		}
		if err != nil {
			return i
		}
	}
	return len(frames)
}

func (o *canOutlet) flush() bool { return true }
func (o *canOutlet) cut()        {}

// wirePath is where the setup looks for the adapter of a source.
func wirePath(dir, source string) string { return filepath.Join(dir, "adapter-"+source) }
