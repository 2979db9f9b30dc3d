package record

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"plumbline/bus"
	"plumbline/bus/pcapng"
)

// What is heard around a failure is called NAME-20260131T101112Z-000001-event-01.pcapng: the part it was cut
// out of, and its number in it. One that goes on in the part after it ends in -more.
var cutPattern = regexp.MustCompile(`^(.+-\d{8}T\d{6}Z-\d{6,})-event-(\d{2,})(-more)?\.pcapng(\.zst)?$`)

// Shares of Config.Keep.
const (
	cutShare  = 4  // one part in so many: all cut-outs
	cutsShare = 16 // a single one
)

// cutName is the name of a cut-out, taken apart.
type cutName struct {
	base string
	part partName // that it was cut out of
	more bool
}

func parseCut(base string) (cutName, bool) {
	m := cutPattern.FindStringSubmatch(base)
	if m == nil {
		return cutName{}, false
	}
	p, ok := parsePart(m[1] + ".pcapng")
	return cutName{base, p, m[3] != ""}, ok
}

// kept is a cut-out in the folder.
type kept struct {
	cutName
	size int64
}

// keepFailures cuts out of a part, before it is removed, what was heard around failures.
func (w *writer) keepFailures(o old) {
	windows := w.windowsOf(o)
	for n, win := range windows {
		if err := w.cut(o, n+1, win); err != nil {
			w.log.Warn("what was heard around a failure could not be kept", "file", o.base, "reason", err)
			return
		}
	}
	if len(windows) > 0 {
		if err := w.disk.syncDir(w.cfg.Dir); err != nil {
			w.log.Warn("syncing the folder of the recording failed", "reason", err)
		}
	}
	w.sweepCuts()
}

// windowsOf returns the stretches around failures that share time with a part. Of a part of this session they are
// known; of an older one it and what stands behind it for half a minute are read.
func (w *writer) windowsOf(o old) []window {
	if o.session == w.session && o.span.from != 0 {
		return w.queue.within(o.span)
	}
	mine, span, err := w.toldIn(o.base)
	if err != nil {
		w.log.Warn("an old part could not be read, so that no failure in it is kept", "file", o.base, "reason", err)
		return nil
	}
	for _, behind := range w.old {
		next, at, err := w.toldIn(behind.base)
		if behind.session != o.session || err != nil {
			break
		}
		for _, win := range next {
			mine = addWindow(mine, win)
		}
		if at.to > span.to+aroundNs {
			break
		}
	}
	if w.carried.session == o.session {
		for _, win := range w.carried.windows {
			mine = addWindow(mine, win)
		}
	}
	w.carried.session, w.carried.windows = o.session, mine
	return slices.DeleteFunc(slices.Clone(mine), func(win window) bool { return !win.touches(span) })
}

// toldIn reads where failures are told in a part, and when it began and ended.
func (w *writer) toldIn(base string) (windows []window, span window, err error) {
	src, err := w.disk.open(filepath.Join(w.cfg.Dir, base))
	if err != nil {
		return nil, window{}, err
	}
	defer func() { err = errors.Join(err, src.Close()) }()
	span = window{1, 0}
	extend := func(at int64) {
		if span.from > span.to {
			span = window{at, at}
		}
		span = window{min(span.from, at), max(span.to, at)}
	}
	var b bus.Batch
	for {
		if err := src.Read(&b); err != nil {
			if errors.Is(err, io.EOF) {
				err = nil
			}
			return windows, span, err
		}
		for i := range b.Notes {
			if b.Notes[i].Kind == bus.Told {
				windows = addWindow(windows, around(b.Notes[i].At))
			}
		}
		if n := len(b.Frames); n > 0 {
			extend(b.Frames[0].At)
			extend(b.Frames[n-1].At)
		}
		for i := range b.Chunks {
			extend(b.Chunks[i].At)
		}
	}
}

// cut writes what a part holds of a window into a file of its own.
func (w *writer) cut(o old, number int, win window) (err error) {
	src, err := w.disk.open(filepath.Join(w.cfg.Dir, o.base))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, src.Close()) }()
	c := cutter{window: win, queue: newQueue(defaultQueue, w.cfg.Serial), links: map[uint16]bus.Note{}, open: true}
	var segments []*segment
	var size, most int64 = 0, w.cfg.Keep / cutsShare
	var b bus.Batch
	for size < most && !c.past {
		if err := src.Read(&b); err != nil {
			if !errors.Is(err, io.EOF) {
				w.log.Warn("an old part is not read to its end", "file", o.base, "reason", err)
			}
			break
		}
		c.take(&b, src.Names())
		for _, s := range c.queue.take(nil, false) {
			segments = append(segments, s)
			size += int64(len(s.buf))
			c.queue.most++ // segments are kept until the file is written
		}
	}
	segments = c.queue.take(segments, true)
	if !c.any {
		return nil
	}
	return w.writeCut(o, number, c.open, src.Names(), segments)
}

