package socketcan

import (
	"errors"
	"fmt"

	"golang.org/x/sys/unix"

	"plumbline/bus"
)

// Times of a retry, ns: a bind that failed is tried again after the first, then
// after twice as long each time, up to the last.
const (
	firstRetry = 100_000_000
	lastRetry  = 5_000_000_000
)

// port is one interface that is listened to, whether it is there or not.
type port struct {
	source uint16
	name   string
	stamps Stamps

	wantedAdapter string // that the interface must belong to; "": the name tells it
	device        string // the interface's name now; "": there is none

	open     func(index int) (*conn, error) // a socket bound to that interface
	identify func(name string) Adapter
	find     func(adapter string) (device, others string)

	wanted int // bytes of the receive queue

	conn    *conn
	leaving bool   // its interface is gone: what the socket still holds is taken, then it is closed
	ended   bool   // the socket said so; netlink, which says what is there now, did not yet
	link    link   // as last told
	asked   uint32 // the last question

	retryAt, retry int64
	failures       int

	health    health
	hardware  hardwareClock
	adapter   Adapter
	overruns  tally
	dropped   tally
	buffer    int // of the last socket
	counts    Info
	saidBad   bool // of a receive that was no frame
	saidHard  bool // of hardware stamps, so that a recording tells which clock it is
	saidClock bool // of missing hardware stamps
	saidSmall bool // of a small receive queue
	saidOwn   bool // of a sender on this computer
	saidMode  bool // of a controller that is not listen-only
}

// notes collects what is to be said between the frames of a batch.
type notes struct {
	batch *bus.Batch
	wall  int64 // of this moment
}

func (n notes) add(note bus.Note) {
	note.Before = len(n.batch.Frames)
	if note.At == 0 {
		note.At = n.wall
	}
	n.batch.Notes = append(n.batch.Notes, note)
}

func (p *port) warn(n notes, format string, args ...any) {
	n.add(bus.Note{Kind: bus.Warning, Source: p.source, Text: p.name + ": " + fmt.Sprintf(format, args...)})
}

// loss tells that frames were lost; of at it says nothing when it is zero.
func (p *port) loss(n notes, place bus.Place, count uint64, at int64) {
	if count == 0 {
		return
	}
	var atLeast, where, advice string
	switch place {
	case bus.Controller:
		p.counts.LostController += count
		atLeast = "at least " // it knows of overruns, not of frames
		where, advice = "in the buffer of the controller", "the driver reads too late: a busy computer, or a slow bus to the adapter"
	case bus.Driver:
		p.counts.LostDriver += count
		where, advice = "by the driver or the network device", "the computer is too busy"
	case bus.Queue, bus.Somewhere, bus.Ring, bus.Recorder:
		p.counts.LostQueue += count
		where, advice = "in the receive queue of the socket", "this program was held up: a busy computer or disk"
	}
	n.add(bus.Note{
		Kind: bus.Loss, Source: p.source, Count: count, Place: place, At: at,
		Text: fmt.Sprintf("%s: %s%s lost %s; %s", p.name, atLeast, plural(count), where, advice),
	})
}

func plural(frames uint64) string {
	if frames == 1 {
		return "1 frame was"
	}
	return fmt.Sprintf("%d frames were", frames)
}

// receive takes what waits in the socket. It is called when that is readable
// or in error, and when all that was taken before has been delivered.
func (p *port) receive() {
	if p.conn == nil || p.conn.fd < 0 {
		return
	}
	err := p.conn.fill()
	for tries := 0; err != nil && tries < 3; tries++ {
		// Down: the socket hears again when the interface is up. Anything else is
		// the end of it; what is in its queue comes after the error.
		if !errors.Is(err, unix.ENETDOWN) {
			p.leaving, p.ended = true, true
		}
		if p.conn.waiting() {
			break
		}
		err = p.conn.fill()
	}
	if p.leaving && !p.conn.full() {
		p.conn.close()
	}
}

// waiting reports whether frames were taken and not yet delivered.
func (p *port) waiting() bool { return p.conn != nil && p.conn.waiting() }

// deliver moves the next frame into the batch, with what is to be said of it.
func (p *port) deliver(n notes, c clocks) {
	b := n.batch
	i := len(b.Frames)
	b.Frames = b.Frames[:i+1]
	f := &b.Frames[i]
	*f = bus.Frame{}
	k := p.conn.ahead()
	lost, err := p.conn.take(f)
	b.Frames = b.Frames[:i] // notes that follow come before it
	f.Source = p.source
	f.At = p.stamp(n, k, c)
	p.loss(n, bus.Queue, uint64(lost), f.At)
	if err != nil {
		if !p.saidBad {
			p.saidBad = true
			p.warn(n, "left out: %v", err)
		}
		return
	}
	if f.Flags.Has(bus.Error) {
		d := parseFault(f)
		p.counts.ErrorFrames++
		if d.overrun {
			p.loss(n, bus.Controller, p.overruns.event(), f.At)
		}
		b.Frames = b.Frames[:i+1]
		p.health.fault(d, c.mono)
		p.say(notes{b, f.At}, c.mono)
		return
	}
	p.counts.Frames++
	if f.Flags.Has(bus.Transmitted) {
		p.counts.Transmitted++
		if !p.saidOwn && !p.health.virtual && p.health.known {
			p.saidOwn = true
			p.warn(n, "a program on this computer sends on this bus")
		}
	}
	b.Frames = b.Frames[:i+1]
	p.health.frame(c.mono)
	if p.health.shown.link != bus.ErrorActive {
		p.say(notes{b, f.At}, c.mono)
	}
}

