package socketcan

import (
	"fmt"

	"plumbline/bus"
)

// deliver moves frames into the batch, of several interfaces the earliest first,
// and reports whether the batch is full.
func (r *Reader) deliver(n notes) bool {
	for {
		if len(n.batch.Frames) == cap(n.batch.Frames) {
			return true
		}
		p := r.earliest()
		if p == nil {
			return false
		}
		if r.pending != 0 && !r.beforeStep(p.conn.ahead().software) {
			r.tellStep(n)
		}
		p.deliver(n, r.clocks)
	}
}

// earliest returns the port whose next frame is the earliest, nil when none waits.
func (r *Reader) earliest() *port {
	var first *port
	var least int64
	for _, p := range r.ports {
		if !p.waiting() {
			continue
		}
		at := p.conn.ahead().software
		if r.pending != 0 && r.beforeStep(at) {
			at += r.pending
		}
		if first == nil || at < least {
			first, least = p, at
		}
	}
	return first
}

// beforeStep reports whether a stamp is from before the step that is pending: it
// is nearer to the time that the old clock would show now.
func (r *Reader) beforeStep(at int64) bool {
	return distance(at, r.clocks.wall-r.pending) < distance(at, r.clocks.wall)
}

func distance(a, b int64) int64 {
	if a < b {
		return b - a
	}
	return a - b
}

func (r *Reader) tellStep(n notes) {
	word, s := "forward", r.pending
	if s < 0 {
		word, s = "back", -s
	}
	n.add(bus.Note{Kind: bus.Clock, Step: r.pending, Text: fmt.Sprintf("the clock of this computer was set %s by %.3f s", word, float64(s)/1e9)})
	for _, p := range r.ports {
		p.hardware = hardwareClock{}
	}
	r.pending = 0
}
