package socketcan

import (
	"fmt"

	"plumbline/bus"
)

// sentence says what a verdict means to who stands at the vehicle, and what to do.
func (h *health) sentence(v verdict) string {
	s := h.name + ": "
	switch v.link {
	case bus.Absent:
		switch v.why {
		case otherAdapter:
			return s + "the interface of this name is now the adapter " + h.stranger + ", expected " + h.expects + ": plug that in; it is used as soon as it is there, whatever name it gets"
		case noAdapter:
			there := "there is no other"
			if h.there != "" {
				there = "there is " + h.there
			}
			return s + "no interface belongs to the adapter " + h.expects + " (" + there + "): plug it in; it is used as soon as it is there, whatever name it gets"
		case notCAN:
			return s + "there is an interface of this name, but it is not a CAN interface: see `ip link` for the right name"
		default:
		}
		return s + "there is no such interface: plug the adapter in, or see `ip link` for the name it has now; it is used as soon as it is there"
	case bus.Down:
		return s + "the interface is there, but switched off: " + h.switchOn()
	case bus.Silent:
		return s + h.silence(v.why)
	case bus.ErrorActive:
		if v.why == noErrorInfo {
			return s + "frames arrive; this interface gives no error information: no error frames, no controller state"
		}
		return s + "frames arrive" + h.rate(", at ", "")
	case bus.ErrorWarning:
		return s + "the controller counts errors (error warning" + h.counters() + "): " + h.trouble(v.why)
	case bus.ErrorPassive:
		return s + "the controller counts many errors (error passive" + h.counters() + "): " + h.trouble(v.why)
	case bus.BusOff:
		return s + "bus-off: the controller has left the bus after too many errors of its own and hears nothing until it is restarted, " + h.restart() +
			"; it can only happen to one that sends: look for a short circuit or a wrong bit rate" + h.rate(" (set to ", ")") + ", and set it to listen-only"
	default:
		return s + "the interface is up; the first frame is awaited"
	}
}

// silence says why an interface that is up may have nothing to tell.
func (h *health) silence(w why) string {
	after := fmt.Sprintf("for %s", seconds(h.silentAfter))
	switch w {
	case onlyErrors, noAck:
		return h.trouble(w)
	case onlyOthers:
		return "frames arrive, but none of those that are wanted " + after + ": wrong bus, or identifiers other than the setup's"
	case plain, notCAN, noErrorInfo, noAdapter, otherAdapter:
	}
	s := "up, but nothing heard " + after + ": amplifier off, or cable unplugged"
	if h.virtual {
		return "up, but nothing heard " + after + ": nobody sends on this virtual bus"
	}
	if !h.control.Known {
		return s + "; this interface gives no error information, so a wrong bit rate looks the same"
	}
	return s + "; no error is seen either" + h.rate(" at ", "")
}

// trouble says what makes errors.
func (h *health) trouble(w why) string {
	listener := h.control.Mode.Has(ListenOnly)
	const alone = "a listen-only node gives no acknowledge, so an amplifier alone with it repeats one frame for ever: a second active node is needed on the bus"
	switch {
	case w == noAck && listener:
		return "frames are sent, but nobody acknowledges them: " + alone
	case w == noAck:
		return "frames are sent, but nobody acknowledges them: no other node is on the bus, or its cable is broken"
	case w == onlyErrors && listener:
		return "error frames arrive, but not one whole frame: wrong bit rate" + h.rate(" (set to ", ")") + ", or no acknowledge: " + alone + "; a missing termination is possible too"
	case w == onlyErrors:
		return "error frames arrive, but not one whole frame: wrong bit rate" + h.rate(" (set to ", ")") + "; a missing termination is possible too"
	}
	return "a bad contact, a damaged cable or a wrong sample point; a missing termination is possible too"
}

// restart says how the controller comes back.
func (h *health) restart() string {
	if h.control.Restart > 0 {
		return fmt.Sprintf("by itself after %d ms", h.control.Restart.Milliseconds())
	}
	return "by hand: ip link set " + h.name + " type can restart"
}

// switchOn gives the command; plumbline itself sets nothing.
func (h *health) switchOn() string {
	up := "ip link set " + h.name + " up"
	if h.virtual || !h.control.Known {
		return up
	}
	if h.control.BitRate == 0 {
		return "it has no bit rate yet: " + up + " type can bitrate RATE listen-only on"
	}
	return up + h.rate(" (bit rate set to ", ")")
}

// disturbs is the warning about an interface that could be heard on the bus,
// empty where none is due.
func (h *health) disturbs() string {
	switch {
	case h.virtual || !h.isCAN || !h.up:
		return ""
	case !h.control.Known:
		return h.name + ": this interface does not say whether it is listen-only: it could acknowledge frames and disturb the bus; set the adapter to listen-only where it can"
	case h.control.Mode.Has(ListenOnly):
		return ""
	}
	return h.name + ": the controller is not listen-only: it acknowledges frames and sends error flags, so it can hide a missing acknowledge and disturb the bus; " +
		"ip link set " + h.name + " down, then ip link set " + h.name + " up type can listen-only on"
}

// counters returns the error counters where they are known.
func (h *health) counters() string {
	if !h.control.HasCounters {
		return ""
	}
	return fmt.Sprintf(", receive counter %d, transmit counter %d", h.control.RxErrors, h.control.TxErrors)
}

// rate returns the bit rate between two words, nothing where it is not known.
func (h *health) rate(before, after string) string {
	if h.control.BitRate == 0 {
		return ""
	}
	s := before + bitRate(h.control.BitRate)
	if h.control.DataBitRate != 0 && h.control.Mode.Has(FDMode) {
		s += " and " + bitRate(h.control.DataBitRate) + " in the data phase"
	}
	return s + after
}

func bitRate(bps uint32) string {
	if bps%1000 == 0 {
		return fmt.Sprintf("%d kbit/s", bps/1000)
	}
	return fmt.Sprintf("%d bit/s", bps)
}

func seconds(ns int64) string { return fmt.Sprintf("%.3g s", float64(ns)/1e9) }
