//go:build linux

package socketcan

import (
	"fmt"
	"os/exec"
	"runtime"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"plumbline/bus"
)

// testReplug takes one interface through all that can happen to it while
// another goes on being heard.
func testReplug(t *testing.T) {
	addVcan(t, "plstay0")
	c := on("plgone0", "plstay0")
	c.SilentAfter = 200 * time.Millisecond
	l := listenTo(t, c)
	l.untilLink(0, bus.Absent, "no such interface")
	l.untilLink(1, bus.Silent, "nobody sends")

	heard := 0
	both := func() {
		t.Helper()
		command(t, "cansend", "plgone0", fmt.Sprintf("%03X#00", heard))
		command(t, "cansend", "plstay0", fmt.Sprintf("%03X#01", heard))
		heard++
		l.untilFrames(2 * heard)
		for _, f := range l.heard()[2*heard-2 : 2*heard] {
			if f.ID != uint32(heard-1) || uint16(f.Data[0]) != f.Source {
				t.Errorf("round %d: frame %+v", heard, f)
			}
		}
	}
	bound := func() { // to the interface that has the name now
		t.Helper()
		index := indexOf(t, "plgone0")
		for deadline := time.Now().Add(5 * time.Second); l.Info()[0].Index != index; time.Sleep(5 * time.Millisecond) {
			if time.Now().After(deadline) {
				t.Fatalf("not bound to interface %d: %+v", index, l.Info()[0])
			}
		}
	}
	ip(t, "link", "add", "plgone0", "type", "vcan")
	t.Cleanup(func() { _ = exec.Command("ip", "link", "del", "plgone0").Run() })
	l.untilLink(0, bus.Down, "switched off")
	ip(t, "link", "set", "plgone0", "up")
	l.untilLink(0, bus.Silent, "nobody sends")
	both()
	l.saidLink(0, bus.ErrorActive, "frames arrive")
	for range 5 {
		ip(t, "link", "set", "plgone0", "down")
		l.untilLink(0, bus.Down, "switched off")
		ip(t, "link", "set", "plgone0", "up")
		both()
	}
	for range 5 {
		ip(t, "link", "del", "plgone0")
		l.untilLink(0, bus.Absent, "no such interface")
		ip(t, "link", "add", "plgone0", "type", "vcan")
		ip(t, "link", "set", "plgone0", "up")
		bound()
		both()
	}
	// replaced at once, so that only the index tells
	ip(t, "link", "del", "plgone0")
	ip(t, "link", "add", "plgone0", "type", "vcan")
	ip(t, "link", "set", "plgone0", "up")
	bound()
	both()
	// renamed: the name belongs to nobody, then to another
	ip(t, "link", "set", "plgone0", "down")
	ip(t, "link", "set", "plgone0", "name", "plother0")
	t.Cleanup(func() { _ = exec.Command("ip", "link", "del", "plother0").Run() })
	l.untilLink(0, bus.Absent, "no such interface")
	ip(t, "link", "add", "plgone0", "type", "vcan")
	ip(t, "link", "set", "plgone0", "up")
	bound()
	ip(t, "link", "set", "plother0", "up")
	command(t, "cansend", "plother0", "555#00")
	both()
	for _, n := range l.said() {
		if n.Source == 1 && n.Kind == bus.LinkChanged && n.Link != bus.Silent && n.Link != bus.ErrorActive {
			t.Errorf("the interface that stayed was said to have changed: %+v", n)
		}
	}
	// a name that is not CAN
	l2 := listenTo(t, on("lo"))
	l2.untilLink(0, bus.Absent, "not a CAN interface")
}

