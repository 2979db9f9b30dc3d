package serialport

import (
	"errors"
	"fmt"
	"os"
	"sync"
	"time"

	"plumbline/bus"
)

const (
	readSize   = 4096                   // bytes of one read; Linux gives no more at once
	firstDelay = 200 * time.Millisecond // before a port is opened again; doubled up to
	lastDelay  = 2 * time.Second
	emptyReads = 10              // reads in a row that return nothing before poll is over: the port is lost
	stepBeyond = 10_000_000      // ns between two reads by which wall clock and monotonic clock may differ
	silentFor  = 2 * time.Second // default of Config.Silence
)

// Config says what a Reader listens to.
type Config struct {
	Path string // of the device; below /dev/serial/by-id or by-path it is found again wherever it comes back
	Name string // what Names returns; "": Path
	Baud int    // bit/s, above 0

	DataBits int    // 5–8; 0: 8
	Parity   Parity // zero: none
	StopBits int    // 1 or 2; 0: 1

	Format Format // what the device sends

	// LowerLines lowers DTR and RTS at once after opening. By default they stay
	// as the system raises them, as many devices want it who send by themselves;
	// lowering makes a pulse of some milliseconds, which resets some boards.
	LowerLines bool

	// Silence is how long nothing arrives before that is told; 0: 2 s.
	Silence time.Duration

	// Clock returns the wall clock and a monotonic one, in ns; nil: those of the
	// system. The first stamps chunks and frames, both together tell steps.
	Clock func() (wall, monotonic int64)
}

// Validate reports all that is wrong with the configuration.
func (c *Config) Validate() error {
	var faults []error
	if c.Path == "" {
		faults = append(faults, errors.New("no path: expected a device, as in /dev/serial/by-id/usb-example-if00"))
	}
	if c.Baud <= 0 {
		faults = append(faults, fmt.Errorf("baud %d: expected the bit rate of the device, as in 115200", c.Baud))
	}
	if c.DataBits != 0 && (c.DataBits < 5 || c.DataBits > 8) {
		faults = append(faults, fmt.Errorf("%d data bits: expected 5 to 8", c.DataBits))
	}
	if c.StopBits < 0 || c.StopBits > 2 {
		faults = append(faults, fmt.Errorf("%d stop bits: expected 1 or 2", c.StopBits))
	}
	if c.Parity > EvenParity {
		faults = append(faults, fmt.Errorf("parity %d: expected none, odd or even", c.Parity))
	}
	if c.Silence < 0 {
		faults = append(faults, fmt.Errorf("silence of %v: expected a time above 0", c.Silence))
	}
	return errors.Join(append(faults, c.Format.Validate())...)
}

func (c *Config) line() line {
	l := line{path: c.Path, baud: c.Baud, dataBits: c.DataBits, parity: c.Parity, stopBits: c.StopBits, lower: c.LowerLines}
	if l.dataBits == 0 {
		l.dataBits = 8
	}
	return l
}

// Reader is a serial port as a live [bus.Source] with one name. It waits for a
// port that is not there, closes one that is lost at once, so that it comes back
// under the same number, and opens it again by the same path, after 0.2 s at first and
// at most 2 s. It asks the port ten times a second and otherwise sleeps.
type Reader struct {
	config Config
	framer *Framer
	names  []string
	open   func() (*input, error)

	firstDelay, lastDelay time.Duration

	mu     sync.Mutex // held by Read; Close takes it after that has returned
	closed chan struct{}
	once   sync.Once

	in     *input // nil: no port is open
	opened bool   // a port has been open before
	delay  time.Duration
	told   string // why the port could not be opened, as noted

	buf   []byte
	rest  []byte // of buf, not yet cut
	at    int64  // when rest was read
	empty int    // reads in a row that came back too early, with nothing

	heard        int64 // monotonic, when something last arrived or the port was opened
	silent       bool  // that nothing arrives has been noted
	wall, steady int64 // of the clock, as last read
	reads        uint64
}

// Open returns a Reader, or all that is wrong with its configuration. Nothing is
// opened before the first Read.
func Open(c Config) (*Reader, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	framer, err := NewFramer(c.Format)
	if err != nil {
		return nil, err
	}
	if c.Silence == 0 {
		c.Silence = silentFor
	}
	if c.Name == "" {
		c.Name = c.Path
	}
	if c.Clock == nil {
		begin := time.Now()
		c.Clock = func() (wall, monotonic int64) {
			now := time.Now()
			return now.UnixNano(), int64(now.Sub(begin))
		}
	}
	r := &Reader{
		config: c, framer: framer, names: []string{c.Name}, open: c.line().open,
		firstDelay: firstDelay, lastDelay: lastDelay, closed: make(chan struct{}), buf: make([]byte, readSize),
	}
	r.wall, r.steady = c.Clock()
	return r, nil
}

// Names returns the one name of the source.
func (r *Reader) Names() []string { return r.names }

// Stats returns what has been counted so far. It is for the goroutine that reads.
func (r *Reader) Stats() Stats { return r.framer.Stats() }