// stamp returns the time of a frame and counts the clock that it is from.
func (p *port) stamp(n notes, k *control, c clocks) int64 {
	software := k.software
	if software == 0 {
		p.counts.Unstamped++
		return c.wall
	}
	if p.stamps == Software || k.hardware == 0 {
		p.counts.Software++
		if p.stamps == Hardware && !p.saidClock {
			p.saidClock = true
			p.warn(n, "the adapter gives no time stamps: frames carry the kernel's")
		}
		return software
	}
	p.counts.Hardware++
	if !p.saidHard {
		p.saidHard = true
		p.warn(n, "frames carry the time stamps of the adapter, laid onto the clock of this computer")
	}
	at, stepped := p.hardware.at(k.hardware, software)
	if stepped {
		p.warn(n, "the clock of the adapter stepped: its stamps were laid onto the computer's clock anew")
	}
	return at
}

// say adds what has changed about the link.
func (p *port) say(n notes, mono int64) {
	if v, ok := p.health.change(mono); ok {
		p.counts.Sentence = p.health.sentence(v)
		n.add(bus.Note{Kind: bus.LinkChanged, Source: p.source, Link: v.link, Text: p.counts.Sentence, BitRate: p.health.control.BitRate, DataBitRate: p.health.control.DataBitRate})
	}
}

// locate looks which interface is the one of the adapter, and reports whether that has changed. Where the
// name tells which one it is there is nothing to look for.
func (p *port) locate() (changed bool) {
	if p.wantedAdapter == "" {
		return false
	}
	device, others := p.find(p.wantedAdapter)
	if device == "" {
		p.health.there = others
		other := p.identify(p.name)
		p.health.stranger = other.String()
		if p.health.known && p.device == "" {
			return false
		}
	}
	if device == p.device && device != "" {
		return false
	}
	if p.device != "" || device == "" {
		p.lost()
	}
	p.device = device
	if p.health.name = p.name; device != "" {
		p.health.name = device
	}
	return device != ""
}

// told takes what netlink says of the interface of this name, or of the one
// that the socket is bound to.
func (p *port) told(n notes, l *link, mono int64) {
	if l.name != p.device || l.gone {
		// renamed or removed: what has the name now, if anything, is another message
		if l.index == p.link.index {
			p.losses(n, l)
			p.lost()
		}
		return
	}
	if p.link.index != l.index {
		p.lost()
		p.adapter = p.identify(p.device)
		p.overruns, p.dropped, p.hardware = tally{}, tally{}, hardwareClock{}
		p.saidMode, p.saidClock, p.saidHard = false, false, false
		p.retryAt, p.retry, p.failures = 0, 0, 0
	}
	p.link, p.ended = *l, false
	p.losses(n, l)
	p.health.learn(l, mono)
	if l.control.Mode.Has(ListenOnly) {
		p.saidMode = false
	}
	if text := p.health.disturbs(); text != "" && !p.saidMode {
		p.saidMode = true
		n.add(bus.Note{Kind: bus.Warning, Source: p.source, Text: text})
	}
}

// losses tells what the device has lost.
func (p *port) losses(n notes, l *link) {
	if !l.hasLoss {
		return
	}
	p.loss(n, bus.Controller, p.overruns.sum(l.losses.overruns), 0)
	p.loss(n, bus.Driver, p.dropped.sum(l.losses.dropped), 0)
}

// lost takes that there is no interface of this name, or not the same.
func (p *port) lost() {
	p.health.lose()
	p.link, p.ended = link{}, false
	if p.conn == nil || p.conn.fd < 0 {
		return
	}
	p.leaving = true
	if !p.conn.waiting() {
		p.receive()
	}
}

// bind opens a socket where there is an interface and none yet, and reports
// whether it did. All frames must have been delivered.
func (p *port) bind(n notes, mono int64) bool {
	if p.conn != nil && p.conn.fd < 0 {
		p.conn = nil // empty: it was closed by receive
	}
	if !p.due() || mono < p.retryAt {
		return false
	}
	c, err := p.open(p.link.index)
	if err != nil {
		p.retry = min(max(2*p.retry, firstRetry), lastRetry)
		p.retryAt = mono + p.retry
		p.failures++
		if p.failures == 2 { // once happens while an interface is just going
			p.warn(n, "cannot listen: %v; it is tried again", err)
		}
		return false
	}
	p.conn, p.leaving = c, false
	p.retry, p.retryAt, p.failures = 0, 0, 0
	p.buffer = c.buffer
	p.smallQueue(n)
	return true
}

// due reports whether there is an interface and no socket for it.
func (p *port) due() bool { return p.conn == nil && p.link.index != 0 && p.link.isCAN && !p.ended }

// smallQueue says once that the kernel gave a smaller queue than was asked for.
func (p *port) smallQueue(n notes) {
	if p.saidSmall || p.buffer >= p.wanted {
		return
	}
	p.saidSmall = true
	p.warn(n, "the receive queue has %d KiB instead of %d: sysctl -w net.core.rmem_max=%d, or give the program CAP_NET_ADMIN",
		p.buffer>>10, p.wanted>>10, p.wanted/2)
}

// deadline returns when something is due though nothing arrives.
func (p *port) deadline(mono int64) int64 {
	at := p.health.deadline(mono)
	if p.due() {
		at = min(at, p.retryAt)
	}
	return at
}

// info returns what is known now.
func (p *port) info() Info {
	i := p.counts
	i.Name, i.Device, i.Link, i.Index = p.name, p.device, p.health.shown.link, p.link.index
	i.Kind, i.Virtual, i.FD = p.link.kind, isVirtual(p.link.kind), p.link.mtu >= fdSize
	i.Controller, i.Adapter, i.ReceiveBuffer = p.health.control, p.adapter, p.buffer
	return i
}
