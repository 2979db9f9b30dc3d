package record

import (
	"fmt"
	"slices"
	"time"

	"plumbline/bus"
)

// startSync has the part synced beside writing, if none is under way.
func (w *writer) startSync() {
	p := w.part
	if p == nil || w.under || p.good == p.synced {
		return
	}
	p.syncing, p.upto = len(p.waiting), p.good
	w.under = true
	w.jobs <- p.file
}

// landed takes in how a sync has ended.
func (w *writer) landed(err error) {
	if err != nil {
		w.fail("syncing", err, true)
		return
	}
	w.settle(w.part, w.part.upto, w.part.syncing)
	w.hurry()
}

// hurry begins a sync before its time where much waits for one.
func (w *writer) hurry() {
	if n, most := w.queue.waiting(); n > most/4 {
		w.startSync()
	}
}

// join waits for a sync under way.
func (w *writer) join(p *part) error {
	if !w.under {
		return nil
	}
	err := <-w.synced
	w.under = false
	if err == nil {
		w.settle(p, p.upto, p.syncing)
	}
	return err
}

// settle takes note that what stands in the part up to a size is safe.
func (w *writer) settle(p *part, upto int64, n int) {
	was := p.settled
	w.queue.give(p.safe(upto, n), true)
	if p.settled && !was {
		w.parts++
	}
	w.pause = 0
}

// end ends the part as it should be: statistics, sync, close.
func (w *writer) end() {
	p := w.part
	if err := w.join(p); err != nil {
		w.fail("syncing", err, true)
		return
	}
	_, ifaces, _ := w.queue.sources(0)
	if err := p.put(p.statistics(ifaces)); err != nil {
		w.fail("writing", err, false)
		return
	}
	if err := p.file.Sync(); err != nil {
		w.fail("syncing", err, true)
		return
	}
	w.settle(p, p.good, len(p.waiting))
	if err := p.file.Close(); err != nil { // all of it is safe
		w.log.Warn("closing a part failed", "file", p.path, "reason", err)
	}
	w.leave(p)
	w.change(Waiting, "")
}

// leave makes a part an old one.
func (w *writer) leave(p *part) {
	w.part = nil
	if !p.settled {
		return
	}
	w.bytes += p.synced
	if name, ok := parsePart(p.base()); ok {
		w.old = append(w.old, old{partName: name, size: p.good, span: p.time()})
	}
}

// fail takes leave of the part after an error. What is surely in it stays
// there; what is surely not goes back in front of the backlog; what may be in
// it or not is told as lost, because nothing may be written twice.
func (w *writer) fail(what string, err error, syncFailed bool) {
	p := w.part
	if w.join(p) != nil {
		// what a system says of a file after a failed sync is not to be believed
		syncFailed = true
	}
	gone := false
	remove := func() bool {
		gone = gone || w.disk.remove(p.path) == nil
		return gone
	}
	whole := !p.torn || p.file.Truncate(p.good) == nil
	switch {
	case whole && !syncFailed && p.file.Sync() == nil:
		w.settle(p, p.good, len(p.waiting))
	case p.file.Truncate(p.synced) == nil, !p.settled && remove():
		p.good = p.synced
		w.backlog = append(slices.Clip(p.waiting), w.backlog...)
	default:
		unsure := p.waiting
		if p.tornBy != nil && len(w.backlog) > 0 && w.backlog[0] == p.tornBy {
			unsure = append(unsure, p.tornBy)
			w.backlog = w.backlog[1:]
		}
		w.lose(unsure, fmt.Sprintf("%s the part before failed (%v)", what, err))
	}
	p.waiting = nil
	if closeErr := p.file.Close(); closeErr != nil {
		w.log.Warn("closing a part failed", "file", p.path, "reason", closeErr)
	}
	if !p.settled && remove() {
		w.number = p.number - 1
	}
	w.leave(p)
	w.fault(fmt.Errorf("%s %s: %w", what, p.path, err))
}

// lose gives up segments.
func (w *writer) lose(list []*segment, why string) {
	for _, s := range list {
		if s.cut != nil {
			s.cut.end(nil, errEnded)
			continue
		}
		w.gap.add(s, why)
	}
	w.queue.give(list, false)
}

// fault stops recording for a while after an error of the disk.
func (w *writer) fault(err error) {
	w.pause = min(max(firstPause, 2*w.pause), lastPause)
	w.retry = time.Now().Add(w.pause)
	w.change(Stopped, err.Error())
}

// look asks how much room there is.
func (w *writer) look() {
	free, total, err := w.disk.space(w.cfg.Dir)
	w.free, w.total, w.freeOK = free, total, err == nil
}

// reserve is how many bytes stay free.
func (w *writer) reserve() uint64 {
	switch {
	case w.cfg.Reserve < 0:
		return 0
	case w.cfg.Reserve > 0:
		return uint64(w.cfg.Reserve)
	}
	return max(defaultReserve, w.total/reserveShare)
}

// tooFull reports whether the disk is too full to record. Where that has stopped
// recording a quarter more has to be free, so that it does not begin and stop at each file.
func (w *writer) tooFull() bool {
	limit := w.reserve()
	if w.short {
		limit += limit / 4
	}
	w.short = w.freeOK && w.free < limit
	return w.short
}

// halt stops recording until there is room.
func (w *writer) halt() {
	w.change(Stopped, fmt.Sprintf("the disk is almost full: %d MiB are to stay free; make room on it, or bound what is kept", w.reserve()>>20))
}

// change takes note of a state and tells it where it is another one.
func (w *writer) change(state State, why string) {
	if state == w.state && why == w.why {
		return
	}
	was := w.state
	if state != was {
		w.since = time.Now()
	}
	w.state, w.why = state, why
	w.queue.blame(why)
	switch state {
	case Stopped:
		if was != Stopped {
			w.stops++
			w.log.Warn("recording stopped", "reason", why)
		}
	case Recording:
		w.log.Info("recording", "file", w.part.path)
	case Waiting, Closed:
	}
	w.publish()
}

// finish brings to disk what can be brought, and ends. Errors are tried again
// at once, a few times.
func (w *writer) finish() {
	const tries = 3
	for range tries {
		w.retry = time.Time{}
		w.receive(true)
		if s := w.queue.last(); s != nil {
			w.backlog = append(w.backlog, s)
		}
		w.look()
		w.drain()
		if w.part != nil {
			w.end()
		}
		if len(w.backlog) == 0 && w.part == nil || w.short {
			break
		}
	}
	w.lose(w.backlog, "recording had ended")
	w.backlog = nil
	w.sweep()
	w.change(Closed, w.why)
}

// publish hands out how things stand.
func (w *writer) publish() {
	s := &Stats{
		State: w.state, Why: w.why, Full: w.state == Stopped && w.short, Since: w.since, Dir: w.cfg.Dir, Session: w.session, Parts: w.parts, Bytes: w.bytes,
		Free: w.free, FreeOK: w.freeOK, Reserve: w.reserve(), Stops: w.stops, Removed: w.removed, Cuts: len(w.cuts),
		Aside: append([]string(nil), w.aside...), Sources: w.queue.snapshot(),
	}
	if w.part != nil {
		s.Part = w.part.path
		s.Bytes += w.part.synced
	}
	for n := range s.Sources {
		s.Frames += s.Sources[n].Written
		s.Lost += s.Sources[n].Lost[bus.Recorder]
	}
	w.stats.Store(s)
}
