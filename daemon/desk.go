package daemon

import (
	"context"
	"errors"
	"io"
	"strings"
	"sync"

	"plumbline/bus"
	"plumbline/checks"
	"plumbline/daemon/record"
	"plumbline/daemon/setup"
)

// The marks that a desk puts into what is heard.
const (
	MarkNewTest = "new test"
	MarkSigning = "sign-off"
)

// errDeskClosed says that nothing is judged any more.
var errDeskClosed = errors.New("daemon: nothing is judged any more")

// Desk judges what one source delivers as one function test after the other. A person freezes a
// test, or begins a new one, between two batches: judge and recording take note of it at the same
// place, so that the recording of a frozen test says again what its result says. The source is not
// closed for that.
//
// Run is called once. The other methods may be called by any goroutine.
type Desk struct {
	Bench *Bench
	File  string // what results call the source

	// Recorder, if set, records what is judged. It is neither run nor closed here.
	Recorder *record.Recorder

	// Begin is told of the judge of each test before it hears anything, on the goroutine of Run.
	Begin func(*Judge)

	// Renew, if set, returns the source of a new test in place of the one before, which was closed.
	// Then Run outlives the end of a source: it waits for a person, or for its context.
	Renew func() (bus.Source, error)

	// Ended, if set, is told on the goroutine of Run that the source has ended; the judge has its last word.
	Ended func()

	once   sync.Once
	wishes chan *wish
	closed chan struct{}
}

// Frozen is a test as it was at one place of the stream.
type Frozen struct {
	Result Result
	Now    checks.Now
	Setup  *setup.Setup
	Parts  []string // paths of the recording up to this place, whole and closed; nil: nothing is recorded

	Removed int    // parts before those, removed to bound what is kept
	Lost    uint64 // frames that were heard and not recorded, since the recorder began
}

// wish is what a person asks for, on its way through the stream.
type wish struct {
	kind   wishKind
	text   string
	cut    *record.Cut
	frozen *Frozen
	done   chan error
}

type wishKind uint8

const (
	freeze wishKind = iota // take the result as it is here
	afresh                 // begin a new test
	ended                  // no wish: the source has ended
)

func (d *Desk) init() {
	d.once.Do(func() {
		d.wishes = make(chan *wish)
		d.closed = make(chan struct{})
	})
}

// Run judges until the source ends, which is no error, or until ctx is done, whose error it then
// returns. It closes src and has joined what it started when it returns.
func (d *Desk) Run(ctx context.Context, src bus.Source) error {
	d.init()
	defer close(d.closed)
	s := &seated{Source: src, desk: d, stop: make(chan struct{})}
	c := &clerk{desk: d, seat: s}
	c.begin()
	err := pump(ctx, s, newDecoder(d.Bench, d.File, false).decode, c.batch)
	c.judge.end(ctx, err)
	s.leave()
	return err
}

// Freeze takes the test as it is now, with its recording up to this place; words stand in the mark there.
// While the disk does not take what was heard it waits, until ctx is done.
func (d *Desk) Freeze(ctx context.Context, words string) (*Frozen, error) {
	w := &wish{kind: freeze, text: strings.TrimSpace(MarkSigning + " " + words)}
	if err := d.ask(ctx, w); err != nil {
		return nil, err
	}
	if w.cut != nil {
		var err error
		if w.frozen.Parts, err = w.cut.Wait(ctx); err != nil {
			if s := d.Recorder.Stats(); s.Why != "" {
				err = errors.Join(errors.New("the recording has stopped: "+s.Why), err)
			}
			return nil, err
		}
		w.frozen.Removed, w.frozen.Lost = w.cut.Removed(), d.Recorder.Stats().Lost
	}
	return w.frozen, nil
}

// Afresh begins a new test: judge and recording begin anew with what is heard next.
func (d *Desk) Afresh(ctx context.Context) error {
	return d.ask(ctx, &wish{kind: afresh, text: MarkNewTest})
}

// ask hands a wish to Run and waits until the judge has met it.
func (d *Desk) ask(ctx context.Context, w *wish) error {
	d.init()
	w.done = make(chan error, 1)
	select {
	case d.wishes <- w:
	case <-d.closed:
		return errDeskClosed
	case <-ctx.Done():
		return ctx.Err()
	}
	select {
	case err := <-w.done:
		return err
	case <-d.closed:
		return errDeskClosed
	case <-ctx.Done():
		return ctx.Err()
	}
}

// clerk is the side of the judge.
type clerk struct {
	desk  *Desk
	seat  *seated
	judge *Judge
	taken uint64 // batches
}

// begin begins a judge.
func (c *clerk) begin() {
	c.judge = c.desk.Bench.Judge(c.desk.File)
	if c.desk.Begin != nil {
		c.desk.Begin(c.judge)
	}
}

// batch judges a batch and does what a person asked for at its place.
func (c *clerk) batch(d *delivered) error {
	c.taken++
	w := c.seat.due(c.taken)
	if w != nil && w.kind == afresh {
		c.begin()
	}
	err := c.judge.batch(d)
	if w == nil {
		return err
	}
	switch w.kind {
	case freeze:
		s := c.judge.Snapshot(0)
		w.frozen = &Frozen{Result: s.Result, Now: s.Now, Setup: s.Setup}
	case ended:
		c.judge.end(context.Background(), nil)
		if c.desk.Ended != nil {
			c.desk.Ended()
		}
		return err
	case afresh:
	}
	w.done <- nil
	return err
}

