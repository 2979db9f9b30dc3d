package archive

import (
	"errors"
	"fmt"
	"io"
	"os"
	"sync"
)

// spool keeps pieces that come in any order until they can be written in theirs. It takes a file on disk
// and of memory 16 bytes for each piece.
type spool struct {
	mu    sync.Mutex // guards what follows
	file  *os.File
	end   int64
	spans []span // by index
}

// span is where a piece stands; a size of -1: there is none.
type span struct{ at, size int64 }

// newSpool makes the file in a folder; empty: that of the system for such files.
func newSpool(dir string, pieces int) (*spool, error) {
	f, err := os.CreateTemp(dir, ".plumbline-*.tmp")
	if err != nil {
		return nil, fmt.Errorf("archive: %w", err)
	}
	s := &spool{file: f, spans: make([]span, pieces)}
	for i := range s.spans {
		s.spans[i].size = -1
	}
	return s, nil
}

// put keeps a piece. Any goroutine may call it.
func (s *spool) put(index int, piece []byte) error {
	s.mu.Lock()
	at := s.end
	s.end += int64(len(piece))
	s.spans[index] = span{at, int64(len(piece))}
	s.mu.Unlock()
	if _, err := s.file.WriteAt(piece, at); err != nil {
		return fmt.Errorf("archive: %w", err)
	}
	return nil
}

// has reports whether there is a piece.
func (s *spool) has(index int) bool { return s.spans[index].size >= 0 }

// copy writes a piece to w.
func (s *spool) copy(w io.Writer, index int) error {
	p := s.spans[index]
	_, err := io.Copy(w, io.NewSectionReader(s.file, p.at, p.size))
	return err
}

// close removes the file.
func (s *spool) close() error {
	if s.file == nil {
		return nil
	}
	err := errors.Join(s.file.Close(), os.Remove(s.file.Name()))
	s.file = nil
	return err
}
