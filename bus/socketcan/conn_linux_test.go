package socketcan

import (
	"errors"
	"os"
	"sync"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"plumbline/bus"
)

// udpConn is a conn over UDP on this computer, which stamps and counts as a CAN
// socket does, and a function that sends to it.
func udpConn(t testing.TB, buffer int) (*conn, func([]byte)) {
	t.Helper()
	fd, err := unix.Socket(unix.AF_INET, unix.SOCK_DGRAM|unix.SOCK_NONBLOCK|unix.SOCK_CLOEXEC, 0)
	if err != nil {
		t.Fatal(err)
	}
	c := newConn(fd)
	t.Cleanup(c.close)
	if err := c.setCommon(buffer); err != nil {
		t.Fatal(err)
	}
	if err := unix.Bind(fd, &unix.SockaddrInet4{Addr: [4]byte{127, 0, 0, 1}}); err != nil {
		t.Fatal(err)
	}
	to, err := unix.Getsockname(fd)
	if err != nil {
		t.Fatal(err)
	}
	out, err := unix.Socket(unix.AF_INET, unix.SOCK_DGRAM|unix.SOCK_CLOEXEC, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = unix.Close(out) })
	return c, func(b []byte) {
		if err := unix.Sendto(out, b, 0, to); err != nil {
			t.Error(err)
		}
	}
}

// TestConnStamps receives through recvmmsg with real control messages.
func TestConnStamps(t *testing.T) {
	c, send := udpConn(t, 1<<20)
	// The kernel switches stamping on in the background when the first socket asks for it: on a busy machine
	// the first frames have none.
	for stamped := false; !stamped && t.Context().Err() == nil; {
		send(raw(16, 0, 2, 0))
		if err := c.fill(); err != nil {
			t.Fatal(err)
		}
		for c.waiting() {
			stamped = c.ahead().software != 0
			var f bus.Frame
			if _, err := c.take(&f); err != nil {
				t.Fatal(err)
			}
		}
	}
	before := time.Now().UnixNano()
	for i := range 300 {
		send(raw(16, uint32(i), 2, 0, byte(i), byte(i>>8)))
	}
	n, last := 0, before
	for n < 300 {
		if err := c.fill(); err != nil {
			t.Fatal(err)
		}
		if want := min(staged, 300-n); c.n != want {
			t.Fatalf("%d frames at once, want %d", c.n, want)
		}
		if c.full() != (c.n == staged) {
			t.Error("full is not full")
		}
		for c.waiting() {
			at := c.ahead().software
			var f bus.Frame
			lost, err := c.take(&f)
			if err != nil || lost != 0 || f.ID != uint32(n) || f.Data[0] != byte(n) || f.Len != 2 {
				t.Fatalf("frame %d: %+v, %d lost, %v", n, f, lost, err)
			}
			if at < last || at > time.Now().UnixNano() {
				t.Errorf("frame %d is stamped %d, after %d", n, at, last)
			}
			last = at
			n++
		}
	}
	if err := c.fill(); err != nil || c.waiting() {
		t.Errorf("nothing waits, and fill gave %d frames and error %v", c.n, err)
	}
}

// TestConnDrops floods a small queue: the losses stand where they were, and the
// last are asked for.
func TestConnDrops(t *testing.T) {
	c, send := udpConn(t, 8<<10)
	const sent = 500
	var received, lost int
	take := func() {
		for more := true; more; {
			if err := c.fill(); err != nil {
				t.Fatal(err)
			}
			more = c.waiting()
			for c.waiting() {
				var f bus.Frame
				n, err := c.take(&f)
				if err != nil {
					t.Fatal(err)
				}
				lost += int(n)
				if int(f.ID) != received+lost {
					t.Fatalf("frame %d after %d received and %d lost", f.ID, received, lost)
				}
				received++
			}
		}
	}
	for i := range sent {
		send(raw(16, uint32(i), 0, 0))
	}
	take()
	if received == 0 || received == sent || lost != 0 {
		t.Fatalf("%d received, %d lost; the queue was to be full at some time, and only its end lost", received, lost)
	}
	lost += int(c.lostSince())
	if received+lost != sent {
		t.Errorf("received %d + lost %d, want %d", received, lost, sent)
	}
	if again := c.lostSince(); again != 0 {
		t.Errorf("%d told twice", again)
	}
	for i := range sent { // lost in the middle: told by the frame that follows
		send(raw(16, uint32(sent+i), 0, 0))
	}
	if err := c.fill(); err != nil {
		t.Fatal(err)
	}
	send(raw(16, 2*sent, 0, 0))
	for c.waiting() {
		var f bus.Frame
		n, err := c.take(&f)
		if err != nil || int(f.ID) != received+lost+int(n) {
			t.Fatalf("frame %d, %d lost before it, %v; after %d received and %d lost", f.ID, n, err, received, lost)
		}
		lost += int(n)
		received++
	}
	take()
	if received+lost != 2*sent+1 {
		t.Errorf("received %d + lost %d, want %d", received, lost, 2*sent+1)
	}
}

func TestLostWraps(t *testing.T) {
	c := newConn(-1)
	c.drops = 0xFFFFFFF0
	for _, row := range []struct{ total, want uint32 }{{0xFFFFFFF0, 0}, {0xFFFFFFFF, 15}, {5, 6}, {3, 0}, {5, 0}, {6, 1}} {
		if got := c.lost(row.total); got != row.want {
			t.Errorf("total %d: %d lost, want %d", row.total, got, row.want)
		}
	}
}