// writeCut writes segments into the file of a cut-out.
func (w *writer) writeCut(o old, number int, more bool, names []string, segments []*segment) error {
	stem := strings.TrimSuffix(strings.TrimSuffix(o.base, ".zst"), ".pcapng")
	base := fmt.Sprintf("%s-event-%02d", stem, number)
	if more {
		base += "-more"
	}
	base += ".pcapng"
	if w.pack != nil {
		base += ".zst"
	}
	path := filepath.Join(w.cfg.Dir, base)
	f, err := w.disk.create(path)
	if errors.Is(err, fs.ErrExist) { // left behind where power went
		if err = w.disk.remove(path); err == nil {
			f, err = w.disk.create(path)
		}
	}
	if err != nil {
		return err
	}
	p := part{file: f, path: path, pack: w.pack}
	section := pcapng.Section{Program: w.cfg.Program, Session: o.session, Part: o.number, Setup: w.cfg.Setup, SHA256: w.cfg.SHA256, Sources: names}
	err = p.put(pcapng.AppendSection(nil, &section))
	for _, s := range segments {
		if err == nil {
			err = p.put(s.buf)
		}
	}
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return errors.Join(err, w.disk.remove(path))
	}
	name, _ := parseCut(base)
	w.cuts = append(w.cuts, kept{name, p.good})
	w.sortCuts()
	w.log.Info("what was heard around a failure is kept", "file", path)
	return nil
}

// sortCuts puts the oldest first.
func (w *writer) sortCuts() {
	slices.SortFunc(w.cuts, func(a, b kept) int {
		return cmp.Or(cmp.Compare(a.part.stamp, b.part.stamp), cmp.Compare(a.part.number, b.part.number), cmp.Compare(a.base, b.base))
	})
}

// sweepCuts removes the oldest cut-outs as long as all of them take more than their share.
func (w *writer) sweepCuts() {
	for len(w.cuts) > 0 && w.cutBytes() > w.cfg.Keep/cutShare {
		c := w.cuts[0]
		w.cuts = w.cuts[1:]
		if err := w.disk.remove(filepath.Join(w.cfg.Dir, c.base)); err != nil {
			w.log.Warn("an old cut-out could not be removed and is left alone", "file", c.base, "reason", err)
			w.aside = append(w.aside, c.base)
			continue
		}
		w.removed++
	}
}

func (w *writer) cutBytes() (n int64) {
	for i := range w.cuts {
		n += w.cuts[i].size
	}
	return n
}

// cutter passes on what lies in a window.
type cutter struct {
	window
	queue *queue
	links map[uint16]bus.Note // the newest of each source before the window
	any   bool                // something lay in it
	open  bool                // nothing has come that lies behind it
	past  bool                // nothing more can come of it
	out   bus.Batch
}

// take passes on what of a batch lies in the window, in its order. What the links were when it began stands first.
func (c *cutter) take(b *bus.Batch, names []string) {
	c.out.Frames, c.out.Notes, c.out.Chunks = c.out.Frames[:0], c.out.Notes[:0], c.out.Chunks[:0]
	const late = 2e9 // ns by which notes stand behind the frames that they are about
	in := func(at int64) bool {
		c.open = c.open && at <= c.to
		c.past = c.past || at > c.to+late
		if at < c.from || at > c.to {
			return false
		}
		if !c.any {
			c.any = true
			for n := range names {
				if link, ok := c.links[uint16(n)]; ok {
					link.Before = 0
					c.out.Notes = append(c.out.Notes, link)
				}
			}
		}
		return true
	}
	note := func(n bus.Note) {
		switch {
		case in(n.At):
			n.Before = len(c.out.Frames)
			c.out.Notes = append(c.out.Notes, n)
		case n.Kind == bus.LinkChanged && !c.any:
			c.links[n.Source] = n
		}
	}
	n, k := 0, 0
	for i := range b.Frames {
		for ; n < len(b.Notes) && b.Notes[n].Before <= i; n++ {
			note(b.Notes[n])
		}
		for ; k < len(b.Chunks) && b.Chunks[k].Before <= i; k++ {
			c.chunk(b.Chunks[k], in)
		}
		if in(b.Frames[i].At) {
			c.out.Frames = append(c.out.Frames, b.Frames[i])
		}
	}
	for ; n < len(b.Notes); n++ {
		note(b.Notes[n])
	}
	for ; k < len(b.Chunks); k++ {
		c.chunk(b.Chunks[k], in)
	}
	c.queue.write(&c.out, names)
}

func (c *cutter) chunk(x bus.Chunk, in func(at int64) bool) {
	if in(x.At) {
		x.Before = len(c.out.Frames)
		c.out.Chunks = append(c.out.Chunks, x)
	}
}
