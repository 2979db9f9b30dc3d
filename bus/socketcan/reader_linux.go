package socketcan

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/sys/unix"

	"plumbline/bus"
)

// How often the kernel is asked for state, counters and losses, ns. Most changes
// are told unasked; those of counters are not. A question costs some 20 µs.
const pollEvery = 1_000_000_000

// What an epoll event belongs to, where it is not the index of a port.
const (
	eventWake    = -1
	eventNetlink = -2
)

// Reader listens to CAN interfaces as a [bus.Source]. Read is for one goroutine;
// Close, Names and Info may be called from any.
type Reader struct {
	names  []string
	gather time.Duration // between two beats; 0: frames are taken as they come
	most   time.Duration // of it

	reading sync.Mutex // held by Read, so that Close frees descriptors after it
	closed  atomic.Bool
	once    sync.Once

	beat      *beat
	epoll     int
	wakeRead  int // hangs up when Close closes wakeWrite
	wakeWrite int
	netlink   *netlink
	netReady  bool
	netErr    error
	events    [16]unix.EpollEvent

	mu      sync.Mutex // guards what Info shows: ports
	ports   []*port
	clocks  clocks
	steps   stepWatch
	pending int64 // a step of the clock whose place is not reached yet, ns
	pollAt  int64
	first   []bus.Note // from Open, for the first Read
}

// Open listens to the interfaces of the configuration, whether they are there or
// not. It fails where the configuration is not valid or the kernel has no CAN.
func Open(c Config) (*Reader, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	c = c.withDefaults()
	if err := hasCAN(); err != nil {
		return nil, err
	}
	r := &Reader{most: max(c.Gather, 0), epoll: -1, wakeRead: -1, wakeWrite: -1}
	for i, in := range c.Interfaces {
		filters := kernelFilters(in.Filters)
		device := in.Name
		if in.Adapter != "" {
			device = "" // until it is found
		}
		r.names = append(r.names, in.Name)
		r.ports = append(r.ports, &port{
			source: uint16(i), name: in.Name, device: device, wantedAdapter: in.Adapter, stamps: max(c.Stamps, in.Stamps), wanted: c.ReceiveBuffer,
			open:     func(index int) (*conn, error) { return listen(index, filters, c.ReceiveBuffer) },
			identify: func(name string) Adapter { return identify(classNet, name) },
			find:     func(adapter string) (string, string) { return find(classNet, adapter) },
			counts:   Info{Filters: len(filters)},
			health:   health{name: in.Name, expects: in.Adapter, silentAfter: c.SilentAfter.Nanoseconds(), filters: len(filters) > 0},
		})
	}
	if err := r.start(); err != nil {
		r.free()
		return nil, fmt.Errorf("socketcan: %w", err)
	}
	return r, nil
}

// hasCAN makes the kernel load its CAN modules, if it has any.
func hasCAN() error {
	fd, err := unix.Socket(unix.AF_CAN, unix.SOCK_RAW|unix.SOCK_CLOEXEC, unix.CAN_RAW)
	switch {
	case err == nil:
		return unix.Close(fd)
	case errors.Is(err, unix.EAFNOSUPPORT), errors.Is(err, unix.EPROTONOSUPPORT):
		return fmt.Errorf("socketcan: this kernel has no CAN, or may not load it: modprobe can_raw: %w", err)
	}
	return fmt.Errorf("socketcan: %w", os.NewSyscallError("socket", err))
}

// start opens what the reader itself needs, and what interfaces there are.
func (r *Reader) start() error {
	var err error
	if r.epoll, err = unix.EpollCreate1(unix.EPOLL_CLOEXEC); err != nil {
		return os.NewSyscallError("epoll_create1", err)
	}
	if r.beat, err = newBeat(); err != nil {
		return err
	}
	var pipe [2]int
	if err := unix.Pipe2(pipe[:], unix.O_CLOEXEC|unix.O_NONBLOCK); err != nil {
		return os.NewSyscallError("pipe2", err)
	}
	r.wakeRead, r.wakeWrite = pipe[0], pipe[1]
	if r.netlink, err = newNetlink(); err != nil {
		return err
	}
	if err := r.watch(r.wakeRead, eventWake); err != nil {
		return err
	}
	if err := r.watch(r.netlink.fd, eventNetlink); err != nil {
		return err
	}
	r.clocks = readClocks()
	r.steps.step(r.clocks)
	if err := r.askAll(); err != nil {
		return err
	}
	return r.settle()
}