// seated is the side of the source: wishes go in between its batches, and everything to the recorder.
type seated struct {
	bus.Source
	desk  *Desk
	stop  chan struct{}
	read  uint64 // batches
	at    int64  // event time of the newest, ns
	links []bus.Note
	recut *recut // of the second test and those after it, where there are serial sources
	over  bool   // the source has ended

	mu   sync.Mutex // guards what follows
	wait []placed
	shut bool
	err  error
}

// placed is a wish and the number of its batch.
type placed struct {
	batch uint64
	wish  *wish
}

// Read implements bus.Source.
func (s *seated) Read(b *bus.Batch) error {
	var w *wish
	switch {
	case s.over:
		select {
		case w = <-s.desk.wishes:
		case <-s.stop:
			b.Reset()
			return io.EOF
		}
	default:
		select {
		case w = <-s.desk.wishes:
		default:
		}
	}
	var cut *record.Cut
	switch {
	case w != nil && w.kind == freeze:
		b.Reset()
		b.Notes = append(b.Notes, bus.Note{At: s.at, Kind: bus.Mark, Text: w.text})
	case w != nil && w.kind == afresh:
		if err := s.begin(b, w.text); err != nil {
			w.done <- err
			return err
		}
		if s.desk.Recorder != nil {
			cut = s.desk.Recorder.Cut(true)
		}
	default:
		err := s.Source.Read(b)
		if errors.Is(err, io.EOF) && s.desk.Renew != nil {
			s.over = true
			w, err = &wish{kind: ended}, nil
		}
		if err != nil {
			s.tape(b)
			return err
		}
	}
	s.note(b)
	s.tape(b)
	s.read++
	if w == nil {
		return nil
	}
	if w.kind == freeze && s.desk.Recorder != nil {
		cut = s.desk.Recorder.Cut(false)
	}
	w.cut = cut
	s.mu.Lock()
	s.wait = append(s.wait, placed{s.read, w})
	s.mu.Unlock()
	return nil
}

// renew puts another source in place, where there is one for each test.
func (s *seated) renew() error {
	if s.desk.Renew == nil {
		return nil
	}
	next, err := s.desk.Renew()
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case err != nil:
		return err
	case s.shut:
		return errors.Join(errDeskClosed, next.Close())
	}
	err = s.Source.Close()
	s.Source, s.over, s.links, s.at, s.recut = next, false, nil, 0, nil
	return err
}

// begin reads the first batch of a new test. What a judge has to know that has heard nothing stands in front.
func (s *seated) begin(b *bus.Batch, text string) error {
	if err := s.renew(); err != nil {
		return err
	}
	head := []bus.Note{{At: s.at, Kind: bus.Mark, Text: text}}
	for _, l := range s.links {
		if l.At != 0 { // else nothing was ever said of it
			l.At = s.at
			head = append(head, l)
		}
	}
	if s.anew(head) {
		return s.Source.Read(b)
	}
	if err := s.Source.Read(b); err != nil {
		return err
	}
	for i := range head {
		switch {
		case head[i].At != 0:
		case len(b.Frames) > 0:
			head[i].At = b.Frames[0].At
		case len(b.Notes) > 0:
			head[i].At = b.Notes[0].At
		}
	}
	b.Notes = append(head, b.Notes...)
	return nil
}

// anew has the bytes of serial sources cut from here on as a replay will; false: there is none.
func (s *seated) anew(head []bus.Note) bool {
	if s.recut == nil {
		if s.recut = s.desk.Bench.recut(s.Source); s.recut == nil {
			return false
		}
		s.mu.Lock()
		s.Source = s.recut
		s.mu.Unlock()
	}
	known := head[:0]
	for _, n := range head {
		if !s.recut.in.derived(&n) {
			known = append(known, n)
		}
	}
	s.recut.afresh(known)
	return true
}

// note keeps the newest state of each link.
func (s *seated) note(b *bus.Batch) {
	for i := range b.Notes {
		n := &b.Notes[i]
		s.at = max(s.at, n.At)
		if n.Kind != bus.LinkChanged {
			continue
		}
		for len(s.links) <= int(n.Source) {
			s.links = append(s.links, bus.Note{})
		}
		s.links[n.Source] = *n
		s.links[n.Source].Before = 0
	}
	if k := len(b.Frames); k > 0 {
		s.at = max(s.at, b.Frames[k-1].At)
	}
}

func (s *seated) tape(b *bus.Batch) {
	if s.desk.Recorder != nil {
		s.desk.Recorder.Write(b, s.Names())
	}
}

// due returns the wish of a batch; nil: there is none.
func (s *seated) due(batch uint64) *wish {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.wait) == 0 || s.wait[0].batch != batch {
		return nil
	}
	w := s.wait[0].wish
	s.wait = s.wait[1:]
	return w
}

// Close implements bus.Source.
func (s *seated) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.shut {
		return s.err
	}
	s.shut = true
	close(s.stop)
	s.err = s.Source.Close()
	return s.err
}

// leave lets go of who still waits.
func (s *seated) leave() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, p := range s.wait {
		if p.wish.done != nil {
			p.wish.done <- errDeskClosed
		}
	}
	s.wait = nil
}
