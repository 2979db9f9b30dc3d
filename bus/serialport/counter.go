package serialport

import "plumbline/bus"

// maxCounters bounds the messages whose counters are followed.
const maxCounters = 64

// count is the last counter value of a message, or of all.
type count struct {
	id   uint32
	last uint32
}

// modulus is where the counter wraps.
func (c *Counter) modulus() uint64 { return 1 << (8 * c.Size) }

// counted follows the counter of a payload and returns how many packets are
// missing before it. A step of more than half the counter's range is taken for
// a device that began anew or repeated a packet.
func (f *Framer) counted(id uint32, payload []byte) (missing uint64) {
	c := f.format.Counter
	if c == nil {
		return 0
	}
	if !c.PerMessage {
		id = 0
	}
	now := c.read(payload)
	for i := range f.counters {
		k := &f.counters[i]
		if k.id != id {
			continue
		}
		m := c.modulus()
		step := (uint64(now) - uint64(k.last)) & (m - 1)
		k.last = now
		switch {
		case step == 0 || step > m/2:
			f.stats.Restarts++
			return 0
		default:
			return step - 1
		}
	}
	if len(f.counters) < maxCounters {
		f.counters = append(f.counters, count{id, now})
	}
	return 0
}

// retimer reconstructs the sample times of one message.
type retimer struct {
	id    uint32
	index uint64 // of the last frame, where no counter says it
	times Reconstruct
}

func (r *retimer) reset() {
	r.index = 0
	r.times.Reset()
}

// retime replaces the time of a frame by that of its sample.
func (f *Framer) retime(frame *bus.Frame, payload []byte, missing uint64) {
	for i := range f.retimers {
		r := &f.retimers[i]
		if r.id != frame.ID {
			continue
		}
		r.index += 1 + missing
		n := r.index
		if f.modulus() != 0 {
			n = uint64(f.format.Counter.read(payload))
		}
		at, ok := r.times.At(n, frame.At)
		frame.At = at
		if ok {
			f.stats.Retimed++
		}
		return
	}
}
