package record

import (
	"bytes"
	"fmt"
	"path/filepath"
	"slices"
)

// old is a finished part in the folder.
type old struct {
	partName
	size   int64
	span   window // of event time; from 0: not known
	shared bool   // another name leads to it, that of a signed test: removing it frees nothing
}

// scan takes stock of the folder. What is called like a part of ours and does
// not begin like one is left alone and told.
func (w *writer) scan() error {
	entries, err := w.disk.list(w.cfg.Dir)
	if err != nil {
		return fmt.Errorf("reading the folder: %w", err)
	}
	w.old, w.aside, w.cuts = nil, nil, nil
	for _, e := range entries {
		if c, ok := parseCut(e.Name()); ok && c.part.name == w.cfg.Name {
			if _, size, err := w.disk.head(filepath.Join(w.cfg.Dir, c.base)); err == nil {
				w.cuts = append(w.cuts, kept{c, size})
			}
			continue
		}
		p, ok := parsePart(e.Name())
		if !ok || p.name != w.cfg.Name {
			continue
		}
		path := filepath.Join(w.cfg.Dir, p.base)
		first, size, err := w.disk.head(path)
		if err == nil && !isRecording(first) {
			err = fmt.Errorf("it begins with % X, not as pcapng or zstd do", first)
		}
		if err != nil {
			w.aside = append(w.aside, p.base)
			w.log.Warn("a file that is called like a part is no recording and is left alone", "file", path, "reason", err)
			continue
		}
		w.old = append(w.old, old{partName: p, size: size})
	}
	w.sortOld()
	w.sortCuts()
	return nil
}

// isRecording reports whether a file that begins like that can be a part.
func isRecording(first [4]byte) bool {
	return bytes.Equal(first[:], []byte{0x0A, 0x0D, 0x0D, 0x0A}) || bytes.Equal(first[:], []byte{0x28, 0xB5, 0x2F, 0xFD})
}

// sortOld puts the oldest first. The session that runs is the newest, also where
// the clock of the machine had not been set.
func (w *writer) sortOld() {
	slices.SortFunc(w.old, func(a, b old) int {
		mineA, mineB := a.session == w.session, b.session == w.session
		switch {
		case mineA && !mineB:
			return 1
		case mineB && !mineA:
			return -1
		}
		return comparePart(a.partName, b.partName)
	})
}

// recount looks which parts have another name as well. That comes when a test is signed, and goes with its folder.
func (w *writer) recount() {
	for i := range w.old {
		links, err := w.disk.links(filepath.Join(w.cfg.Dir, w.old[i].base))
		w.old[i].shared = err == nil && links > 1
	}
}

// freeable is how many bytes removing all parts and cut-outs would free.
func (w *writer) freeable() int64 {
	total := w.cutBytes()
	for i := range w.old {
		if !w.old[i].shared {
			total += w.old[i].size
		}
	}
	if w.part != nil {
		total += w.part.good
	}
	return total
}

// sweep removes the oldest parts as long as all together, with what was cut out of earlier ones, take more
// than is to be kept. What was heard around failures is cut out of them before. The part being written is
// not among them. What signed tests hold as well goes in its turn and is not counted: its room is theirs.
func (w *writer) sweep() {
	if w.cfg.Keep == 0 {
		return
	}
	total := w.freeable()
	if total > w.cfg.Keep {
		w.recount()
		total = w.freeable()
	}
	for total > w.cfg.Keep && len(w.old) > 0 {
		o := w.old[0]
		w.old = w.old[1:]
		cuts := w.cutBytes()
		w.keepFailures(o)
		total += w.cutBytes() - cuts
		if !o.shared {
			total -= o.size
		}
		if err := w.disk.remove(filepath.Join(w.cfg.Dir, o.base)); err != nil {
			w.log.Warn("an old part could not be removed and is left alone", "file", o.base, "reason", err)
			w.aside = append(w.aside, o.base)
			continue
		}
		w.removed++
	}
}
