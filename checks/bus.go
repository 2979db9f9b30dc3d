package checks

import (
	"math"
	"strconv"

	"plumbline/checks/fit"
)

// LinkState is the state of a bus or port, as its reader tells it.
type LinkState uint8

// The link states.
const (
	LinkUnknown LinkState = iota
	LinkAbsent
	LinkDown
	LinkSilent
	LinkActive
	LinkWarning
	LinkPassive
	LinkBusOff
	LinkNoValidFrame
)

// Place says where on the way from the bus to here frames were lost.
type Place uint8

// The places, from the bus inward.
const (
	LostSomewhere Place = iota
	LostController
	LostDriver
	LostQueue
	LostRing
	LostRecorder
	places
)

// String returns where frames were lost, in words for a sentence.
func (p Place) String() string {
	if p >= places {
		return "somewhere"
	}
	return [places]string{"on the way", "in the controller", "in the driver", "in the receive queue", "in plumbline's ring", "in the recorder"}[p]
}

// Classes of a SocketCAN error frame, as far as they are told apart (linux/can/error.h).
const (
	errorNoAck  = 0x020
	errorBusOff = 0x040
)

// Bus is what was heard of one source beside its messages. It has no opinion.
type Bus struct {
	ErrorFrames int64
	NoAck       int64 // error frames that tell of a missing acknowledge
	First, Last int64 // ns, of the error frames

	Lost      [places]int64
	Garbage   int64 // bytes thrown away
	GarbageOf string

	Strangers []int64 // by source: messages that belong to that one

	Load   float64 // highest of a whole second, 0 to 1; 0: the bit rate is not known
	LoadAt int64   // ns
	busy   int64   // ns of bus time in the second under way
	second int64
	before [2]int64 // the second that was under way before, and its busy

	Link     LinkState
	Worst    LinkState // since the start
	WorstAt  int64     // ns
	Sentence string    // of the worst
	BusOffs  int64
}

// ErrorFrame takes an error frame of a source: its class mask as SocketCAN gives it.
func (j *Judge) ErrorFrame(at int64, source int, class uint32) {
	if source < 0 || source >= len(j.buses) {
		return
	}
	b := &j.buses[source]
	event := j.clock.sources[source].of(at, j.now)
	if b.ErrorFrames == 0 {
		b.First = event
	}
	b.ErrorFrames++
	b.Last = event
	if class&errorNoAck != 0 {
		b.NoAck++
	}
	if class&errorBusOff != 0 {
		j.Link(at, source, LinkBusOff, "")
	}
	j.Advance(at)
}

// Link takes a new state of a source and the sentence that its reader says of it.
func (j *Judge) Link(at int64, source int, state LinkState, sentence string) {
	if source < 0 || source >= len(j.buses) {
		return
	}
	b := &j.buses[source]
	if state == LinkBusOff && b.Link != LinkBusOff {
		b.BusOffs++
	}
	b.Link = state
	if rank(state) > rank(b.Worst) {
		b.Worst, b.WorstAt, b.Sentence = state, j.clock.sources[source].of(at, j.now), sentence
	}
}

// rank orders link states by how bad they are.
func rank(s LinkState) int {
	switch s {
	case LinkUnknown:
		return 0
	case LinkActive:
		return 1
	case LinkSilent:
		return 2
	case LinkWarning:
		return 3
	case LinkPassive:
		return 4
	case LinkDown:
		return 5
	case LinkAbsent:
		return 6
	case LinkNoValidFrame:
		return 7
	case LinkBusOff:
		return 8
	}
	return 0
}

// Loss notes that count frames of a source were lost at a place on the way from the bus to here.
func (j *Judge) Loss(_ int64, source int, place Place, count uint64) {
	if source >= 0 && source < len(j.buses) && place < places {
		j.buses[source].Lost[place] += int64(min(count, 1<<40))
	}
}

// Garbage notes that bytes of a serial source belonged to no valid frame, and why.
func (j *Judge) Garbage(_ int64, source int, bytes uint64, why string) {
	if source >= 0 && source < len(j.buses) {
		b := &j.buses[source]
		b.Garbage += int64(min(bytes, 1<<40))
		b.GarbageOf = why
	}
}

