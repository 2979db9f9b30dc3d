package socketcan

import (
	"errors"
	"os"
	"time"

	"golang.org/x/sys/unix"
)

// restAfter is how many beats without a frame end the beating: what comes then wakes by itself.
const restAfter = 10

// beat wakes who reads at a steady pace while frames come, so that each wake-up brings many. Its goroutine waits
// in the poller of the runtime: one that waits in a system call has its processor taken away and given back each time,
// which costs twice as much, and a timer of the runtime wakes twice, as it sleeps whole milliseconds.
type beat struct {
	timer *os.File // a timerfd
	on    bool
	empty int // beats in a row without a frame
}

func newBeat() (*beat, error) {
	fd, err := unix.TimerfdCreate(unix.CLOCK_MONOTONIC, unix.TFD_NONBLOCK|unix.TFD_CLOEXEC)
	if err != nil {
		return nil, os.NewSyscallError("timerfd_create", err)
	}
	return &beat{timer: os.NewFile(uintptr(fd), "timerfd")}, nil
}

// start begins to beat every d; 0 ends it.
func (b *beat) start(d time.Duration) error {
	b.on, b.empty = d > 0, 0
	raw, err := b.timer.SyscallConn()
	if err != nil {
		return err
	}
	t := unix.NsecToTimespec(d.Nanoseconds())
	var setErr error
	err = raw.Control(func(fd uintptr) {
		setErr = unix.TimerfdSettime(int(fd), 0, &unix.ItimerSpec{Interval: t, Value: t}, nil)
	})
	return errors.Join(err, os.NewSyscallError("timerfd_settime", setErr))
}

// wait waits for the next beat; not at all where one has passed since the last.
func (b *beat) wait() error {
	var passed [8]byte
	_, err := b.timer.Read(passed[:])
	return err
}

// heard takes it whether a beat brought frames.
func (b *beat) heard(frames bool) error {
	b.empty++
	if frames {
		b.empty = 0
	}
	if b.empty < restAfter {
		return nil
	}
	return b.start(0)
}

func (b *beat) close() { _ = b.timer.Close() } // holds no data

// gatherFor is how long frames may gather in a queue of so many bytes: until a saturated bus has filled half of it, which
// leaves as long again for a busy computer; a millisecond at the least and most at the most.
func gatherFor(buffer int, most time.Duration) time.Duration {
	const (
		frameBytes = 800   // of a classic frame, as the kernel counts
		fullest    = 20000 // frames/s: the shortest at 1 Mbit/s
	)
	frames := buffer / frameBytes / 2
	return min(max(time.Duration(frames)*time.Second/fullest, time.Millisecond), most)
}
