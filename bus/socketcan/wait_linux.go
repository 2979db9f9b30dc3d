package socketcan

import (
	"errors"
	"math"
	"os"

	"golang.org/x/sys/unix"
)

// wait sleeps until something is there or due, and takes it from the sockets.
func (r *Reader) wait(deadline int64) error {
	n, err := r.sleep(deadline)
	if err != nil {
		return err
	}
	ready := false
	for _, e := range r.events[:n] {
		switch e.Fd {
		case eventWake:
			return nil // closed; Read sees it
		case eventNetlink:
			r.netReady = true
		default:
			ready = true
		}
	}
	if ready && r.gather > 0 && !r.anyFull() {
		wake := []unix.PollFd{{Fd: int32(r.wakeRead), Events: unix.POLLIN}}
		// whatever ends it early, there are frames to take
		_, _ = unix.Poll(wake, r.gather)
	}
	for _, e := range r.events[:n] {
		if e.Fd >= 0 {
			r.ports[e.Fd].receive()
		}
	}
	r.clocks = readClocks()
	r.pending += r.steps.step(r.clocks)
	return nil
}

// sleep waits for events until the deadline.
func (r *Reader) sleep(deadline int64) (int, error) {
	for {
		left := max(deadline-now(unix.CLOCK_MONOTONIC), 0)
		ms := min((left+999_999)/1_000_000, math.MaxInt32)
		n, err := unix.EpollWait(r.epoll, r.events[:], int(ms))
		if errors.Is(err, unix.EINTR) {
			continue
		}
		return n, os.NewSyscallError("epoll_wait", err)
	}
}
