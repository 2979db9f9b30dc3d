package results

import (
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"plumbline/daemon"
)

// The files of a test.
const (
	reportFile   = "report.html"
	resultFile   = "result.json"
	signFile     = "sign-off.json"
	recordingDir = "recording"
)

// unfinished begins the name of a folder that is being written.
const unfinished = ".unfinished-"

// forgotten is after how long what is unfinished belongs to a program that has ended.
const forgotten = time.Hour

// Store is the folder of all signed tests. Open makes one.
type Store struct {
	dir  string
	log  *slog.Logger
	disk *disk

	writing sync.Mutex // one test is written at a time

	mu    sync.Mutex // guards known
	known map[string]Entry
}

// Open returns the store in a folder, which is made where it is missing. What a crash has left
// unfinished is removed.
func Open(dir string, log *slog.Logger) (*Store, error) {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	s := &Store{dir: dir, log: log, disk: realDisk(), known: map[string]Entry{}}
	if err := s.disk.mkdir(dir); err != nil {
		return nil, fmt.Errorf("results: %w", err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("results: %w", err)
	}
	for _, e := range entries {
		info, err := e.Info()
		if err != nil || !e.IsDir() || !strings.HasPrefix(e.Name(), unfinished) || !namePattern.MatchString(strings.TrimPrefix(e.Name(), unfinished)) || time.Since(info.ModTime()) < forgotten {
			continue
		}
		path := filepath.Join(dir, e.Name())
		log.Info("removing a test that was never finished", "folder", path)
		if err := s.disk.remove(path); err != nil {
			log.Warn("it could not be removed", "folder", path, "error", err)
		}
	}
	return s, nil
}

// Dir returns the folder.
func (s *Store) Dir() string { return s.dir }

// wrapped says what an error is about.
func wrapped(name string, err error) error {
	return fmt.Errorf("results: the test could not be kept as %s: %w", name, err)
}

// beganAt is when a test began: with its first frame, else when it was signed.
func beganAt(r *daemon.Result, signed daemon.Instant) (began, ended daemon.Instant) {
	for i := range r.Captures {
		c := &r.Captures[i]
		if c.First != 0 && (began == 0 || c.First < began) {
			began = c.First
		}
		ended = max(ended, c.Last)
	}
	if began == 0 {
		return signed, signed
	}
	return began, ended
}
