package metrics

import (
	"math"

	"plumbline/bus"
	"plumbline/checks"
	"plumbline/daemon/record"
	"plumbline/daemon/setup"
)

// silentNs is how long a source of which no link is known counts as heard after its newest message, ns.
const silentNs = int64(3e9)

// linkWords are the states of a link, by checks.LinkState.
func linkWords() [9]string {
	return [...]string{
		checks.LinkUnknown: "unknown", checks.LinkAbsent: "absent", checks.LinkDown: "down", checks.LinkSilent: "silent", checks.LinkActive: "active",
		checks.LinkWarning: "warning", checks.LinkPassive: "passive", checks.LinkBusOff: "bus_off", checks.LinkNoValidFrame: "no_valid_frame",
	}
}

// source returns what is known of a source beside its messages.
func (v *view) source(i int) checks.SourceState {
	if i < len(v.now.Sources) {
		return v.now.Sources[i]
	}
	return checks.SourceState{}
}

func sourceUp(k *sink) {
	for i, name := range k.setup.Sources {
		up := false
		switch k.source(i).Link {
		case checks.LinkSilent, checks.LinkActive, checks.LinkWarning, checks.LinkPassive:
			up = true
		case checks.LinkUnknown:
			for m := range k.now.Messages {
				s := &k.now.Messages[m]
				up = up || k.setup.Messages[m].Source == i && s.Count > 0 && k.now.At-s.At <= silentNs
			}
		case checks.LinkAbsent, checks.LinkDown, checks.LinkBusOff, checks.LinkNoValidFrame:
		}
		k.flag(up, name)
	}
}

// goneNs is how long a wheel or an optical sensor counts as heard after its newest message, ns, where three periods are not longer.
const goneNs = int64(1.5e9)

// sensorUp tells of each wheel and optical sensor whether any of its messages comes.
func sensorUp(k *sink) {
	put := func(name, kind string, chs *checks.Channels) {
		known, up := false, false
		for _, ch := range chs {
			if ch == checks.None || int(ch) >= len(k.setup.Channels) {
				continue
			}
			m := k.setup.Channels[ch].Message
			if m >= len(k.now.Messages) {
				continue
			}
			known = true
			s := &k.now.Messages[m]
			patience := goneNs
			if s.PeriodS > 0 {
				patience = max(patience, int64(math.Min(3e9*s.PeriodS, 1e18)))
			}
			up = up || s.Count > 0 && k.now.At-s.At <= patience
		}
		if known {
			k.flag(up, name, kind)
		}
	}
	for i := range k.setup.Corners {
		put(k.setup.Corners[i].Name, "corner", &k.setup.Corners[i].Channels)
	}
	for i := range k.setup.Optics {
		put(k.setup.Optics[i].Name, "optic", &k.setup.Optics[i].Channels)
	}
}

func linkState(k *sink) {
	for i, name := range k.setup.Sources {
		link := k.source(i).Link
		for state, word := range linkWords() {
			k.flag(checks.LinkState(state) == link, name, word)
		}
	}
}

func judgedFrames(k *sink) {
	for i, name := range k.setup.Sources {
		n := int64(0)
		for m := range k.now.Messages {
			if k.setup.Messages[m].Source == i {
				n += k.now.Messages[m].Count
			}
		}
		k.put(float64(n), name)
	}
}

// balanced puts what a balance tells of each source that has one.
func balanced(k *sink, value func(*record.Balance) uint64) {
	for i, name := range k.setup.Sources {
		if b := k.balance(i); b != nil {
			k.put(float64(value(b)), name)
		}
	}
}

func writtenFrames(k *sink) { balanced(k, func(b *record.Balance) uint64 { return b.Written }) }
func pendingFrames(k *sink) { balanced(k, func(b *record.Balance) uint64 { return b.Pending }) }

func receivedFrames(k *sink) {
	for i, name := range k.setup.Sources {
		if k.snapshot != nil && i < len(k.snapshot.Flow.Received) {
			k.put(float64(k.snapshot.Flow.Received[i]), name)
		}
	}
}

func busLoad(k *sink) {
	for i, name := range k.setup.Sources {
		if load := k.source(i).Load; load.Known {
			k.put(load.Value, name)
		}
	}
}

func frameAge(k *sink) {
	for i, name := range k.setup.Sources {
		if k.snapshot != nil && i < len(k.snapshot.Flow.Age) {
			k.count(&k.snapshot.Flow.Age[i], name)
		}
	}
}

func receivedBytes(k *sink) {
	for i, name := range k.setup.Sources {
		if b := k.balance(i); b != nil && k.sources[i].Kind == setup.Serial {
			k.put(float64(b.Bytes), name)
		}
	}
}

func lostFrames(k *sink) {
	places := [...]string{
		checks.LostSomewhere: "somewhere", checks.LostController: "controller", checks.LostDriver: "driver",
		checks.LostQueue: "queue", checks.LostRing: "ring", checks.LostRecorder: "recorder",
	}
	for i, name := range k.setup.Sources {
		for place, n := range k.source(i).Lost {
			if checks.Place(place) != checks.LostRecorder {
				k.put(float64(n), name, places[place])
			} else if b := k.balance(i); b != nil {
				k.put(float64(b.Lost[bus.Recorder]), name, places[place])
			}
		}
	}
}

func errorFrames(k *sink) {
	for i, name := range k.setup.Sources {
		if k.sources[i].Kind == setup.CAN {
			k.put(float64(k.source(i).ErrorFrames), name)
		}
	}
}

func discardedBytes(k *sink) {
	for i, name := range k.setup.Sources {
		if k.sources[i].Kind == setup.Serial {
			k.put(float64(k.source(i).Garbage), name)
		}
	}
}

// messages puts what each message of the setup shows.
func messages(k *sink, value func(*checks.MessageState) float64) {
	for i := range k.now.Messages {
		m := &k.setup.Messages[i]
		k.put(value(&k.now.Messages[i]), k.setup.Sources[m.Source], m.Name)
	}
}

func messageFrames(k *sink) {
	messages(k, func(m *checks.MessageState) float64 { return float64(m.Count) })
}

func messageLost(k *sink) {
	messages(k, func(m *checks.MessageState) float64 { return float64(m.Lost) })
}

func messagePeriod(k *sink) {
	messages(k, func(m *checks.MessageState) float64 { return positive(m.PeriodS) })
}

func messageGap(k *sink) {
	messages(k, func(m *checks.MessageState) float64 { return positive(m.GapS) })
}

func messageLast(k *sink) {
	messages(k, func(m *checks.MessageState) float64 { return seconds(m.At) })
}

// positive returns NaN for what is not above 0: it is not known.
func positive(v float64) float64 {
	if v > 0 {
		return v
	}
	return math.NaN()
}
