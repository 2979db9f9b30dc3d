package record

import "plumbline/bus"

// aroundNs is how long before and after a failure is kept, ns of event time.
const aroundNs = int64(30e9)

// Tell takes what is said of what is heard: a note of the kind bus.Told, which stands in the recording where it
// is by now. What was heard around it outlives the part it is in, see doc.go. Any goroutine may call it.
func (r *Recorder) Tell(n bus.Note) {
	n.Kind, n.Before = bus.Told, 0
	r.queue.tell(&n)
}

// window is a stretch of event time, ns.
type window struct{ from, to int64 }

func around(at int64) window { return window{at - aroundNs, at + aroundNs} }

// touches tells whether two stretches share some time.
func (w window) touches(o window) bool { return w.from <= o.to && o.from <= w.to }

// addWindow joins a stretch with those that it touches. list is in order and stays so.
func addWindow(list []window, w window) []window {
	out := list[:0:0]
	for _, o := range list {
		if o.touches(w) {
			w = window{min(w.from, o.from), max(w.to, o.to)}
			continue
		}
		out = append(out, o)
	}
	at := len(out)
	for at > 0 && out[at-1].from > w.from {
		at--
	}
	return append(out[:at:at], append([]window{w}, out[at:]...)...)
}

// maxWindows bounds what is remembered of a session; the oldest goes first.
const maxWindows = 10_000

func (q *queue) tell(n *bus.Note) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.note(n)
	if k := len(q.windows); k > 0 && q.windows[k-1].from <= n.At-aroundNs && n.At-aroundNs <= q.windows[k-1].to {
		q.windows[k-1].to = max(q.windows[k-1].to, n.At+aroundNs) // the usual case
		return
	}
	if q.windows = addWindow(q.windows, around(n.At)); len(q.windows) > maxWindows {
		q.windows = q.windows[1:]
	}
}

// within returns the stretches of this session that share time with a part of it.
func (q *queue) within(span window) []window {
	q.mu.Lock()
	defer q.mu.Unlock()
	var out []window
	for _, w := range q.windows {
		if w.touches(span) {
			out = append(out, w)
		}
	}
	return out
}
