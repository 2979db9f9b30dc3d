package socketcan

import (
	"errors"
	"math"
	"os"
	"slices"

	"golang.org/x/sys/unix"
)

// wait lets frames gather or, while none come, sleeps until something is there or due. It takes what is there from the sockets.
func (r *Reader) wait(deadline int64) error {
	if !r.beat.on {
		n, err := r.sleep(deadline)
		if err != nil {
			return err
		}
		if !r.frames(n) || r.gather == 0 {
			return r.take(n)
		}
		if err := r.beat.start(r.gather); err != nil {
			return err
		}
	}
	if !r.anyFull() {
		if err := r.beat.wait(); err != nil {
			return err
		}
	}
	n, err := r.sleep(0)
	if err != nil {
		return err
	}
	if err := r.beat.heard(r.frames(n)); err != nil {
		return err
	}
	return r.take(n)
}

// frames reports whether some of n events is of an interface.
func (r *Reader) frames(n int) bool {
	return slices.ContainsFunc(r.events[:n], func(e unix.EpollEvent) bool { return e.Fd >= 0 })
}

// take takes from the sockets what n events say is there.
func (r *Reader) take(n int) error {
	for _, e := range r.events[:n] {
		switch e.Fd {
		case eventWake:
			return nil // closed; Read sees it
		case eventNetlink:
			r.netReady = true
		default:
			r.ports[e.Fd].receive()
		}
	}
	r.clocks = readClocks()
	r.pending += r.steps.step(r.clocks)
	return nil
}

// sleep waits for events until the deadline; 0: it only looks.
func (r *Reader) sleep(deadline int64) (int, error) {
	for {
		ms := int64(0)
		if deadline > 0 {
			left := max(deadline-now(unix.CLOCK_MONOTONIC), 0)
			ms = min((left+999_999)/1_000_000, math.MaxInt32)
		}
		n, err := unix.EpollWait(r.epoll, r.events[:], int(ms))
		if errors.Is(err, unix.EINTR) {
			continue
		}
		return n, os.NewSyscallError("epoll_wait", err)
	}
}
