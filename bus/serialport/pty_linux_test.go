package serialport

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// device is the far end of a serial line: the master of a pseudo-terminal. Its
// other end goes through the terminal driver of the kernel, as that of a real port does.
type device struct {
	t      testing.TB
	master int
	path   string // a link, as below /dev/serial/by-id
}

// plug makes a device and links it from path.
func plug(t testing.TB, path string) *device {
	t.Helper()
	master, err := unix.Open("/dev/ptmx", unix.O_RDWR|unix.O_NOCTTY|unix.O_CLOEXEC, 0)
	if err != nil {
		t.Fatalf("no pseudo-terminals: %v", err)
	}
	if err := unix.IoctlSetPointerInt(master, unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetUint32(master, unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(fmt.Sprintf("/dev/pts/%d", n), path); err != nil {
		t.Fatal(err)
	}
	d := &device{t: t, master: master, path: path}
	t.Cleanup(d.pull)
	return d
}

// pull unplugs the device: the line is hung up and its link is gone.
func (d *device) pull() {
	if d.master < 0 {
		return
	}
	if err := os.Remove(d.path); err != nil {
		d.t.Error(err)
	}
	if err := unix.Close(d.master); err != nil {
		d.t.Error(err)
	}
	d.master = -1
}

// send sends bytes to whoever listens.
func (d *device) send(b []byte) {
	for len(b) > 0 {
		n, err := unix.Write(d.master, b)
		if err == unix.EINTR {
			continue
		}
		if err != nil {
			d.t.Errorf("the device cannot send: %v", err)
			return
		}
		b = b[n:]
	}
}

// hears reports whether anything arrives at the device.
func (d *device) hears(wait time.Duration) bool {
	fds := []unix.PollFd{{Fd: int32(d.master), Events: unix.POLLIN}}
	n, err := unix.Poll(fds, int(wait.Milliseconds()))
	if err != nil && err != unix.EINTR {
		d.t.Error(err)
	}
	return n > 0 && fds[0].Revents&unix.POLLIN != 0
}

func byID(t testing.TB) string { return filepath.Join(t.TempDir(), "usb-example-if00") }

// descriptors counts what this process holds open.
func descriptors(t testing.TB) int {
	t.Helper()
	list, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Fatal(err)
	}
	return len(list)
}
