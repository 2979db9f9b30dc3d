package socketcan

import "golang.org/x/sys/unix"

// clocks are CLOCK_REALTIME and CLOCK_MONOTONIC of one moment, ns.
type clocks struct{ wall, mono int64 }

// readClocks reads both as near to each other as this process is let: of a few
// tries the one that took the shortest.
func readClocks() clocks {
	var best clocks
	least := int64(1) << 62
	for range 5 {
		before := now(unix.CLOCK_MONOTONIC)
		wall := now(unix.CLOCK_REALTIME)
		took := now(unix.CLOCK_MONOTONIC) - before
		if took < least {
			least, best = took, clocks{wall, before + took/2}
		}
		if took < 100_000 {
			break
		}
	}
	return best
}

func now(clock int32) int64 {
	var ts unix.Timespec
	// the two clocks exist in every Linux: no error is possible
	_ = unix.ClockGettime(clock, &ts)
	return ts.Nano()
}

// leastStep is what parts the two clocks before it is called a step, ns. The
// kernel slews both alike, so only somebody who sets the time parts them; reading
// both takes well under a millisecond unless this process is put to sleep in
// between, five times in a row. What is below 50 ms neither makes a silence nor
// hides one.
const leastStep = 50_000_000

// stepWatch finds steps of CLOCK_REALTIME.
type stepWatch struct {
	offset int64 // wall less mono, since the last step
	set    bool
}

// step returns by how much the wall clock was set since the last call that
// returned something other than zero, ns: 0 when it is less than leastStep.
// Smaller steps add up.
func (w *stepWatch) step(c clocks) int64 {
	offset := c.wall - c.mono
	if !w.set {
		w.offset, w.set = offset, true
		return 0
	}
	d := offset - w.offset
	if d > -leastStep && d < leastStep {
		return 0
	}
	w.offset = offset
	return d
}

// hardwareClock lays the stamps of an adapter onto CLOCK_REALTIME.
//
// A software stamp is the true time plus a latency that is never negative, so
// the least of (software − hardware) over a window is the best offset to be had.
// Windows of a second follow the adapter's crystal: at 100 ppm it moves 0.1 ms.
type hardwareClock struct {
	set        bool
	offset     int64 // in use
	least      int64 // of this window
	windowEnds int64 // hardware time
	last       int64 // the last result
}

const hardwareWindow = 1_000_000_000 // ns

// at returns the time of a frame, ns since 1970-01-01 UTC. stepped is true
// where the adapter's clock jumped against the kernel's by more than leastStep
// and the offset was found anew.
func (h *hardwareClock) at(hardware, software int64) (at int64, stepped bool) {
	d := software - hardware
	switch {
	case !h.set:
		h.start(hardware, d)
	case d < h.offset-leastStep:
		// so far ahead of the kernel's that no change of rate explains it
		h.start(hardware, d)
		stepped = true
	case hardware >= h.windowEnds || hardware < h.windowEnds-2*hardwareWindow:
		// one late stamp is a driver that was held up; a whole window of them is a step
		least := min(h.least, d)
		stepped = least > h.offset+leastStep
		h.start(hardware, d)
		h.offset = least
	default:
		h.least = min(h.least, d)
		h.offset = min(h.offset, d) // a stamp is never later than the kernel's
	}
	at = hardware + h.offset
	if at < h.last && h.last-at < leastStep {
		at = h.last // the offset moved: frames of one bus do not run backwards for it
	}
	h.last = at
	return at, stepped
}

func (h *hardwareClock) start(hardware, d int64) {
	h.set, h.offset, h.least, h.windowEnds = true, d, d, hardware+hardwareWindow
}
