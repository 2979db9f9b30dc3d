package socketcan

import (
	"math"

	"plumbline/bus"
)

// health is what one interface has shown of itself, and what of it was said.
// It is a plain value; all times are CLOCK_MONOTONIC, ns.
type health struct {
	name        string
	silentAfter int64

	expects  string // the adapter that is waited for; "": any of this name
	stranger string // the adapter that has the name instead; "": none, or none that can be told
	there    string // the adapters that there are, for a person

	known   bool // the kernel was asked
	present bool
	isCAN   bool
	up      bool
	virtual bool
	filters bool // the kernel leaves frames out
	control Controller
	since   int64 // up since
	busOffs tally
	pulse   bool // bus-off came and went unseen

	heard     bool // a frame since it is up
	lastFrame int64
	lastError int64
	errors    uint64 // error frames of the wire since the last frame
	noAck     uint64 // of these, for want of an acknowledge
	packets   uint64 // that the device counted, of whatever identifier
	errorsSum uint64 // error frames since the last count
	others    bool   // frames arrived that the filters leave out

	shown   verdict
	shownAt int64
}

// verdict is the state of a link and which of its sentences fits.
type verdict struct {
	link bus.Link
	why  why
}

// why tells sentences of one state apart.
type why uint8

const (
	plain        why = iota
	notCAN           // the name belongs to something else
	onlyErrors       // error frames and no other
	noAck            // error frames for want of an acknowledge
	onlyOthers       // frames arrive, and the filters leave all of them out
	noAdapter        // no interface belongs to the adapter
	otherAdapter     // and the name belongs to another
	noErrorInfo      // there is no controller that could tell of errors
)

// Times on CLOCK_MONOTONIC, ns.
const (
	holdBusOff  = 2_000_000_000 // so that it is seen: the restart can follow within milliseconds
	holdTrouble = 500_000_000   // a bus between two states does not fill the log
	errorsCount = 5_000_000_000 // for so long the last error frame explains a silence
)

// learn takes what netlink says.
func (h *health) learn(l *link, now int64) {
	if l.gone {
		h.lose()
		return
	}
	wasUp := h.present && h.up
	h.known, h.present, h.isCAN, h.up = true, true, l.isCAN, l.up
	h.virtual = isVirtual(l.kind)
	h.control = l.control
	if l.up && !wasUp {
		h.since, h.heard, h.errors, h.noAck, h.lastError, h.others = now, false, 0, 0, 0, false
	}
	if l.control.Known && h.busOffs.sum(uint64(l.control.BusOffs)) > 0 {
		h.pulse = true
	}
	if l.hasLoss {
		h.others = h.packets != 0 && l.packets > h.packets+h.errorsSum
		h.packets, h.errorsSum = l.packets, 0
	}
}

// lose takes that there is no such interface.
func (h *health) lose() {
	h.known, h.present, h.up = true, false, false
	h.control, h.busOffs, h.packets = Controller{}, tally{}, 0
}

func isVirtual(kind string) bool { return kind == "vcan" || kind == "vxcan" }

// frame takes that a data or remote frame was heard.
func (h *health) frame(now int64) {
	h.heard, h.lastFrame, h.errors, h.noAck = true, now, 0, 0
}

// fault takes an error frame.
func (h *health) fault(d fault, now int64) {
	h.errorsSum++
	if d.busError {
		h.lastError = now
		h.errors++
		if d.noAck {
			h.noAck++
		}
	}
	if d.counters {
		h.control.HasCounters, h.control.TxErrors, h.control.RxErrors = true, uint16(d.tx), uint16(d.rx)
	}
	if d.hasState {
		h.control.Known, h.control.State = true, d.state
		if d.state == BusOff && h.busOffs.event() > 0 {
			h.pulse = true
		}
	}
}

// quiet reports since when there has been nothing to hear.
func (h *health) quiet() int64 {
	if h.heard {
		return max(h.since, h.lastFrame)
	}
	return h.since
}

// judge returns what fits now; link is LinkUnknown while it is too early to say.
func (h *health) judge(now int64) verdict {
	switch {
	case !h.known:
		return verdict{}
	case !h.present && h.expects != "" && h.stranger != "":
		return verdict{bus.Absent, otherAdapter}
	case !h.present && h.expects != "":
		return verdict{bus.Absent, noAdapter}
	case !h.present:
		return verdict{link: bus.Absent}
	case !h.isCAN:
		return verdict{bus.Absent, notCAN}
	case !h.up:
		return verdict{link: bus.Down}
	case h.pulse:
		return verdict{link: bus.BusOff}
	}
	silent := now-h.quiet() >= h.silentAfter
	errors := h.errors > 0 && now-h.lastError < errorsCount
	reason := plain
	switch {
	case silent && errors && h.noAck > h.errors/2:
		reason = noAck
	case silent && errors:
		reason = onlyErrors
	}
	if h.control.Known {
		switch h.control.State {
		case BusOff:
			return verdict{link: bus.BusOff}
		case ErrorPassive:
			return verdict{bus.ErrorPassive, reason}
		case ErrorWarning:
			return verdict{bus.ErrorWarning, reason}
		case Active, Stopped, Sleeping:
		}
	}
	switch {
	case silent && reason == plain && h.filters && h.others:
		return verdict{bus.Silent, onlyOthers}
	case silent:
		return verdict{bus.Silent, reason}
	case !h.heard:
		return verdict{}
	case !h.control.Known:
		return verdict{bus.ErrorActive, noErrorInfo}
	}
	return verdict{link: bus.ErrorActive}
}

// change returns what is to be said now, if anything is. What is better than
// what was shown waits until that has been shown long enough.
func (h *health) change(now int64) (verdict, bool) {
	v := h.judge(now)
	if v == h.shown && h.pulse {
		h.shownAt = now // once more
	}
	if v.link == bus.BusOff {
		h.pulse = false
	}
	if v == h.shown || now < h.heldUntil(v) || v.link == bus.LinkUnknown && !gone(h.shown.link) {
		return v, false
	}
	h.shown, h.shownAt = v, now
	return v, true
}

// gone reports whether there was nothing to listen to. That this is over is worth
// saying before anything is heard.
func gone(l bus.Link) bool { return l == bus.Absent || l == bus.Down }

// heldUntil returns when v may follow what is shown.
func (h *health) heldUntil(v verdict) int64 {
	if rank(v.link) >= rank(h.shown.link) {
		return h.shownAt
	}
	switch h.shown.link {
	case bus.BusOff:
		return h.shownAt + holdBusOff
	case bus.ErrorPassive, bus.ErrorWarning:
		return h.shownAt + holdTrouble
	default:
		return h.shownAt
	}
}

// rank orders states by how bad they are; what is plainly not there comes at once.
func rank(l bus.Link) int {
	switch l {
	case bus.ErrorWarning:
		return 1
	case bus.ErrorPassive:
		return 2
	case bus.BusOff:
		return 3
	case bus.Absent, bus.Down:
		return 4
	default:
		return 0
	}
}

// deadline returns when change may have something to say though nothing arrives.
func (h *health) deadline(now int64) int64 {
	at := int64(math.MaxInt64)
	if !h.present || !h.up {
		return at
	}
	if v := h.judge(now); v != h.shown && v.link != bus.LinkUnknown {
		at = h.heldUntil(v)
	}
	if silence := h.quiet() + h.silentAfter; silence > now {
		at = min(at, silence)
	}
	if forget := h.lastError + errorsCount; h.errors > 0 && forget > now {
		at = min(at, forget)
	}
	return at
}
