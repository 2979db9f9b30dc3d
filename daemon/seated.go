package daemon

import (
	"errors"
	"io"
	"sync"

	"plumbline/bus"
	"plumbline/daemon/record"
)

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

// source returns what is heard now.
func (s *seated) source() bus.Source {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.Source
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
