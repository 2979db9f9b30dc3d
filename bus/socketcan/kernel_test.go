//go:build linux

package socketcan

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"plumbline/bus"
)

// guest says that this runs in the kernel that .ci/kernel/boot started, where
// everything may be changed: the clock, can0, module parameters.
const guest = "PLUMBLINE_GUEST"

// TestKernel listens to a real kernel: to this one, where it has CAN and this is
// root, else to one that is booted for it.
func TestKernel(t *testing.T) {
	err := canHere()
	switch {
	case err == nil:
		t.Run("classic", testClassic)
		t.Run("FD", testFD)
		t.Run("canplayer", testCanplayer)
		t.Run("vxcan", testVxcan)
		t.Run("filters", testFilters)
		t.Run("flood", testFlood)
		t.Run("two interfaces in one order", testOrder)
		t.Run("down, up, removed, back", testReplug)
		t.Run("descriptors", testDescriptors)
		t.Run("idle", testIdle)
		t.Run("close", testClose)
		t.Run("error frames and bus-off", testSlcan)
		t.Run("controllers", testControllers)
		t.Run("by adapter", testAdapter)
		t.Run("overrun", testOverrun)
		t.Run("clock set", testClockSet)
		t.Run("cost", testCost)
	case os.Getenv(guest) != "":
		t.Fatalf("the kernel that was booted for it has no CAN: %v", err)
	case testing.Short():
		t.Skipf("boots a kernel, since here: %v", err)
	default:
		bootKernel(t)
	}
}

// guestOnly skips a test that changes the machine, unless that is there for it.
func guestOnly(t *testing.T) {
	t.Helper()
	if os.Getenv(guest) == "" {
		t.Skip("changes the machine: only in a guest")
	}
}

// canHere returns why the tests cannot be run on this kernel, nil when they can.
func canHere() error {
	if err := hasCAN(); err != nil {
		return err
	}
	const name = "plprobe"
	if out, err := exec.Command("ip", "link", "add", name, "type", "vcan").CombinedOutput(); err != nil {
		return fmt.Errorf("ip link add: %w: %s", err, out)
	}
	return exec.Command("ip", "link", "del", name).Run()
}

// bootKernel builds this package's tests without cgo and runs TestKernel in a guest.
func bootKernel(t *testing.T) {
	t.Helper()
	boot, err := filepath.Abs("../../.ci/kernel/boot")
	if err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(boot, "--check").CombinedOutput(); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("no kernel can be booted: %s", out)
		}
		t.Skipf("no kernel can be booted: %s", out)
	}
	binary := filepath.Join(t.TempDir(), "socketcan.test")
	build := exec.Command("go", "test", "-c", "-o", binary, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("go test -c: %v\n%s", err, out)
	}
	var out bytes.Buffer
	run := exec.Command(boot, binary, "-test.run", "^TestKernel$", "-test.v", "-test.timeout", "80s")
	run.Stdout, run.Stderr = &out, &out
	err = run.Run()
	if err != nil {
		t.Fatalf("in the guest: %v\n%s", err, out.Bytes())
	}
	t.Logf("in the guest:\n%s", out.Bytes())
	if want := "--- PASS: TestKernel"; !strings.Contains(out.String(), want) {
		t.Errorf("the guest did not print %q", want)
	}
}

// ip runs ip, and stops the test where it fails.
func ip(t *testing.T, args ...string) {
	t.Helper()
	command(t, "ip", args...)
}

func command(t *testing.T, name string, args ...string) {
	t.Helper()
	if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
}

// addVcan makes a virtual interface that is up, and removes it after the test.
func addVcan(t *testing.T, name string, args ...string) {
	t.Helper()
	ip(t, append(append([]string{"link", "add", name}, args...), "type", "vcan")...)
	t.Cleanup(func() { _ = exec.Command("ip", "link", "del", name).Run() })
	ip(t, "link", "set", name, "up")
}

// sender is a raw socket of a test; the package itself has none that sends.
func sender(t *testing.T, name string) func(frame []byte) {
	t.Helper()
	fd, err := unix.Socket(unix.AF_CAN, unix.SOCK_RAW|unix.SOCK_CLOEXEC, unix.CAN_RAW)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = unix.Close(fd) })
	if err := unix.Bind(fd, &unix.SockaddrCAN{Ifindex: indexOf(t, name)}); err != nil {
		t.Fatal(err)
	}
	return func(frame []byte) {
		for {
			_, err := unix.Write(fd, frame)
			if errors.Is(err, unix.ENOBUFS) {
				time.Sleep(time.Millisecond)
				continue
			}
			if err != nil {
				t.Errorf("send on %s: %v", name, err)
			}
			return
		}
	}
}