// Busy notes that a frame took so much time of its bus, ns.
func (j *Judge) Busy(at int64, source int, ns int64) {
	if source < 0 || source >= len(j.buses) {
		return
	}
	b := &j.buses[source]
	if second := j.clock.sources[source].of(at, j.now) / 1e9; second != b.second {
		if load := float64(b.busy) * 1e-9; load > b.Load {
			b.Load, b.LoadAt = load, b.second*1e9
		}
		b.before = [2]int64{b.second, b.busy}
		b.second, b.busy = second, 0
	}
	b.busy += ns
}

// loadAt returns the load of the whole second before the time now, ns; missing where the bit rate is not known.
func (b *Bus) loadAt(now int64) Number {
	if b.second == 0 {
		return Number{}
	}
	load := Number{Known: true} // nothing was heard in it
	switch last := now/1e9 - 1; last {
	case b.second:
		load.Value = float64(b.busy) * 1e-9
	case b.before[0]:
		load.Value = float64(b.before[1]) * 1e-9
	}
	return load
}

// fullBus is the load from which frames of low priority may wait for ever; common practice. Loads are
// reckoned with all stuff bits that there can be, so that a full bus may seem to be more than full.
const fullBus = 0.95

// Stranger notes a message on a source that belongs to another one.
func (j *Judge) Stranger(_ int64, source, of int) {
	if source < 0 || source >= len(j.buses) || of < 0 || of >= len(j.buses) {
		return
	}
	b := &j.buses[source]
	if b.Strangers == nil {
		b.Strangers = make([]int64, len(j.buses))
	}
	b.Strangers[of]++
}

// strangerOf returns the source whose messages arrive on source s instead of its own; -1: none.
func (v *view) strangerOf(s int) int {
	for of, n := range v.buses[s].Strangers {
		if n >= leastStrangers {
			return of
		}
	}
	return -1
}

// leastStrangers is how many messages of another source are no accident; common practice.
const leastStrangers = 50

// errorFramesAllowed is the share of error frames among all that still counts as the odd
// disturbance; common practice.
const errorFramesAllowed = 0.001

// busCheck: error frames, controller state, frames lost on the way, bytes thrown away. The
// value is the share of error frames and losses among all frames.
func busCheck(v *view) []Finding {
	var out []Finding
	for s := range v.buses {
		out = append(out, v.busOf(s))
	}
	return out
}

