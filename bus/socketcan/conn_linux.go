package socketcan

import (
	"errors"
	"os"
	"unsafe"

	"golang.org/x/sys/unix"

	"plumbline/bus"
)

// staged is how many frames one system call can take from a socket.
const staged = 128

// mmsghdr is what recvmmsg fills: struct mmsghdr { struct msghdr; unsigned int msg_len; }.
type mmsghdr struct {
	header unix.Msghdr
	n      uint32
}

// conn is one receive socket and the frames that were taken from it and not yet
// delivered. It is used by the goroutine that reads.
type conn struct {
	fd     int
	buffer int // bytes of the receive queue, as the kernel counts

	messages [staged]mmsghdr
	vectors  [staged]unix.Iovec
	frames   [staged][fdSize]byte
	controls [staged][controlSpace]byte
	parsed   [staged]control
	next, n  int // messages[next:n] wait to be delivered

	drops uint32 // of the queue, told so far
}

// listen opens a raw socket on an interface and receives all that is asked for.
func listen(index int, filters []unix.CanFilter, buffer int) (*conn, error) {
	fd, err := unix.Socket(unix.AF_CAN, unix.SOCK_RAW|unix.SOCK_NONBLOCK|unix.SOCK_CLOEXEC, unix.CAN_RAW)
	if err != nil {
		return nil, os.NewSyscallError("socket", err)
	}
	c := newConn(fd)
	if err := c.setUp(filters, buffer); err != nil {
		c.close()
		return nil, err
	}
	if err := unix.Bind(fd, &unix.SockaddrCAN{Ifindex: index}); err != nil {
		c.close()
		return nil, os.NewSyscallError("bind", err)
	}
	return c, nil
}

// newConn points the message headers at their buffers, once.
func newConn(fd int) *conn {
	c := &conn{fd: fd}
	for i := range c.messages {
		c.vectors[i].Base = &c.frames[i][0]
		c.vectors[i].SetLen(fdSize)
		h := &c.messages[i].header
		h.Iov = &c.vectors[i]
		h.SetIovlen(1)
		h.Control = &c.controls[i][0]
	}
	return c
}

func (c *conn) setUp(filters []unix.CanFilter, buffer int) error {
	if err := c.setCommon(buffer); err != nil {
		return err
	}
	// a kernel before 3.6 has no FD: classic frames are all there is then
	if err := unix.SetsockoptInt(c.fd, unix.SOL_CAN_RAW, unix.CAN_RAW_FD_FRAMES, 1); err != nil && !errors.Is(err, unix.ENOPROTOOPT) {
		return os.NewSyscallError("setsockopt CAN_RAW_FD_FRAMES", err)
	}
	if err := unix.SetsockoptInt(c.fd, unix.SOL_CAN_RAW, unix.CAN_RAW_ERR_FILTER, unix.CAN_ERR_MASK); err != nil {
		return os.NewSyscallError("setsockopt CAN_RAW_ERR_FILTER", err)
	}
	if len(filters) > 0 {
		if err := unix.SetsockoptCanRawFilter(c.fd, unix.SOL_CAN_RAW, unix.CAN_RAW_FILTER, filters); err != nil {
			return os.NewSyscallError("setsockopt CAN_RAW_FILTER", err)
		}
	}
	return nil
}

// setCommon sets what is not particular to CAN.
func (c *conn) setCommon(buffer int) error {
	// the kernel doubles what it is given
	if unix.SetsockoptInt(c.fd, unix.SOL_SOCKET, unix.SO_RCVBUFFORCE, buffer/2) != nil {
		if err := unix.SetsockoptInt(c.fd, unix.SOL_SOCKET, unix.SO_RCVBUF, buffer/2); err != nil {
			return os.NewSyscallError("setsockopt SO_RCVBUF", err)
		}
	}
	got, err := unix.GetsockoptInt(c.fd, unix.SOL_SOCKET, unix.SO_RCVBUF)
	if err != nil {
		return os.NewSyscallError("getsockopt SO_RCVBUF", err)
	}
	c.buffer = got
	if err := unix.SetsockoptInt(c.fd, unix.SOL_SOCKET, unix.SO_RXQ_OVFL, 1); err != nil {
		return os.NewSyscallError("setsockopt SO_RXQ_OVFL", err)
	}
	const stamps = unix.SOF_TIMESTAMPING_RX_SOFTWARE | unix.SOF_TIMESTAMPING_SOFTWARE |
		unix.SOF_TIMESTAMPING_RX_HARDWARE | unix.SOF_TIMESTAMPING_RAW_HARDWARE
	return os.NewSyscallError("setsockopt SO_TIMESTAMPING", unix.SetsockoptInt(c.fd, unix.SOL_SOCKET, unix.SO_TIMESTAMPING, stamps))
}