// settle waits until the kernel has answered for every interface, so that what
// is there is listened to when Open returns. Frames are left to Read.
func (r *Reader) settle() error {
	var b bus.Batch
	b.Reset()
	for until := r.clocks.mono + 2*pollEvery; r.clocks.mono < until; r.clocks = readClocks() {
		if _, err := r.sleep(min(until, r.pollAt)); err != nil {
			return err
		}
		r.clocks = readClocks()
		r.netReady = true
		n := notes{&b, r.clocks.wall}
		if err := r.attend(n); err != nil {
			return err
		}
		if _, err := r.conclude(n); err != nil {
			return err
		}
		r.first = b.Notes
		if !slices.ContainsFunc(r.ports, func(p *port) bool { return !p.health.known }) {
			return nil
		}
	}
	return errors.New("the kernel does not answer what interfaces there are")
}

// watch lets epoll wake for a descriptor, until that is closed.
func (r *Reader) watch(fd int, what int32) error {
	e := unix.EpollEvent{Events: unix.EPOLLIN, Fd: what}
	return os.NewSyscallError("epoll_ctl", unix.EpollCtl(r.epoll, unix.EPOLL_CTL_ADD, fd, &e))
}

// Names returns the interfaces in the order of the configuration.
func (r *Reader) Names() []string { return r.names }

// Info returns what is known of each interface, in the order of Names, as of the last Read.
func (r *Reader) Info() []Info {
	r.mu.Lock()
	defer r.mu.Unlock()
	infos := make([]Info, len(r.ports))
	for i, p := range r.ports {
		infos[i] = p.info()
	}
	return infos
}

// Close ends a Read under way, waits for it and releases all descriptors.
func (r *Reader) Close() error {
	r.once.Do(func() {
		r.closed.Store(true)
		_ = unix.Close(r.wakeWrite) // wakes the Read; nothing was written to it
		r.reading.Lock()
		defer r.reading.Unlock()
		r.wakeWrite = -1
		r.free()
	})
	return nil
}

// free closes what is open.
func (r *Reader) free() {
	for _, p := range r.ports {
		if p.conn != nil {
			p.conn.close()
		}
	}
	if r.netlink != nil {
		r.netlink.close()
	}
	if r.beat != nil {
		r.beat.close()
	}
	for _, fd := range []int{r.wakeRead, r.wakeWrite, r.epoll} {
		if fd >= 0 {
			_ = unix.Close(fd) // none of them holds data
		}
	}
}

// Read waits for frames or a change and delivers what there is. After Close it
// returns an error that is [os.ErrClosed]; it never returns io.EOF.
func (r *Reader) Read(b *bus.Batch) error {
	r.reading.Lock()
	defer r.reading.Unlock()
	b.Reset()
	for {
		if r.closed.Load() {
			return fmt.Errorf("socketcan: read %s: %w", strings.Join(r.names, " "), os.ErrClosed)
		}
		deadline, err := r.advance(b)
		switch {
		case len(b.Frames)+len(b.Notes) > 0:
			return nil
		case err != nil:
			return fmt.Errorf("socketcan: read %s: %w", strings.Join(r.names, " "), err)
		}
		if err := r.wait(deadline); err != nil {
			return fmt.Errorf("socketcan: read %s: %w", strings.Join(r.names, " "), err)
		}
	}
}