// Close closes the port. A Read under way returns within a tenth of a second;
// Reads that follow return an error that is [os.ErrClosed].
func (r *Reader) Close() error {
	r.once.Do(func() { close(r.closed) })
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.hangUp()
}

func (r *Reader) isClosed() bool {
	select {
	case <-r.closed:
		return true
	default:
		return false
	}
}

// Read delivers what one read of the port gave: its bytes as a chunk, with the
// frames and notes that they make, if any. Or it delivers one change of the port:
// Silent (opened, or nothing has come for a while), Absent and Down, or a step of
// the clock. It waits until there is something.
func (r *Reader) Read(b *bus.Batch) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	b.Reset()
	for {
		switch {
		case r.isClosed():
			return errors.Join(fmt.Errorf("read %s: %w", r.config.Path, os.ErrClosed), r.hangUp())
		case len(r.rest) > 0:
			r.cut(b)
		case r.in == nil:
			r.connect(b)
		default:
			r.receive(b)
		}
		if len(b.Frames)+len(b.Notes)+len(b.Chunks) > 0 {
			return nil
		}
	}
}

// cut makes frames of what has been read.
func (r *Reader) cut(b *bus.Batch) {
	n := r.framer.Feed(r.at, 0, r.rest, b)
	if n > 0 {
		b.Chunks = append(b.Chunks, bus.Chunk{At: r.at, Data: r.rest[:n:n]})
	}
	r.rest = r.rest[n:]
}

// connect tries once to open the port, after the delay that is due.
func (r *Reader) connect(b *bus.Batch) {
	if r.delay > 0 && !r.wait(r.delay) {
		return
	}
	in, err := r.open()
	r.clock(b)
	if err != nil {
		r.delay = min(max(2*r.delay, r.firstDelay), r.lastDelay)
		link, text := explain(r.config.Path, err)
		if text != r.told {
			r.told = text
			r.changed(link, text, b)
		}
		return
	}
	text := "the port is open, nothing has arrived yet"
	if r.opened {
		text = "the port is back and open, nothing has arrived yet"
	}
	r.in, r.opened, r.delay, r.told, r.empty = in, true, 0, "", 0
	r.heard, r.silent = r.steady, true
	r.changed(bus.Silent, text, b)
}

// receive reads once from the port.
func (r *Reader) receive(b *bus.Batch) {
	_, before := r.config.Clock()
	n, err := r.in.read(r.buf)
	r.reads++
	r.clock(b)
	switch {
	case n > 0:
		r.heard, r.silent, r.empty = r.steady, false, 0
		r.rest, r.at = r.buf[:n], r.wall
		if len(b.Notes) == 0 { // else it is cut by the next Read
			r.cut(b)
		}
		if err != nil {
			r.in.read = func([]byte) (int, error) { return 0, err }
		}
	case err != nil:
		// The library says "closed" when a device is unplugged. We did not close it.
		r.lose(b)
	case r.steady-before < int64(poll)/2:
		// Some drivers answer at once when the device is gone: never spin.
		if r.empty++; r.empty >= emptyReads {
			r.lose(b)
			return
		}
		r.wait(poll / 10)
	default:
		r.empty = 0
		if !r.silent && r.steady-r.heard >= int64(r.config.Silence) {
			r.silent = true
			r.changed(bus.Silent, fmt.Sprintf("nothing has arrived for %v: is the device switched on and its cable plugged in", r.config.Silence), b)
		}
	}
}

// lose closes a port that is gone.
func (r *Reader) lose(b *bus.Batch) {
	// What close says of a device that has been pulled helps nobody.
	_ = r.hangUp()
	r.delay = r.firstDelay
	r.changed(bus.Absent, fmt.Sprintf("%s has been unplugged or has lost its power: plug it in; it is listened to as soon as it is back", r.config.Path), b)
}

// hangUp closes the port if one is open.
func (r *Reader) hangUp() error {
	if r.in == nil {
		return nil
	}
	in := r.in
	r.in = nil
	if err := in.close(); err != nil {
		return fmt.Errorf("close %s: %w", r.config.Path, err)
	}
	return nil
}

func (r *Reader) changed(l bus.Link, text string, b *bus.Batch) {
	r.framer.LinkChanged(bus.Note{At: r.wall, Kind: bus.LinkChanged, Link: l, Text: text}, b)
}

// clock reads the clocks and notes a step of the one against the other.
func (r *Reader) clock(b *bus.Batch) {
	wall, steady := r.config.Clock()
	step := (wall - r.wall) - (steady - r.steady)
	r.wall, r.steady = wall, steady
	if step > stepBeyond || step < -stepBeyond {
		b.Notes = append(b.Notes, bus.Note{
			At: wall, Kind: bus.Clock, Step: step,
			Text: fmt.Sprintf("the clock of this computer was moved by %v", time.Duration(step).Round(time.Millisecond)),
		})
	}
}

// wait sleeps; it returns false at once when the Reader is closed.
func (r *Reader) wait(d time.Duration) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return true
	case <-r.closed:
		return false
	}
}
