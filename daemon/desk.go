package daemon

import (
	"context"
	"errors"
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
	c.judge.meter.hears(c.seat.source())
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
		w.frozen = &Frozen{Result: c.judge.Result(), Now: c.judge.Now(), Setup: c.judge.bench.setup}
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