// advance delivers the frames at hand and, when there are none left, does what
// is due. It returns when it must be called again, on CLOCK_MONOTONIC, ns.
func (r *Reader) advance(b *bus.Batch) (deadline int64, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	n := notes{b, r.clocks.wall}
	b.Notes, r.first = append(b.Notes, r.first...), nil
	for !r.deliver(n) {
		if err := r.attend(n); err != nil {
			return 0, err
		}
		if r.anyWaiting() {
			continue // a socket that was closed still held frames
		}
		return r.conclude(n)
	}
	return 0, nil
}

func (r *Reader) anyWaiting() bool {
	for _, p := range r.ports {
		if p.waiting() {
			return true
		}
	}
	return false
}

// attend hears what netlink has to tell and asks what is due. All frames that
// were taken have been delivered.
func (r *Reader) attend(n notes) error {
	if r.pending != 0 && !r.anyFull() {
		r.tellStep(n)
	}
	if r.netErr != nil {
		return r.netErr
	}
	if r.netReady {
		r.netReady = false
		lost, err := r.netlink.receive(func(m message) { r.heard(n, m) })
		if err != nil {
			r.netErr = err // told when what was heard before is delivered
		}
		if lost && err == nil {
			r.netErr = r.askAll()
		}
	}
	if r.clocks.mono >= r.pollAt {
		for _, p := range r.ports {
			if p.conn != nil && p.conn.fd >= 0 && !p.conn.full() {
				p.loss(n, bus.Queue, uint64(p.conn.lostSince()), 0)
			}
		}
		if err := r.askAll(); err != nil {
			r.netErr = err
		}
	}
	return nil
}

func (r *Reader) anyFull() bool {
	for _, p := range r.ports {
		if p.conn != nil && p.conn.fd >= 0 && p.conn.full() {
			return true
		}
	}
	return false
}

// askAll asks for every interface by its name.
func (r *Reader) askAll() error {
	r.pollAt = r.clocks.mono + pollEvery
	for _, p := range r.ports {
		p.locate()
		if err := r.ask(p); err != nil {
			return err
		}
	}
	return nil
}

// ask asks for one interface, where there is a name to ask for.
func (r *Reader) ask(p *port) error {
	if p.device == "" {
		p.asked = 0
		return nil
	}
	var err error
	if p.asked, err = r.netlink.ask(p.device); err != nil && !errors.Is(err, unix.EAGAIN) && !errors.Is(err, unix.ENOBUFS) {
		return err
	}
	return nil
}

// heard takes one message of netlink.
func (r *Reader) heard(n notes, m message) {
	switch m.kind {
	case unix.RTM_NEWLINK, unix.RTM_DELLINK:
		l, err := parseLink(m)
		if err != nil {
			return // the next poll asks again
		}
		for _, p := range r.ports {
			// what came, went or was renamed may be the adapter that is waited for, or have been it
			if l.isCAN && (l.name != p.device || l.gone) && p.locate() {
				if err := r.ask(p); err != nil {
					r.netErr = err
				}
			}
			p.told(n, &l, r.clocks.mono)
		}
	case unix.NLMSG_ERROR:
		for _, p := range r.ports {
			if p.asked != 0 && p.asked == m.seq && m.errno() == unix.ENODEV {
				p.lost()
			}
		}
	}
}

// conclude binds what can be bound and says what has changed.
func (r *Reader) conclude(n notes) (deadline int64, err error) {
	deadline = r.pollAt
	for i, p := range r.ports {
		if p.bind(n, r.clocks.mono) {
			if err := r.watch(p.conn.fd, int32(i)); err != nil {
				return 0, err
			}
			r.pace()
		}
		p.say(n, r.clocks.mono)
		deadline = min(deadline, p.deadline(r.clocks.mono))
	}
	return deadline, nil
}

// pace works out how long frames may gather: until the smallest queue is half full.
func (r *Reader) pace() {
	r.gather = r.most
	for _, p := range r.ports {
		if p.conn != nil {
			r.gather = min(r.gather, gatherFor(p.conn.buffer, r.most))
		}
	}
}
