package record

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"github.com/klauspost/compress/zstd"

	"plumbline/bus/pcapng"
)

// Pauses between two tries after an error of the disk.
const (
	firstPause = time.Second
	lastPause  = 30 * time.Second
)

// writer brings segments to disk. It belongs to the goroutine of Run, but for
// the sync that runs beside it, so that a slow one does not hold up writing.
type writer struct {
	cfg     *Config
	disk    *disk
	log     *slog.Logger
	queue   *queue
	stats   *atomic.Pointer[Stats]
	session string
	pack    *zstd.Encoder // nil: plain

	ready   bool // the folder was there once
	part    *part
	begun   time.Time
	number  int        // of the last part
	backlog []*segment // taken off the queue, not in a part
	taken   []*segment // memory of receive
	spare   []*segment // memory of the backlog
	gap     gap        // before the backlog

	jobs   chan file
	synced chan error
	under  bool // a sync runs

	state  State
	why    string
	since  time.Time // of the state
	short  bool      // stopped because the disk is almost full
	retry  time.Time
	pause  time.Duration
	free   uint64
	total  uint64
	freeOK bool

	old     []old
	cuts    []kept
	carried struct { // what an older session told of before the part that goes next
		session string
		windows []window
	}
	aside   []string
	parts   int
	bytes   int64 // safe in the parts before this one
	stops   int
	removed int
}

func newWriter(cfg *Config, q *queue, stats *atomic.Pointer[Stats]) (*writer, error) {
	w := &writer{
		cfg: cfg, disk: cfg.disk, log: cfg.Log, queue: q, stats: stats,
		jobs: make(chan file), synced: make(chan error, 1),
	}
	if cfg.Zstd {
		var err error
		w.pack, err = zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithWindowSize(1<<20), zstd.WithLowerEncoderMem(true))
		if err != nil {
			return nil, fmt.Errorf("record: %w", err)
		}
	}
	w.session = sessionName(cfg.Name, time.Now())
	if err := w.prepare(); err != nil {
		w.fault(err)
	}
	w.look()
	w.publish()
	return w, nil
}

// prepare makes the folder and takes stock of it. It does so until it was there
// once; a folder that goes away later is never made anew: it may be that of a
// disk that was pulled, and writing would fill the one below it.
func (w *writer) prepare() error {
	if w.ready {
		return nil
	}
	if err := w.disk.mkdir(w.cfg.Dir); err != nil {
		return fmt.Errorf("making the folder: %w", err)
	}
	if err := w.scan(); err != nil {
		return err
	}
	w.ready = true
	if w.inUse() {
		w.session = w.nextSession()
	}
	w.sortOld()
	return nil
}

// nextSession returns the name of a session that begins now and of which there are no parts.
func (w *writer) nextSession() string {
	was := w.session
	defer func() { w.session = was }()
	for at := time.Now(); ; at = at.Add(time.Second) {
		w.session = sessionName(w.cfg.Name, at)
		if w.session != was && !w.inUse() {
			return w.session
		}
	}
}

// pathOf returns the path of a part.
func (w *writer) pathOf(base string) string { return filepath.Join(w.cfg.Dir, base) }

// inUse reports whether there are parts of a session of this name.
func (w *writer) inUse() bool {
	for _, o := range w.old {
		if o.session == w.session {
			return true
		}
	}
	for i := range w.cuts {
		if w.cuts[i].part.session == w.session {
			return true
		}
	}
	for _, base := range w.aside {
		if p, ok := parsePart(base); ok && p.session == w.session {
			return true
		}
	}
	return false
}

// run works until stop is closed or ctx is done.
func (w *writer) run(ctx context.Context, wake, stop <-chan struct{}, noMore func()) {
	var syncer sync.WaitGroup
	syncer.Go(func() {
		for f := range w.jobs {
			w.synced <- f.Sync()
		}
	})
	defer syncer.Wait()
	defer close(w.jobs)
	ticker := time.NewTicker(w.cfg.Sync)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			noMore()
			w.finish()
			return
		case <-stop:
			w.finish()
			return
		case <-wake:
			w.receive(false)
			w.drain()
			w.hurry()
		case err := <-w.synced:
			w.under = false
			w.landed(err)
		case <-ticker.C:
			w.tick()
		}
	}
}