func indexOf(t *testing.T, name string) int {
	t.Helper()
	var index int
	if _, err := fmt.Sscan(line(filepath.Join(classNet, name, "ifindex")), &index); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return index
}

// listener reads in a goroutine and keeps everything.
type listener struct {
	*Reader
	t    *testing.T
	done chan error

	mu     sync.Mutex
	more   *sync.Cond
	frames []bus.Frame
	notes  []heardNote
}

// heardNote is a note and how many frames had been heard before it.
type heardNote struct {
	bus.Note
	frames int
}

func listenTo(t *testing.T, c Config) *listener {
	t.Helper()
	r, err := Open(c)
	if err != nil {
		t.Fatal(err)
	}
	l := &listener{Reader: r, t: t, done: make(chan error, 1)}
	l.more = sync.NewCond(&l.mu)
	go l.read()
	t.Cleanup(l.stop)
	return l
}

// heard returns the frames so far.
func (l *listener) heard() []bus.Frame {
	l.mu.Lock()
	defer l.mu.Unlock()
	return slices.Clone(l.frames)
}

// said returns the notes so far.
func (l *listener) said() []heardNote {
	l.mu.Lock()
	defer l.mu.Unlock()
	return slices.Clone(l.notes)
}

func (l *listener) read() {
	var b bus.Batch
	for {
		err := l.Read(&b)
		l.mu.Lock()
		for _, n := range b.Notes {
			l.notes = append(l.notes, heardNote{n, len(l.frames) + n.Before})
		}
		l.frames = append(l.frames, b.Frames...)
		l.more.Broadcast()
		l.mu.Unlock()
		if err != nil {
			l.done <- err
			return
		}
	}
}

func (l *listener) stop() {
	_ = l.Close()
	select {
	case err := <-l.done:
		if !errors.Is(err, os.ErrClosed) {
			l.t.Errorf("Read ended with %v, want os.ErrClosed", err)
		}
	case <-time.After(5 * time.Second):
		l.t.Error("Read did not return within 5 s of Close")
	}
	l.done <- os.ErrClosed // for a second stop
}

// until waits for a condition on what was heard; it fails the test after limit.
func (l *listener) until(what string, limit time.Duration, ok func() bool) {
	l.t.Helper()
	expired := false
	timer := time.AfterFunc(limit, func() {
		l.mu.Lock()
		expired = true
		l.more.Broadcast()
		l.mu.Unlock()
	})
	defer timer.Stop()
	l.mu.Lock()
	defer l.mu.Unlock()
	for !ok() {
		if expired {
			l.t.Fatalf("no %s within %v; %d frames and notes:\n%s", what, limit, len(l.frames), l.noteLines())
		}
		l.more.Wait()
	}
}

func (l *listener) untilFrames(n int) {
	l.t.Helper()
	l.until(fmt.Sprintf("%d frames", n), 5*time.Second, func() bool { return len(l.frames) >= n })
}

// untilLink waits for a change to a state after the first skip notes, with a text, and returns it.
func (l *listener) untilLink(source uint16, link bus.Link, text string) heardNote {
	l.t.Helper()
	var found heardNote
	l.until(fmt.Sprintf("link %d of source %d with %q", link, source, text), 6*time.Second, func() bool {
		for _, n := range slices.Backward(l.notes) {
			if n.Kind == bus.LinkChanged && n.Source == source {
				found = n
				return n.Link == link && strings.Contains(n.Text, text)
			}
		}
		return false
	})
	return found
}

// saidLink waits until a state was told, whatever has been told since: on a slow machine it may be quiet again already.
func (l *listener) saidLink(source uint16, link bus.Link, text string) {
	l.t.Helper()
	l.until(fmt.Sprintf("link %d of source %d with %q", link, source, text), 6*time.Second, func() bool {
		return slices.ContainsFunc(l.notes, func(n heardNote) bool {
			return n.Kind == bus.LinkChanged && n.Source == source && n.Link == link && strings.Contains(n.Text, text)
		})
	})
}

func (l *listener) noteLines() string {
	var s strings.Builder
	for _, n := range l.notes {
		fmt.Fprintf(&s, "%d frames: kind %d source %d link %d count %d place %d step %d: %s\n", n.frames, n.Kind, n.Source, n.Link, n.Count, n.Place, n.Step, n.Text)
	}
	return s.String()
}

func on(names ...string) Config {
	var c Config
	for _, n := range names {
		c.Interfaces = append(c.Interfaces, Interface{Name: n})
	}
	return c
}

func openDescriptors(t *testing.T) int {
	t.Helper()
	runtime.GC() // files that a test forgot
	entries, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Fatal(err)
	}
	return len(entries)
}
