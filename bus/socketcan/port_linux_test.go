package socketcan

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/sys/unix"

	"plumbline/bus"
)

// rig is a port whose sockets are pairs of local ones: what is written to
// far comes out as if it were from an interface.
type rig struct {
	t      *testing.T
	port   *port
	batch  bus.Batch
	now    int64
	fail   error
	opened []int // indexes
	conns  []*conn
	far    int
}

func newRig(t *testing.T) *rig {
	t.Helper()
	g := &rig{t: t, far: -1, now: 1000 * ms}
	g.port = &port{
		name: "can0", device: "can0", wanted: 1000, health: health{name: "can0", silentAfter: 1000 * ms},
		open:     g.open,
		identify: func(name string) Adapter { return Adapter{Serial: fmt.Sprint("serial ", len(g.opened))} },
	}
	t.Cleanup(func() {
		for _, c := range g.conns {
			c.close()
		}
		g.unplug()
	})
	return g
}

func (g *rig) unplug() {
	if g.far >= 0 {
		_ = unix.Close(g.far)
		g.far = -1
	}
}

func (g *rig) open(index int) (*conn, error) {
	g.opened = append(g.opened, index)
	if g.fail != nil {
		return nil, g.fail
	}
	pair, err := unix.Socketpair(unix.AF_UNIX, unix.SOCK_DGRAM|unix.SOCK_NONBLOCK|unix.SOCK_CLOEXEC, 0)
	if err != nil {
		g.t.Fatal(err)
	}
	g.unplug()
	g.far = pair[1]
	c := newConn(pair[0])
	c.buffer = 1000
	g.conns = append(g.conns, c)
	return c, nil
}

func (g *rig) send(id uint32) {
	g.t.Helper()
	if _, err := unix.Write(g.far, raw(16, id, 0, 0)); err != nil {
		g.t.Fatal(err)
	}
}

// step does what the reader does: deliver, bind, say.
func (g *rig) step() (frames []uint32) {
	g.batch.Reset()
	c := clocks{wall: 7 * g.now, mono: g.now}
	n := notes{&g.batch, c.wall}
	for g.port.waiting() {
		g.port.deliver(n, c)
	}
	g.port.bind(n, g.now)
	g.port.say(n, g.now)
	for _, f := range g.batch.Frames {
		frames = append(frames, f.ID)
	}
	return frames
}

func (g *rig) tell(l link) {
	l.isCAN, l.kind = true, "vcan"
	g.port.told(notes{&g.batch, 7 * g.now}, &l, g.now)
}

func (g *rig) openConns() (n int) {
	for _, c := range g.conns {
		if c.fd >= 0 {
			n++
		}
	}
	return n
}

func TestRebind(t *testing.T) {
	g := newRig(t)
	g.port.lost() // ENODEV
	g.step()
	if len(g.opened) != 0 || g.port.health.shown.link != bus.Absent {
		t.Fatalf("opened %v, link %d", g.opened, g.port.health.shown.link)
	}
	g.tell(link{index: 4, name: "vcan7", up: true}) // somebody else
	g.tell(link{index: 5, name: "can0", up: true})
	g.step()
	g.send(1)
	g.port.receive()
	if diff := cmp.Diff([]uint32{1}, g.step()); diff != "" {
		t.Error(diff)
	}
	// removed while two frames wait in the socket: they are delivered, the descriptor is not held
	g.send(2)
	g.send(3)
	g.tell(link{index: 5, name: "can0", gone: true})
	if n := g.openConns(); n != 0 {
		t.Errorf("%d sockets are held for an interface that is gone", n)
	}
	if diff := cmp.Diff([]uint32{2, 3}, g.step()); diff != "" {
		t.Error(diff)
	}
	// back under another number, and at once replaced by a third
	g.tell(link{index: 6, name: "can0", up: true})
	g.step()
	g.send(4)
	g.tell(link{index: 7, name: "can0", up: true})
	if diff := cmp.Diff([]uint32{4}, g.step()); diff != "" {
		t.Error(diff)
	}
	g.send(5)
	g.port.receive()
	if diff := cmp.Diff([]uint32{5}, g.step()); diff != "" {
		t.Error(diff)
	}
	// renamed away: the name belongs to nobody
	g.tell(link{index: 7, name: "other0", up: true})
	g.step()
	if g.openConns() != 0 || g.port.health.shown.link != bus.Absent {
		t.Errorf("%d sockets, link %d after the name was taken away", g.openConns(), g.port.health.shown.link)
	}
	if diff := cmp.Diff([]int{5, 6, 7}, g.opened); diff != "" {
		t.Errorf("indexes that were opened (-want +got):\n%s", diff)
	}
	if want := "serial 2"; g.port.adapter.Serial != want {
		t.Errorf("adapter %q, want %q: it is looked at anew with each number", g.port.adapter.Serial, want)
	}
}