// tick writes what there is, has it synced, and looks after the disk.
func (w *writer) tick() {
	w.receive(true)
	w.look()
	switch was, full := w.short, w.tooFull(); {
	case full && w.part != nil:
		w.end()
		w.halt()
	case was && !full && w.part == nil:
		w.change(Waiting, "")
	}
	if w.part != nil && time.Since(w.begun) >= w.cfg.PartTime {
		w.end()
	}
	w.drain()
	w.startSync()
	w.sweep()
	w.publish()
}

// receive takes what is in the queue. Where that has to wait it is put together,
// so that memory ends when it is full of frames and not of little pieces.
func (w *writer) receive(all bool) {
	w.taken = w.queue.take(w.taken[:0], all)
	for _, s := range w.taken {
		if k := len(w.backlog); k > 0 && w.backlog[k-1].merge(s) {
			s.reset()
			w.queue.give([]*segment{s}, true)
			continue
		}
		w.backlog = append(w.backlog, s)
	}
}

// drain writes the backlog.
func (w *writer) drain() {
	w.spare = w.backlog
	for len(w.backlog) > 0 {
		s := w.backlog[0]
		if s.cut != nil {
			if w.part != nil {
				w.end() // or fail, which puts what is not safe in front of the cut
				continue
			}
			w.backlog = w.backlog[1:]
			w.divide(s.cut)
			continue
		}
		if len(s.buf) == 0 && s.extra {
			w.backlog = w.backlog[1:]
			continue
		}
		if w.part == nil {
			if !w.begin() {
				return
			}
			s = w.backlog[0] // what is missing is told first
		}
		if p := w.part; p.any && p.good+int64(len(s.buf)) > w.cfg.PartBytes && (w.pack == nil || p.good >= w.cfg.PartBytes) {
			w.end()
			continue
		}
		free, err := w.part.write(s)
		if err != nil {
			w.fail("writing", err, false)
			return
		}
		w.backlog = w.backlog[1:]
		if free != nil {
			w.queue.give([]*segment{free}, true)
		}
	}
	w.backlog = w.spare[:0]
}

// begin opens a new part. It reports whether there is one.
func (w *writer) begin() bool {
	if time.Now().Before(w.retry) {
		return false
	}
	if w.tooFull() {
		w.halt()
		return false
	}
	if err := w.open(); err != nil {
		w.fault(err)
		return false
	}
	w.recount()
	w.sweep()
	return w.part != nil
}

// open makes the file of a new part with all that comes before the backlog.
func (w *writer) open() error {
	if err := w.prepare(); err != nil {
		return err
	}
	const tries = 1000
	suffix := ".pcapng"
	if w.pack != nil {
		suffix += ".zst"
	}
	number, path := w.number, ""
	var f file
	var err error
	for range tries {
		number++
		path = filepath.Join(w.cfg.Dir, fmt.Sprintf("%s-%06d%s", w.session, number, suffix))
		if f, err = w.disk.create(path); !errors.Is(err, fs.ErrExist) {
			break
		}
	}
	if err != nil {
		return fmt.Errorf("beginning a part: %w", err)
	}
	if w.gap.open {
		w.backlog = append([]*segment{w.missing()}, w.backlog...)
	}
	w.part = &part{file: f, path: path, number: number, pack: w.pack}
	w.number = number
	w.begun = time.Now()
	if err := w.part.put(w.head()); err != nil {
		w.fail("writing", err, false)
		return nil // fail has told it
	}
	if err := w.disk.syncDir(w.cfg.Dir); err != nil {
		w.fail("syncing the folder", err, false)
		return nil // fail has told it
	}
	w.change(Recording, "")
	return nil
}

// head returns what a part begins with: its section and the interfaces that the
// backlog takes for described.
func (w *writer) head() []byte {
	names, _, described := w.queue.sources(w.backlog[0].ifaces)
	section := pcapng.Section{
		Program: w.cfg.Program, Session: w.session, Part: w.part.number,
		Setup: w.cfg.Setup, SHA256: w.cfg.SHA256, Sources: names,
	}
	w.part.described = w.backlog[0].ifaces
	return append(pcapng.AppendSection(nil, &section), described...)
}

// missing returns a segment that tells the gap. Something was lost, so that the
// events have been described.
func (w *writer) missing() *segment {
	next := w.backlog[0]
	s := &segment{ifaces: next.ifaces, upto: next.ifaces, extra: true}
	names, _, _ := w.queue.sources(0)
	for {
		note, ok := w.gap.next(names)
		if !ok {
			return s
		}
		s.buf = pcapng.AppendNote(s.buf, 0, &note, nameOf(names, int(note.Source)))
		of(&s.counts, int(note.Source)).lost[note.Place] += note.Count
		s.span(note.At)
	}
}
