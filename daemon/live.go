package daemon

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"plumbline/bus"
)

// Live is several live sources as one: batches come in the order in which they arrived, and
// that order is what is judged and recorded. Each source is read by a goroutine of its own
// into one bounded ring; where the ring is full its frames are counted as lost at bus.Ring,
// and reading goes on, so that nobody who judges can hold up the kernel.
//
// While nothing arrives, Read returns a bus.Tick every Grid of event time. At the start, every second and
// behind each step of the clock a bus.BothClocks says what the monotonic clock shows.
type Live struct {
	names  []string // of all sources, one after the other
	free   chan *bus.Batch
	full   chan *bus.Batch
	stop   chan struct{}
	end    func() error
	reads  sync.WaitGroup
	open   atomic.Int32 // sources that have not ended
	lost   []unheard    // by source, not told yet
	bases  []int        // by source, the number of its first name
	now    func() (wall, monotonic int64)
	told   int64 // ns, the newest tick
	ahead  int64 // ns, wall clock minus monotonic one at the last look
	paired int64 // ns, monotonic: when both clocks were last told; 0: not yet
	crash  atomic.Pointer[crash]
	ticker *time.Ticker
}

// unheard is what of a source found no room in the ring.
type unheard struct {
	frames atomic.Uint64
	bytes  atomic.Bool // of a serial line, whether or not they made a frame: who cuts them again must not join what is left
}

// add counts a batch.
func (m *unheard) add(b *bus.Batch) {
	m.frames.Add(uint64(len(b.Frames)))
	if len(b.Chunks) > 0 {
		m.bytes.Store(true)
	}
}

// take returns what was not told yet; some: there is something.
func (m *unheard) take() (frames uint64, some bool) {
	frames = m.frames.Swap(0)
	return frames, m.bytes.Swap(false) || frames > 0
}

// liveRing is how many batches may wait: at 8,000 frames/s some seconds.
const liveRing = 256

// tickLag keeps a tick from overtaking frames that the kernel still holds.
const tickLag = int64(50 * time.Millisecond)

// NewLive begins to read the sources. Names of a source must not grow: live readers know
// their interfaces from the start.
func NewLive(sources []bus.Source) *Live {
	l := &Live{
		free: make(chan *bus.Batch, liveRing),
		full: make(chan *bus.Batch, liveRing),
		stop: make(chan struct{}),
		lost: make([]unheard, len(sources)),
		now:  clocks(),
	}
	wall, mono := l.now()
	l.ahead = wall - mono
	for range liveRing {
		l.free <- new(bus.Batch)
	}
	l.ticker = time.NewTicker(time.Duration(Grid))
	l.open.Store(int32(len(sources)))
	for _, src := range sources { // before the first is read: all of them ask
		l.bases = append(l.bases, len(l.names))
		l.names = append(l.names, src.Names()...)
	}
	for i, src := range sources {
		l.reads.Go(func() { l.read(src, i) })
	}
	l.end = sync.OnceValue(func() error {
		close(l.stop)
		l.ticker.Stop()
		var errs []error
		for _, src := range sources {
			errs = append(errs, src.Close())
		}
		l.reads.Wait()
		return errors.Join(errs...)
	})
	return l
}

// read fills batches from one source until it ends.
func (l *Live) read(src bus.Source, index int) {
	defer l.open.Add(-1)
	defer catch(func(c *crash) { l.crash.Store(c) })
	var spare bus.Batch
	var kept []bus.Note // of batches for which there was no room: links must not be missed
	for {
		var b *bus.Batch
		select {
		case <-l.stop:
			return
		case b = <-l.free:
		default:
			b = &spare // no room: read on, count, and say so in the next batch that has
		}
		err := src.Read(b)
		if b == &spare {
			l.lost[index].add(&spare)
			if kept = append(kept, spare.Notes...); len(kept) > liveRing {
				kept = kept[len(kept)-liveRing:]
			}
			if err != nil {
				return
			}
			if len(kept) == 0 {
				continue
			}
			select { // what is noted may be the last for long
			case b = <-l.free:
				b.Reset()
			default:
				continue
			}
		}
		if len(kept) > 0 {
			for i := range kept {
				kept[i].Before = 0
			}
			b.Notes = append(kept, b.Notes...)
			kept = nil
		}
		l.renumber(b, index)
		if err != nil && !errors.Is(err, io.EOF) {
			b.Notes = append(b.Notes, bus.Note{Before: len(b.Frames), At: l.wall(), Kind: bus.Warning, Text: err.Error()})
		}
		l.full <- b // never blocks: there is room for every batch
		if err != nil {
			return
		}
	}
}