// TestByAdapter: an interface that is known by its adapter is heard under whatever name it has, and another one
// of the name that it had is not.
func TestByAdapter(t *testing.T) {
	g := newRig(t)
	at := map[string]Adapter{} // by the name of the interface
	p := g.port
	p.device, p.wantedAdapter, p.health.expects = "", "A1", "A1"
	p.identify = func(name string) Adapter { return at[name] }
	p.find = func(wanted string) (device, others string) {
		for name, a := range at {
			if a.is(wanted) {
				return name, ""
			}
			others += a.String() + " (" + name + ")"
		}
		return "", others
	}
	look := func() string { // as the reader does, and what it then says
		p.locate()
		g.now += 10 * holdBusOff
		g.step()
		return p.counts.Sentence
	}
	if got := look(); !strings.Contains(got, "can0: no interface belongs to the adapter A1 (there is no other): plug it in") {
		t.Errorf("nothing there: said %q", got)
	}
	at["can0"] = Adapter{Serial: "B2"}
	g.tell(link{index: 4, name: "can0", up: true})
	if got := look(); !strings.Contains(got, "can0: the interface of this name is now the adapter B2, expected A1") || len(g.opened) != 0 {
		t.Errorf("another one: said %q, opened %v", got, g.opened)
	}
	at["can1"] = Adapter{Serial: "A1"}
	if !p.locate() || p.device != "can1" {
		t.Fatalf("not found: %q", p.device)
	}
	g.tell(link{index: 5, name: "can1", up: true})
	g.step()
	g.send(1)
	p.receive()
	if diff := cmp.Diff([]uint32{1}, g.step()); diff != "" || p.info().Name != "can0" || p.info().Device != "can1" || p.info().Adapter.Serial != "A1" {
		t.Errorf("%s; info %+v", diff, p.info())
	}
	// what has the name changes nothing
	g.tell(link{index: 4, name: "can0", up: false})
	g.tell(link{index: 4, name: "can0", gone: true})
	if p.locate() || g.openConns() != 1 {
		t.Errorf("moved to %q, %d sockets", p.device, g.openConns())
	}
	// pulled, and back as the other name
	delete(at, "can0")
	delete(at, "can1")
	g.tell(link{index: 5, name: "can1", gone: true})
	if got := look(); !strings.Contains(got, "no interface belongs to the adapter A1") || g.openConns() != 0 {
		t.Errorf("pulled: said %q, %d sockets", got, g.openConns())
	}
	at["can0"] = Adapter{Serial: "A1"}
	p.locate()
	g.tell(link{index: 9, name: "can0", up: true})
	g.step()
	g.send(2)
	p.receive()
	if diff := cmp.Diff([]uint32{2}, g.step()); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]int{5, 9}, g.opened); diff != "" {
		t.Errorf("indexes that were opened (-want +got):\n%s", diff)
	}
}

// TestRebindFails lets binding fail for a minute: tries get rarer, and only one warning is said.
func TestRebindFails(t *testing.T) {
	g := newRig(t)
	g.fail = errors.New("it is on fire")
	g.tell(link{index: 5, name: "can0", up: true})
	end := g.now + 60_000*ms
	warnings := 0
	for steps := 0; g.now < end; steps++ {
		g.step()
		for _, n := range g.batch.Notes {
			if n.Kind == bus.Warning {
				warnings++
				if !strings.Contains(n.Text, "can0: cannot listen: it is on fire") {
					t.Errorf("warning %q", n.Text)
				}
			}
		}
		next := g.port.deadline(g.now)
		if next <= g.now || steps > 100 {
			t.Fatalf("deadline %d at %d, after %d steps: a busy loop", next, g.now, steps)
		}
		g.now = next
	}
	// 0.1, 0.2, … 3.2 s, then each 5 s
	if n := len(g.opened); n < 10 || n > 20 {
		t.Errorf("%d tries in a minute, want 10 to 20", n)
	}
	if warnings != 1 {
		t.Errorf("%d warnings, want 1", warnings)
	}
	g.fail = nil
	g.now += 5000 * ms
	g.step()
	g.send(1)
	g.port.receive()
	if diff := cmp.Diff([]uint32{1}, g.step()); diff != "" {
		t.Error(diff)
	}
}