func (v *view) busOf(s int) Finding {
	b := &v.buses[s]
	name := v.setup.Sources[s]
	f := Finding{Subject: name, Limit: known(errorFramesAllowed)}
	var frames int64
	wanted := false
	for i := range v.setup.Messages {
		if v.setup.Messages[i].Source == s {
			frames += v.timings[i].Count
			wanted = wanted || len(v.messages[i].corners)+len(v.messages[i].optics) > 0
		}
	}
	if !wanted {
		f.Verdict, f.Sentence = Absent, "no message of "+name+" is wanted"
		return f
	}
	f.Evidence = Evidence{Samples: frames + b.ErrorFrames, From: v.first, To: v.now}
	if !v.started {
		f.Evidence = Evidence{}
		f.Sentence = "nothing has been heard of " + name + " yet"
		f.Next = "Switch the amplifier on."
		return f
	}
	var lost int64
	where := ""
	for p, n := range b.Lost {
		if Place(p) == LostRecorder {
			continue // heard and judged all the same
		}
		if lost += n; n > 0 && where == "" {
			where = Place(p).String()
		}
	}
	share := ratio(b.ErrorFrames+lost, frames)
	f.Value = known(share)
	bad := func(sentence, next string) Finding {
		f.Verdict, f.Sentence, f.Next = Fail, sentence, next
		return f
	}
	least, _ := fit.PoissonInterval(b.ErrorFrames)
	sure := least > errorFramesAllowed*float64(b.ErrorFrames+frames)
	switch {
	case b.Worst == LinkBusOff:
		return bad(name+" went bus-off "+plural(max(b.BusOffs, 1), "time", "times")+", first "+v.since(b.WorstAt), "Compare the bit rate on both sides; look for a short circuit or exchanged wires of the bus.")
	case b.Link == LinkDown || b.Link == LinkAbsent || b.Link == LinkNoValidFrame || b.Link == LinkPassive:
		return bad(b.said(name), b.mend(name))
	case frames == 0 && v.strangerOf(s) >= 0:
		other := v.setup.Sources[v.strangerOf(s)]
		return bad("what "+other+" sends arrives on "+name, "Exchange the cables of "+name+" and "+other+", or their interfaces in the setup.")
	case frames == 0 && b.ErrorFrames > 0:
		return bad("only error frames come from "+name+", "+strconv.FormatInt(b.ErrorFrames, 10)+" of them"+": its bit rate is probably wrong", "Set the bit rate of the interface to that of the amplifier, with the tool of your system; then look for missing termination.")
	case b.NoAck > 0 && share > errorFramesAllowed:
		return bad(plural(b.NoAck, "frame", "frames")+" of "+name+" went without an acknowledge", "A listener in listen-only mode acknowledges nothing: an amplifier needs a second active node on the bus, or must be told that it is alone.")
	case ratio(b.ErrorFrames, frames) > errorFramesAllowed && !sure:
		f.Sentence = plural(b.ErrorFrames, "error frame", "error frames") + " came from " + name + ", " + show(ratio(b.ErrorFrames, frames), "percent") + " of all; too few to tell from the " + show(errorFramesAllowed, "percent") + " that are allowed"
		f.Next = "Go on listening for some seconds."
		return f
	case ratio(b.ErrorFrames, frames) > errorFramesAllowed:
		return bad(plural(b.ErrorFrames, "error frame", "error frames")+" came from "+name+", "+show(ratio(b.ErrorFrames, frames), "percent")+" of all", "Look at plugs, cable and shield of the bus; missing termination is possible.")
	case ratio(lost, frames) > errorFramesAllowed:
		return bad(plural(lost, "frame", "frames")+" of "+name+" were lost "+where, "Free the computer of other work, or listen to fewer messages; what was lost is marked in the recording.")
	case b.Load > fullBus:
		return bad(name+" is full: "+show(b.Load, "percent")+" of its time was taken in one second, "+v.since(b.LoadAt), "Send fewer messages or at a lower rate, or use a higher bit rate: frames of low priority wait or get lost.")
	case b.Garbage > 0 && b.Garbage > frames/100:
		return bad(plural(b.Garbage, "byte", "bytes")+" of "+name+" belonged to no valid frame: "+b.GarbageOf, "Look at the cable, its shield and ground, and at baud rate and framing in the setup.")
	case frames == 0:
		f.Sentence = "no message that is wanted has come from " + name
		f.Next = "See that the amplifier is on and its cable is plugged in."
		return f
	}
	f.Verdict = Pass
	f.Sentence = name + ": " + plural(frames, "frame", "frames") + " and " + plural(b.ErrorFrames, "error frame", "error frames") + ", " + strconv.FormatInt(lost, 10) + " lost"
	if b.Load > 0 {
		f.Sentence += ", load up to " + show(b.Load, "percent")
	}
	if rank(b.Worst) >= rank(LinkWarning) && b.Sentence != "" {
		f.Sentence += "; " + b.was(name) + ", " + v.since(b.WorstAt)
	}
	return f
}

// was says of the worst state what it was, now that it is over.
func (b *Bus) was(name string) string {
	switch b.Worst {
	case LinkAbsent:
		return name + " was not there"
	case LinkDown:
		return name + " was switched off"
	case LinkUnknown, LinkSilent, LinkActive, LinkWarning, LinkPassive, LinkBusOff, LinkNoValidFrame:
	}
	return b.Sentence
}

func (b *Bus) said(name string) string {
	if b.Sentence != "" && b.Link == b.Worst {
		return b.Sentence
	}
	switch b.Link {
	case LinkDown:
		return name + " is switched off"
	case LinkAbsent:
		return name + " is not there"
	case LinkPassive:
		return name + " is error passive"
	case LinkNoValidFrame:
		return "bytes come from " + name + ", but no valid frame: the baud rate or the framing is wrong"
	case LinkUnknown, LinkSilent, LinkActive, LinkWarning, LinkBusOff:
	}
	return name + " is in an unknown state"
}

// mend says what to do about the present link.
func (b *Bus) mend(name string) string {
	switch b.Link {
	case LinkAbsent:
		return "Plug in the adapter of " + name + ", or correct its device in the setup."
	case LinkDown:
		return "Have the interface of " + name + " switched on with the amplifier's bit rate, by whoever looks after this computer."
	case LinkNoValidFrame:
		return "Compare baud rate and framing of " + name + " in the setup with the device."
	case LinkUnknown, LinkSilent, LinkActive, LinkWarning, LinkPassive, LinkBusOff:
	}
	return "See to " + name + " first: nothing of it can be judged."
}

// ratio is bad among all, 0 to 1.
func ratio(bad, good int64) float64 {
	if bad <= 0 {
		return 0
	}
	return float64(bad) / math.Max(float64(bad+good), 1)
}