// fill takes what waits in the socket, as far as there is room, and never
// blocks. All that was taken before must have been delivered. It returns
// unix.ENETDOWN, after which the socket stays good, unix.ENODEV, after which
// it only gives what it still holds, and nil when nothing waits.
func (c *conn) fill() error {
	for i := range c.n {
		c.messages[i].header.Flags = 0
	}
	for i := range c.messages {
		c.messages[i].header.SetControllen(controlSpace)
	}
	c.next, c.n = 0, 0
	for {
		n, _, errno := unix.Syscall6(unix.SYS_RECVMMSG, uintptr(c.fd), uintptr(unsafe.Pointer(&c.messages[0])), staged, unix.MSG_DONTWAIT, 0, 0)
		switch errno {
		case 0:
			c.n = int(n)
		case unix.EINTR:
			continue
		case unix.EAGAIN:
			return nil
		default:
			return errno
		}
		break
	}
	for i := range c.n {
		h := &c.messages[i].header
		c.parsed[i] = parseControl(c.controls[i][:min(int(h.Controllen), controlSpace)])
	}
	return nil
}

// full reports whether the last fill left something in the socket, perhaps.
func (c *conn) full() bool { return c.n == staged }

// waiting reports whether there is a frame to take.
func (c *conn) waiting() bool { return c.next < c.n }

// ahead returns what the kernel said beside the frame that take would give.
func (c *conn) ahead() *control { return &c.parsed[c.next] }

// take gives the next frame, and how many the queue lost just before it.
// At and Source are left to the caller.
func (c *conn) take(f *bus.Frame) (lost uint32, err error) {
	i := c.next
	c.next++
	if k := &c.parsed[i]; k.drops {
		lost = c.lost(k.dropped)
	}
	m := &c.messages[i]
	if err := parseFrame(c.frames[i][:min(int(m.n), fdSize)], f); err != nil {
		return lost, err
	}
	// MSG_DONTROUTE: sent by this computer; MSG_CONFIRM: by this very socket, which never sends
	if m.header.Flags&(unix.MSG_DONTROUTE|unix.MSG_CONFIRM) != 0 {
		f.Flags |= bus.Transmitted
	}
	return lost, nil
}

// lost returns what has been lost since the last call, given the count so far.
// A count can be older than one that was told, and wraps at 2³².
func (c *conn) lost(total uint32) uint32 {
	d := total - c.drops
	if int32(d) <= 0 {
		return 0
	}
	c.drops = total
	return d
}

// lostSince asks the socket what it lost after the last frame.
func (c *conn) lostSince() uint32 {
	const drops = 8 // SK_MEMINFO_DROPS, linux/sock_diag.h
	var info [drops + 1]uint32
	size := uint32(unsafe.Sizeof(info))
	_, _, errno := unix.Syscall6(unix.SYS_GETSOCKOPT, uintptr(c.fd), unix.SOL_SOCKET, unix.SO_MEMINFO,
		uintptr(unsafe.Pointer(&info)), uintptr(unsafe.Pointer(&size)), 0)
	if errno != 0 || size < uint32(unsafe.Sizeof(info)) {
		return 0 // before Linux 4.12: told with the next frame
	}
	return c.lost(info[drops])
}

func (c *conn) close() {
	if c.fd >= 0 {
		_ = unix.Close(c.fd) // was only read from
		c.fd = -1
	}
}