// TestSocketEnds lets the socket say first that its interface is gone: nothing is
// opened until netlink has said what is there now.
func TestSocketEnds(t *testing.T) {
	g := newRig(t)
	g.tell(link{index: 5, name: "can0", up: true})
	g.step()
	// a descriptor that is no socket gives another error than ENETDOWN
	if err := unix.Close(g.port.conn.fd); err != nil {
		t.Fatal(err)
	}
	file, err := unix.Open("/dev/null", unix.O_RDONLY|unix.O_CLOEXEC, 0)
	if err != nil {
		t.Fatal(err)
	}
	g.port.conn.fd = file
	g.port.receive()
	if g.openConns() != 0 {
		t.Error("the socket is still open")
	}
	g.step()
	g.step()
	if len(g.opened) != 1 {
		t.Errorf("opened %v before netlink said anything", g.opened)
	}
	g.tell(link{index: 5, name: "can0", up: true})
	g.step()
	if len(g.opened) != 2 {
		t.Errorf("opened %v, want once more", g.opened)
	}
}

// TestNotesOfAPort counts what is said once, and what is counted.
func TestNotesOfAPort(t *testing.T) {
	g := newRig(t)
	g.port.wanted = 2000 // the rig gives 1000
	g.tell(link{index: 5, name: "can0", up: true, hasLoss: true, losses: deviceLosses{overruns: 5, dropped: 7}})
	g.step()
	var texts []string
	keep := func() {
		for _, n := range g.batch.Notes {
			texts = append(texts, fmt.Sprintf("%d %d %d %s", n.Kind, n.Place, n.Count, n.Text))
		}
	}
	keep()
	for range 2 {
		if _, err := unix.Write(g.far, []byte("no frame")); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := unix.Write(g.far, raw(16, unix.CAN_ERR_FLAG|unix.CAN_ERR_CRTL, 8, 0, 0, unix.CAN_ERR_CRTL_RX_OVERFLOW)); err != nil {
		t.Fatal(err)
	}
	g.port.receive()
	g.step()
	keep()
	g.batch.Reset()
	g.tell(link{index: 5, name: "can0", up: true, hasLoss: true, losses: deviceLosses{overruns: 7, dropped: 10}})
	keep()
	all := strings.Join(texts, "\n")
	for _, want := range []string{
		"0 0 0 can0: the receive queue has 0 KiB instead of 1",
		"0 0 0 can0: left out: 8 bytes where a frame has 16 or 72",
		"2 1 1 can0: at least 1 frame was lost in the buffer of the controller",
		"2 1 1 can0: at least 1 frame was lost in the buffer of the controller", // the count knows of two, one was told
		"2 2 3 can0: 3 frames were lost by the driver",
	} {
		if strings.Count(all, want) < 1 {
			t.Errorf("no %q in\n%s", want, all)
		}
	}
	if got := strings.Count(all, "left out"); got != 1 {
		t.Errorf("%d warnings about what is no frame, want 1", got)
	}
	i := g.port.info()
	if i.LostController != 2 || i.LostDriver != 3 || i.LostQueue != 0 || i.ErrorFrames != 1 || i.Frames != 0 {
		t.Errorf("info %+v", i)
	}
}

// TestStampsOfAPort: which clock stamps the frames is said once, and counted.
func TestStampsOfAPort(t *testing.T) {
	for _, test := range []struct {
		name     string
		stamps   Stamps
		hardware int64
		at       int64
		said     string
	}{
		{"the kernel's", Software, 77, 5000, ""},
		{"the adapter's", Hardware, 77, 5000, "can0: frames carry the time stamps of the adapter"},
		{"wanted, and none given", Hardware, 0, 5000, "can0: the adapter gives no time stamps: frames carry the kernel's"},
	} {
		p := &port{name: "can0", stamps: test.stamps}
		var b bus.Batch
		n := notes{&b, 9000}
		for range 2 { // the first stamp of an adapter is laid onto the kernel's
			if at := p.stamp(n, &control{software: 5000, hardware: test.hardware}, clocks{wall: 9000}); at != test.at {
				t.Errorf("%s: at %d, want %d", test.name, at, test.at)
			}
		}
		said := ""
		if len(b.Notes) == 1 {
			said = b.Notes[0].Text
		}
		if len(b.Notes) > 1 || !strings.HasPrefix(said, test.said) || (said == "") != (test.said == "") {
			t.Errorf("%s: said %+v, want %q once", test.name, b.Notes, test.said)
		}
		i := p.info()
		if want := test.stamps == Hardware && test.hardware != 0; (i.Hardware == 2) != want || (i.Software == 2) == want {
			t.Errorf("%s: counted %d and %d", test.name, i.Hardware, i.Software)
		}
	}
}