// testDescriptors opens, removes and closes many times and counts descriptors.
func testDescriptors(t *testing.T) {
	addVcan(t, "plfdc0")
	before := openDescriptors(t)
	for range 10 {
		r, err := Open(on("plfdc0", "plnone0"))
		if err != nil {
			t.Fatal(err)
		}
		var b bus.Batch
		if err := r.Read(&b); err != nil {
			t.Fatal(err)
		}
		ip(t, "link", "del", "plfdc0")
		for r.Info()[0].Link != bus.Absent {
			if err := r.Read(&b); err != nil {
				t.Fatal(err)
			}
		}
		if r.ports[0].conn != nil {
			t.Error("a socket is held for an interface that is gone")
		}
		ip(t, "link", "add", "plfdc0", "type", "vcan")
		ip(t, "link", "set", "plfdc0", "up")
		for r.Info()[0].Link == bus.Absent {
			if err := r.Read(&b); err != nil {
				t.Fatal(err)
			}
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	}
	if after := openDescriptors(t); after != before {
		t.Errorf("%d descriptors before, %d after", before, after)
	}
}

func cpuTime(who int) time.Duration {
	var u unix.Rusage
	_ = unix.Getrusage(who, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// testIdle watches what waiting costs: no busy loop, whatever is missing.
func testIdle(t *testing.T) {
	addVcan(t, "plidle0")
	addVcan(t, "plidle1")
	ip(t, "link", "set", "plidle1", "down")
	l := listenTo(t, on("plidle0", "plidle1", "plidle2"))
	l.untilLink(0, bus.Silent, "")
	ip(t, "link", "del", "plidle0")
	l.untilLink(0, bus.Absent, "")
	before := cpuTime(unix.RUSAGE_SELF)
	time.Sleep(2 * time.Second)
	used := cpuTime(unix.RUSAGE_SELF) - before
	t.Logf("waiting for two missing interfaces and one that is down took %v of processor time in 2 s", used)
	// a loop would take all of it; under a busy, emulated processor the rest is slow
	if used > 500*time.Millisecond {
		t.Errorf("waiting took %v of processor time in 2 s, want less than 500 ms", used)
	}
}

// testClose closes while Read waits, while it is busy, and twice.
func testClose(t *testing.T) {
	addVcan(t, "plclose0")
	for range 10 {
		l := listenTo(t, on("plclose0"))
		l.stop()
		if err := l.Close(); err != nil {
			t.Error(err)
		}
	}
	done := make(chan struct{})
	defer func() { <-done }()
	go func() {
		defer close(done)
		_ = exec.Command("cangen", "plclose0", "-g", "0", "-n", "5000", "-i").Run()
	}()
	for range 10 {
		l := listenTo(t, on("plclose0"))
		time.Sleep(20 * time.Millisecond)
		l.stop()
	}
	var b bus.Batch
	r, err := Open(on("plclose0"))
	if err != nil {
		t.Fatal(err)
	}
	r.Close()
	if err := r.Read(&b); err == nil || len(b.Frames) > 0 {
		t.Errorf("Read after Close: %d frames, error %v", len(b.Frames), err)
	}
}

// testClockSet sets the clock forward and back between frames.
func testClockSet(t *testing.T) {
	guestOnly(t)
	addVcan(t, "plclk0")
	r, err := Open(on("plclk0"))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	send := sender(t, "plclk0")
	var b bus.Batch
	read := func(want int) (got []string) {
		for frames := 0; frames < want; {
			if err := r.Read(&b); err != nil {
				t.Fatal(err)
			}
			n := 0
			for i := 0; i <= len(b.Frames); i++ {
				for ; n < len(b.Notes) && b.Notes[n].Before == i; n++ {
					if note := b.Notes[n]; note.Kind == bus.Clock {
						got = append(got, fmt.Sprintf("step %.1f", float64(note.Step)/1e9))
					}
				}
				if i < len(b.Frames) {
					got = append(got, fmt.Sprint(b.Frames[i].ID))
					frames++
				}
			}
		}
		return got
	}
	set := func(seconds int64) {
		var ts unix.Timespec
		if err := unix.ClockGettime(unix.CLOCK_REALTIME, &ts); err != nil {
			t.Fatal(err)
		}
		ts = unix.NsecToTimespec(ts.Nano() + seconds*1e9)
		if err := unix.ClockSettime(unix.CLOCK_REALTIME, &ts); err != nil {
			t.Fatal(err)
		}
	}
	for _, step := range []int64{6, -6} {
		send(classic(1))
		send(classic(2))
		set(step)
		send(classic(3))
		send(classic(4))
		got := strings.Join(read(4), ", ")
		if want := fmt.Sprintf("1, 2, step %d.0, 3, 4", step); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
	set(3)
	for found := false; !found; {
		if err := r.Read(&b); err != nil {
			t.Fatal(err)
		}
		for _, n := range b.Notes {
			found = found || n.Kind == bus.Clock
		}
	}
	set(-3)
}

// testCost measures what receiving takes, against candump on the same flood.
func testCost(t *testing.T) {
	guestOnly(t)
	addVcan(t, "plcost0")
	const frames = 8000
	r, err := Open(on("plcost0"))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	gen := exec.Command("cangen", "plcost0", "-g", "0.1", "-n", fmt.Sprint(frames), "-I", "123", "-L", "8", "-i")
	dump := exec.Command("candump", "-L", "-n", fmt.Sprint(frames), "-r", "4000000", "plcost0")
	if err := dump.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(100 * time.Millisecond)
	if err := gen.Start(); err != nil {
		t.Fatal(err)
	}
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	var b bus.Batch
	var got, lost, reads uint64
	begin, cpu := time.Now(), cpuTime(unix.RUSAGE_THREAD)
	for got+lost < frames {
		if err := r.Read(&b); err != nil {
			t.Fatal(err)
		}
		reads++
		got += uint64(len(b.Frames))
		for _, n := range b.Notes {
			if n.Kind == bus.Loss {
				lost += n.Count
			}
		}
	}
	took, used := time.Since(begin), cpuTime(unix.RUSAGE_THREAD)-cpu
	if err := gen.Wait(); err != nil {
		t.Error(err)
	}
	_ = dump.Wait()
	other := dump.ProcessState.UserTime() + dump.ProcessState.SystemTime()
	t.Logf("%d frames in %v (%.0f/s), %d lost, %d reads; %.2f µs of processor a frame, candump -L %.2f µs",
		got, took.Round(time.Millisecond), float64(got)/took.Seconds(), lost, reads,
		float64(used.Microseconds())/float64(got), float64(other.Microseconds())/float64(frames))
	if lost > 0 {
		t.Errorf("%d of %d frames were lost", lost, frames)
	}
}
