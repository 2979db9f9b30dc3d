package daemon

import "golang.org/x/sys/unix"

// monotonic reads CLOCK_MONOTONIC, ns: what the kernel's log and the system's journal carry as well.
func monotonic() int64 {
	var now unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_MONOTONIC, &now); err != nil {
		return 1 // every Linux has it
	}
	return now.Nano()
}