// udpReader is a whole Reader whose one interface is a UDP socket, and that socket.
func udpReader(t testing.TB) (r *Reader, socket int, send func([]byte)) {
	t.Helper()
	c, send := udpConn(t, 4<<20)
	r = &Reader{names: []string{"can0"}, most: 20 * time.Millisecond, epoll: -1, wakeRead: -1, wakeWrite: -1}
	if err := r.start(); err != nil {
		t.Fatal(err)
	}
	p := &port{
		name: "can0", open: func(int) (*conn, error) { return c, nil },
		link: link{index: 1, isCAN: true}, health: health{name: "can0", silentAfter: 1000 * ms},
	}
	p.health.learn(&link{isCAN: true, up: true, kind: "vcan"}, r.clocks.mono)
	r.ports = []*port{p}
	r.pollAt = r.clocks.mono + 1<<60 // netlink knows of no such interface
	return r, c.fd, send
}

func TestReaderOverUDP(t *testing.T) {
	r, _, send := udpReader(t)
	defer r.Close()
	var b bus.Batch
	if err := r.wait(r.clocks.mono); err != nil { // binds
		t.Fatal(err)
	}
	if _, err := r.advance(&b); err != nil {
		t.Fatal(err)
	}
	b.Frames = make([]bus.Frame, 0, 10)
	for i := range 250 {
		send(raw(16, uint32(i), 0, 0))
	}
	next := uint32(0)
	for next < 250 {
		if err := r.Read(&b); err != nil {
			t.Fatal(err)
		}
		if len(b.Frames) > 10 {
			t.Fatalf("%d frames where 10 fit", len(b.Frames))
		}
		for _, f := range b.Frames {
			if f.ID != next {
				t.Fatalf("frame %d, want %d", f.ID, next)
			}
			next++
		}
	}
	// a Read that waits is ended by Close, which waits for it
	var wg sync.WaitGroup
	var err error
	wg.Go(func() {
		for err == nil {
			err = r.Read(&b)
		}
	})
	time.Sleep(20 * time.Millisecond)
	begin := time.Now()
	if cerr := r.Close(); cerr != nil {
		t.Error(cerr)
	}
	wg.Wait()
	if !errors.Is(err, os.ErrClosed) || time.Since(begin) > time.Second {
		t.Errorf("Read ended with %v after %v", err, time.Since(begin))
	}
}

// TestStepIsPlaced puts a step of the clock between frames that were stamped
// before and after it, on two interfaces.
func TestStepIsPlaced(t *testing.T) {
	for _, step := range []int64{6000 * ms, -6000 * ms} {
		now := int64(1_700_000_000_000 * ms) // the new time
		r := &Reader{names: []string{"a", "b"}, pending: step, clocks: clocks{wall: now}}
		stampsOf := [][]int64{{-step - 40*ms, -step - 20*ms, -10 * ms}, {-step - 30*ms, -20 * ms, -5 * ms}}
		for s, stamps := range stampsOf {
			c := newConn(-1)
			for i, at := range stamps {
				copy(c.frames[i][:], raw(16, uint32(10*s+i), 0, 0))
				c.messages[i].n = 16
				c.parsed[i] = control{software: now + at}
				c.n++
			}
			r.ports = append(r.ports, &port{source: uint16(s), conn: c})
		}
		var b bus.Batch
		b.Reset()
		if r.deliver(notes{&b, now}) {
			t.Fatal("the batch is full")
		}
		var got []uint32
		for _, f := range b.Frames {
			got = append(got, f.ID)
		}
		want := []uint32{0, 10, 1, 11, 2, 12}
		for i := range want {
			if i >= len(got) || got[i] != want[i] {
				t.Fatalf("step %d: order %v, want %v", step, got, want)
			}
		}
		found := false
		for _, n := range b.Notes {
			if n.Kind == bus.Clock {
				found = true
				if n.Before != 3 || n.Step != step {
					t.Errorf("step %d: note %+v, want before frame 3", step, n)
				}
			}
		}
		if !found {
			t.Errorf("step %d is not told", step)
		}
	}
}

// TestNothingIsAllocated receives and delivers frames without a single allocation.
func TestNothingIsAllocated(t *testing.T) {
	c, send := udpConn(t, 1<<20)
	p := &port{name: "can0", conn: c, health: health{shown: verdict{link: bus.ErrorActive}}}
	var b bus.Batch
	b.Reset()
	got := 0
	allocs := testing.AllocsPerRun(50, func() {
		for range 20 {
			send(raw(16, 1, 8, 0, 1, 2, 3, 4, 5, 6, 7, 8))
		}
		b.Reset()
		if err := c.fill(); err != nil {
			t.Fatal(err)
		}
		for p.waiting() {
			p.deliver(notes{&b, 1}, clocks{1, 1})
		}
		got += len(b.Frames)
	})
	// the frames that are sent are allocated by the test itself: raw and Sendto
	bare := testing.AllocsPerRun(50, func() {
		for range 20 {
			send(raw(16, 1, 8, 0, 1, 2, 3, 4, 5, 6, 7, 8))
		}
	})
	if allocs > bare {
		t.Errorf("%v allocations for 20 frames, %v of them for sending", allocs, bare)
	}
	if got < 20*50 {
		t.Errorf("%d frames were received", got)
	}
}