// renumber makes the numbers of a source those of all, and puts what was lost before it first.
func (l *Live) renumber(b *bus.Batch, index int) {
	base := uint16(l.bases[index])
	for i := range b.Frames {
		b.Frames[i].Source += base
	}
	for i := range b.Notes {
		b.Notes[i].Source += base
	}
	for i := range b.Chunks {
		b.Chunks[i].Source += base
		// The source reuses its bytes with the next Read, which may come before these are taken.
		b.Chunks[i].Data = append([]byte(nil), b.Chunks[i].Data...)
	}
	if n, some := l.lost[index].take(); some {
		at := l.wall()
		switch {
		case len(b.Frames) > 0:
			at = b.Frames[0].At
		case len(b.Chunks) > 0:
			at = b.Chunks[0].At
		}
		b.Notes = append([]bus.Note{l.missing(at, index, n)}, b.Notes...)
	}
}

// missing says that n frames of a source found no room.
func (l *Live) missing(at int64, index int, n uint64) bus.Note {
	return bus.Note{At: at, Kind: bus.Loss, Source: uint16(l.bases[index]), Count: n, Place: bus.Ring, Text: "the ring was full"}
}

// Names returns the names of all sources.
func (l *Live) Names() []string { return l.names }

// Read returns the next batch, or a tick where nothing has come for a while. After all sources have
// ended, or after Close, it returns io.EOF.
func (l *Live) Read(b *bus.Batch) error {
	b.Reset()
	select {
	case <-l.stop:
		return io.EOF
	default:
	}
	for {
		select {
		case next := <-l.full:
			*b, *next = *next, *b
			next.Reset()
			l.free <- next
			l.pair(b)
			return nil
		case <-l.stop:
			return io.EOF
		case <-l.ticker.C:
			if c := l.crash.Load(); c != nil {
				panic(c) // where whoever runs the program can see it
			}
			if l.open.Load() == 0 && len(l.full) == 0 {
				return io.EOF
			}
			if len(l.full) > 0 {
				continue
			}
			if l.tick(b) {
				l.pair(b)
				return nil
			}
		}
	}
}

// stepped is by how much the wall clock must part from the monotonic one to be told, ns: slewing does less between two ticks.
const stepped = int64(50 * time.Millisecond)

// tick says that time went on, or that the clock was set. It is false where there is nothing to say.
func (l *Live) tick(b *bus.Batch) bool {
	wall, mono := l.now()
	if step := wall - mono - l.ahead; step > stepped || step < -stepped {
		l.ahead += step
		l.told = wall
		text := fmt.Sprintf("the clock was set by %.3f s", float64(step)/1e9)
		b.Notes = append(b.Notes, bus.Note{At: wall, Kind: bus.Clock, Step: step, Text: text})
		return true
	}
	l.ahead = wall - mono
	at := wall - tickLag
	if at <= l.told {
		return false
	}
	for i := range l.lost { // nothing may come for long that could tell it
		if n, some := l.lost[i].take(); some {
			b.Notes = append(b.Notes, l.missing(at, i, n))
		}
	}
	l.told = at
	b.Notes = append(b.Notes, bus.Note{At: at, Kind: bus.Tick})
	return true
}

// pairEvery is how often both clocks are told, ns: the kernel slews by 500 ppm at the most, half a millisecond in it.
const pairEvery = int64(time.Second)

// pair says what both clocks show: before all else, behind each step of the clock in the batch, and where that
// was long ago. It costs a look at the clocks for each batch.
func (l *Live) pair(b *bus.Batch) {
	wall, mono := l.now()
	note := bus.Note{At: wall, Kind: bus.BothClocks, Monotonic: mono}
	if l.paired == 0 {
		b.Notes = append([]bus.Note{note}, b.Notes...)
		l.paired = mono
	}
	for i := 0; i < len(b.Notes); i++ {
		if b.Notes[i].Kind != bus.Clock {
			continue
		}
		note.Before = b.Notes[i].Before
		i++
		b.Notes = slices.Insert(b.Notes, i, note)
		l.paired = mono
		l.ahead = wall - mono // whoever told it, it is told
		l.told = min(l.told, wall)
	}
	if mono-l.paired >= pairEvery {
		note.Before = len(b.Frames)
		b.Notes = append(b.Notes, note)
		l.paired = mono
	}
}

// clocks returns a function that reads the wall clock and the monotonic one, ns.
func clocks() func() (wall, monotonic int64) {
	from, zero := time.Now(), monotonic()
	return func() (int64, int64) {
		now := time.Now()
		return now.UnixNano(), zero + int64(now.Sub(from)) // the same clock, to the microsecond between the two looks above
	}
}

// wall reads the wall clock, ns.
func (l *Live) wall() int64 {
	w, _ := l.now()
	return w
}

// Mark puts a person's word into the stream, between what was heard before and what comes after it.
func (l *Live) Mark(text string) {
	select {
	case b := <-l.free:
		b.Reset()
		b.Notes = append(b.Notes, bus.Note{At: l.wall(), Kind: bus.Mark, Text: text})
		l.full <- b
	case <-l.stop:
	}
}

// Close ends all sources and joins what was started.
func (l *Live) Close() error { return l.end() }
