//go:build linux

package socketcan

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"plumbline/bus"
)

// adapter is a pseudo-terminal whose other end the kernel's slcan driver holds:
// what is written to it, the kernel takes for a serial CAN adapter's word.
type adapter struct {
	t    *testing.T
	pty  *os.File
	name string
}

func newAdapter(t *testing.T) *adapter {
	t.Helper()
	pty, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if err := unix.IoctlSetPointerInt(int(pty.Fd()), unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	number, err := unix.IoctlGetInt(int(pty.Fd()), unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	slave, err := unix.Open(fmt.Sprintf("/dev/pts/%d", number), unix.O_RDWR|unix.O_NOCTTY|unix.O_CLOEXEC, 0)
	if err != nil {
		t.Fatal(err)
	}
	term := &unix.Termios{Cflag: unix.CS8 | unix.CREAD | unix.CLOCAL | unix.B115200}
	if err := unix.IoctlSetTermios(slave, unix.TCSETS, term); err != nil {
		t.Fatal(err)
	}
	const slcan = 17 // N_SLCAN, linux/tty.h
	if err := unix.IoctlSetPointerInt(slave, unix.TIOCSETD, slcan); err != nil {
		t.Fatalf("line discipline slcan: %v", err)
	}
	request, err := unix.NewIfreq("x")
	if err != nil {
		t.Fatal(err)
	}
	if err := unix.IoctlIfreq(slave, unix.SIOCGIFNAME, request); err != nil {
		t.Fatalf("name of the interface: %v", err)
	}
	a := &adapter{t, pty, request.Name()}
	t.Cleanup(func() {
		_ = unix.Close(slave)
		_ = pty.Close()
	})
	ip(t, "link", "set", a.name, "up")
	return a
}

func (a *adapter) says(text string) {
	a.t.Helper()
	if _, err := a.pty.WriteString(strings.ReplaceAll(text, " ", "\r") + "\r"); err != nil {
		a.t.Fatal(err)
	}
}

// testSlcan goes through all states of a controller with the driver of the
// kernel that takes them from text: t123… a frame, e… errors, s… a state with
// the receive and transmit counters.
func testSlcan(t *testing.T) {
	guestOnly(t)
	a := newAdapter(t)
	c := on(a.name)
	c.SilentAfter = 300 * time.Millisecond
	l := listenTo(t, c)
	l.untilLink(0, bus.Silent, "no error is seen")
	a.says("t1232AABB")
	l.untilLink(0, bus.ErrorActive, "frames arrive")
	a.says("sw100020")
	n := l.untilLink(0, bus.ErrorWarning, "receive counter 100, transmit counter 20")
	if f := l.heard()[n.frames-1]; !f.Flags.Has(bus.Error) || f.ID&(unix.CAN_ERR_CRTL|unix.CAN_ERR_CNT) != unix.CAN_ERR_CRTL|unix.CAN_ERR_CNT || f.Data[6] != 20 || f.Data[7] != 100 {
		t.Errorf("error frame before the note: %+v", f)
	}
	a.says("sp130020")
	l.untilLink(0, bus.ErrorPassive, "receive counter 130")
	// only broken frames: the sentence becomes the one for a wrong bit rate
	a.says("e1f e1c e1f")
	l.untilLink(0, bus.ErrorPassive, "not one whole frame")
	a.says("sa010000")
	l.untilLink(0, bus.Silent, "wrong bit rate")
	a.says("e1a e1a e1a e1a e1a e1a e1a e1a")
	l.untilLink(0, bus.Silent, "nobody acknowledges")
	// the adapter lost a frame: an error frame says so, and the counter of the device
	a.says("e1o t1232AACC")
	l.until("loss in the controller", 3*time.Second, func() bool {
		for _, n := range l.notes {
			if n.Kind == bus.Loss {
				return true
			}
		}
		return false
	})
	// bus-off and back within a moment is shown for two seconds
	a.says("sb256000 sa000000 t1230")
	off := l.untilLink(0, bus.BusOff, "bus-off")
	back := l.untilLink(0, bus.Silent, "nothing heard")
	if d := time.Duration(back.At - off.At); d < 2*time.Second {
		t.Errorf("bus-off was shown for %v, want 2 s at least", d)
	}
	a.says("t1230")
	l.untilLink(0, bus.ErrorActive, "frames arrive")
	// and it is told once, though the kernel counts it too
	time.Sleep(1500 * time.Millisecond)
	offs, lost := 0, uint64(0)
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, n := range l.notes {
		if n.Kind == bus.LinkChanged && n.Link == bus.BusOff {
			offs++
		}
		if n.Kind == bus.Loss {
			lost += n.Count
			if n.Place != bus.Controller {
				t.Errorf("loss %+v, want in the controller", n)
			}
		}
	}
	if offs != 1 || lost != 1 {
		t.Errorf("bus-off told %d times and %d frames lost, want 1 and 1:\n%s", offs, lost, l.noteLines())
	}
	i := l.Info()[0]
	if !i.Controller.Known || i.Controller.BusOffs != 1 || i.ErrorFrames == 0 || i.Controller.BitRate != 0 {
		t.Errorf("info %+v", i)
	}
}

// testControllers listens to one of two SJA1000 that share a bus.
func testControllers(t *testing.T) {
	guestOnly(t)
	ip(t, "link", "set", "can0", "type", "can", "bitrate", "500000", "listen-only", "on")
	ip(t, "link", "set", "can1", "type", "can", "bitrate", "500000", "restart-ms", "100", "berr-reporting", "on")
	c := on("can0", "can1")
	c.SilentAfter = 300 * time.Millisecond
	c.Stamps = Hardware
	l := listenTo(t, c)
	l.untilLink(0, bus.Down, "bit rate set to 500 kbit/s")
	ip(t, "link", "set", "can0", "up")
	ip(t, "link", "set", "can1", "up")
	t.Cleanup(func() {
		ip(t, "link", "set", "can0", "down")
		ip(t, "link", "set", "can1", "down")
	})
	l.untilLink(0, bus.Silent, "no error is seen either at 500 kbit/s")
	l.untilLink(1, bus.Silent, "amplifier off")
	command(t, "cangen", "can1", "-n", "200", "-g", "1", "-I", "i", "-D", "i", "-L", "8")
	l.untilFrames(400)
	l.untilLink(0, bus.ErrorActive, "at 500 kbit/s")
	var count [2]int
	l.mu.Lock()
	for _, f := range l.frames {
		if f.ID != uint32(count[f.Source]) || f.Flags.Has(bus.Transmitted) != (f.Source == 1) {
			t.Errorf("frame %d: %+v", count[f.Source], f)
		}
		count[f.Source]++
	}
	warned := []string{}
	for _, n := range l.notes {
		if n.Kind == bus.Warning {
			warned = append(warned, n.Text)
		}
	}
	l.mu.Unlock()
	all := strings.Join(warned, "\n")
	for text, times := range map[string]int{
		"can1: the controller is not listen-only":            1,
		"can0: the controller is not listen-only":            0,
		"can1: a program on this computer sends":             1,
		"can0: the adapter gives no time stamps":             1,
		"can0: a program on this computer sends on this bus": 0,
	} {
		if got := strings.Count(all, text); got != times {
			t.Errorf("%q was said %d times, want %d, in\n%s", text, got, times, all)
		}
	}
	infos := l.Info()
	got := infos[0].Controller
	if !got.Known || got.BitRate != 500000 || got.SamplePoint != 0.875 || !got.Mode.Has(ListenOnly) || got.Restart != 0 || got.State != Active || got.DataBitRate != 0 {
		t.Errorf("can0: %+v", got)
	}
	got = infos[1].Controller
	if got.Mode != BusReporting || got.Restart != 100*time.Millisecond || !got.HasCounters {
		t.Errorf("can1: %+v", got)
	}
	if a := infos[0].Adapter; a.Driver != "kvaser_pci" || a.Bus != "pci" || !strings.HasPrefix(a.Path, "0000:00:0") || a.Path == infos[1].Adapter.Path {
		t.Errorf("adapter %+v", a)
	}
	if infos[0].Hardware != 0 || infos[0].Software != 200 {
		t.Errorf("stamps: %d hardware, %d software, want none and 200", infos[0].Hardware, infos[0].Software)
	}
}

// testAdapter hears a controller by its place on the bus, whatever its interface is called: renamed, and with its name
// given to the other one.
func testAdapter(t *testing.T) {
	guestOnly(t)
	place := [2]string{}
	for i := range place {
		a := identify(classNet, fmt.Sprintf("can%d", i))
		if place[i] = a.Path; a.Path == "" {
			t.Fatalf("can%d has no place: %+v", i, a)
		}
	}
	for _, name := range []string{"can0", "can1"} {
		ip(t, "link", "set", name, "type", "can", "bitrate", "500000", "listen-only", "off")
	}
	c := Config{SilentAfter: 300 * time.Millisecond, Interfaces: []Interface{{Name: "can0", Adapter: place[0]}, {Name: "can0 of another", Adapter: "NONE"}}}
	l := listenTo(t, c)
	l.untilLink(0, bus.Down, "can0: ")
	l.untilLink(1, bus.Absent, "no interface belongs to the adapter NONE")
	rename := func(from, to string) {
		t.Helper()
		ip(t, "link", "set", from, "down")
		ip(t, "link", "set", from, "name", to)
	}
	t.Cleanup(func() {
		for _, args := range [][]string{{"can0", "down"}, {"can1", "down"}} {
			ip(t, "link", "set", args[0], args[1])
		}
	})
	heard := 0
	send := func(from string) {
		t.Helper()
		command(t, "cansend", from, fmt.Sprintf("%03X#00", heard))
		heard++
		l.untilFrames(heard)
		if f := l.heard()[heard-1]; f.ID != uint32(heard-1) || f.Source != 0 || f.Flags.Has(bus.Transmitted) {
			t.Errorf("round %d: %+v", heard, f)
		}
	}
	ip(t, "link", "set", "can0", "up")
	ip(t, "link", "set", "can1", "up")
	send("can1")
	// the two exchange their names
	rename("can0", "was0")
	rename("can1", "can0")
	rename("was0", "can1")
	ip(t, "link", "set", "can0", "up")
	ip(t, "link", "set", "can1", "up")
	l.until("the new name", 5*time.Second, func() bool {
		l.mu.Unlock()
		defer l.mu.Lock()
		i := l.Info()[0]
		return i.Device == "can1" && i.Index == indexOf(t, "can1") && i.Adapter.Path == place[0]
	})
	send("can0")
	if got := l.Names(); got[0] != "can0" {
		t.Errorf("called %v", got)
	}
	rename("can0", "was1")
	rename("can1", "can0")
	rename("was1", "can1")
}

// testOverrun makes a controller lose frames: its interrupts are held back while
// more arrives than its buffer of 64 bytes takes. The error frame and the count
// of the device tell of the same overrun, which is told once. How many frames it
// cost, a controller does not know.
func testOverrun(t *testing.T) {
	guestOnly(t)
	ip(t, "link", "set", "can0", "type", "can", "bitrate", "500000", "listen-only", "on")
	ip(t, "link", "set", "can1", "type", "can", "bitrate", "500000")
	ip(t, "link", "set", "can0", "up")
	ip(t, "link", "set", "can1", "up")
	t.Cleanup(func() {
		ip(t, "link", "set", "can0", "down")
		ip(t, "link", "set", "can1", "down")
	})
	l := listenTo(t, on("can0"))
	ports, err := os.OpenFile("/dev/port", os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer ports.Close()
	// the second region of the card are the registers of the SJA1000, of which 4 is interrupt enable
	regions, err := os.ReadFile("/sys/class/net/can0/device/resource")
	if err != nil {
		t.Fatal(err)
	}
	var base int64
	if _, err := fmt.Sscanf(strings.Split(string(regions), "\n")[1], "0x%x", &base); err != nil {
		t.Fatal(err)
	}
	enabled := make([]byte, 1)
	if _, err := ports.ReadAt(enabled, base+4); err != nil {
		t.Fatal(err)
	}
	if _, err := ports.WriteAt([]byte{0}, base+4); err != nil {
		t.Fatal(err)
	}
	command(t, "cangen", "can1", "-n", "20", "-g", "2", "-I", "i", "-D", "i", "-L", "8")
	if _, err := ports.WriteAt(enabled, base+4); err != nil {
		t.Fatal(err)
	}
	command(t, "cangen", "can1", "-n", "3", "-g", "2", "-I", "i", "-D", "i", "-L", "8")
	l.until("loss", 3*time.Second, func() bool {
		for _, n := range l.notes {
			if n.Kind == bus.Loss && n.Place == bus.Controller {
				return true
			}
		}
		return false
	})
	time.Sleep(1200 * time.Millisecond) // the count of the device is asked for
	l.mu.Lock()
	defer l.mu.Unlock()
	var lost, overruns uint64
	for _, n := range l.notes {
		if n.Kind == bus.Loss {
			lost += n.Count
		}
	}
	for _, f := range l.frames {
		if f.Flags.Has(bus.Error) && parseFault(&f).overrun {
			overruns++
		}
	}
	t.Logf("%d frames, %d overruns, %d lost", len(l.frames), overruns, lost)
	if overruns == 0 || lost != overruns {
		t.Errorf("%d error frames told of an overrun, and %d frames were said to be lost; want as many, and some:\n%s", overruns, lost, l.noteLines())
	}
}
