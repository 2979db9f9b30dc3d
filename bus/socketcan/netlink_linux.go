package socketcan

import (
	"encoding/binary"
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// netlink asks the kernel for interfaces and is told when one changes. It sends
// RTM_GETLINK and nothing else.
type netlink struct {
	fd     int
	seq    uint32
	buffer []byte
}

func newNetlink() (*netlink, error) {
	fd, err := unix.Socket(unix.AF_NETLINK, unix.SOCK_RAW|unix.SOCK_NONBLOCK|unix.SOCK_CLOEXEC, unix.NETLINK_ROUTE)
	if err != nil {
		return nil, os.NewSyscallError("socket AF_NETLINK", err)
	}
	n := &netlink{fd: fd, buffer: make([]byte, 64<<10)}
	if err := unix.Bind(fd, &unix.SockaddrNetlink{Family: unix.AF_NETLINK, Groups: unix.RTMGRP_LINK}); err != nil {
		n.close()
		return nil, os.NewSyscallError("bind AF_NETLINK", err)
	}
	return n, nil
}

// question returns RTM_GETLINK for the interface of that name: struct nlmsghdr,
// struct ifinfomsg, IFLA_IFNAME.
func question(name string, seq uint32) []byte {
	attr := unix.SizeofNlAttr + len(name) + 1
	n := unix.SizeofNlMsghdr + unix.SizeofIfInfomsg + align(attr)
	b := make([]byte, n)
	binary.NativeEndian.PutUint32(b, uint32(n))
	binary.NativeEndian.PutUint16(b[4:], unix.RTM_GETLINK)
	binary.NativeEndian.PutUint16(b[6:], unix.NLM_F_REQUEST)
	binary.NativeEndian.PutUint32(b[8:], seq)
	a := b[unix.SizeofNlMsghdr+unix.SizeofIfInfomsg:]
	binary.NativeEndian.PutUint16(a, uint16(attr))
	binary.NativeEndian.PutUint16(a[2:], unix.IFLA_IFNAME)
	copy(a[unix.SizeofNlAttr:], name)
	return b
}

// ask sends the question for an interface and returns its number. The answer
// comes with receive: the interface, or ENODEV with that number.
func (n *netlink) ask(name string) (seq uint32, err error) {
	n.seq++
	if n.seq == 0 { // is what the kernel tells unasked
		n.seq++
	}
	err = unix.Sendto(n.fd, question(name, n.seq), 0, &unix.SockaddrNetlink{Family: unix.AF_NETLINK})
	return n.seq, os.NewSyscallError("sendto AF_NETLINK", err)
}

// receive calls f with each message that waits, and never blocks. lost is true
// when the kernel had more to tell than fits: everything must be asked anew.
// Messages from other programs are left out; broken ones end their datagram.
func (n *netlink) receive(f func(message)) (lost bool, err error) {
	for {
		k, from, err := unix.Recvfrom(n.fd, n.buffer, 0)
		switch {
		case errors.Is(err, unix.EINTR):
			continue
		case errors.Is(err, unix.EAGAIN):
			return lost, nil
		case errors.Is(err, unix.ENOBUFS):
			lost = true
			continue
		case err != nil:
			return lost, os.NewSyscallError("recvfrom AF_NETLINK", err)
		}
		if kernel, ok := from.(*unix.SockaddrNetlink); !ok || kernel.Pid != 0 {
			continue
		}
		for b := n.buffer[:k]; len(b) > 0; {
			var m message
			if m, b, err = nextMessage(b); err != nil {
				lost = true
				break
			}
			f(m)
		}
	}
}

func (n *netlink) close() {
	_ = unix.Close(n.fd) // nothing is left to be written
}
