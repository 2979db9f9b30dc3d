package results

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"

	"plumbline/checks"
	"plumbline/daemon"
)

// Entry is what lists show of a signed test.
type Entry struct {
	Schema      int            `json:"schema"`
	Name        string         `json:"name"`   // of its folder
	Report      string         `json:"report"` // id
	Amends      string         `json:"amends,omitempty"`
	Vehicle     string         `json:"vehicle"`
	Began       daemon.Instant `json:"began"`
	Ended       daemon.Instant `json:"ended"`
	Signed      daemon.Instant `json:"signed"`
	Verdict     checks.Verdict `json:"verdict"`
	Failed      int            `json:"failed"`      // findings
	Open        int            `json:"open"`        // findings that are required and were not judged
	Unconfirmed int            `json:"unconfirmed"` // confirmations that nobody gave, or not within the range
	Deviations  int            `json:"deviations"`
	Parts       int            `json:"parts"` // of the recording
	Form        daemon.Form    `json:"form"`
	Program     string         `json:"program"`
	Trouble     string         `json:"-"` // why the folder cannot be read; empty: it can
}

// maxSign is how large a sign-off file may be, bytes.
const maxSign = 64 << 10

// List returns the signed tests, the newest first. A folder that is called like a test and cannot be
// read is among them, and says why.
func (s *Store) List() ([]Entry, error) {
	entries, err := os.ReadDir(s.dir)
	if err != nil {
		return nil, fmt.Errorf("results: %w", err)
	}
	root, err := os.OpenRoot(s.dir)
	if err != nil {
		return nil, fmt.Errorf("results: %w", err)
	}
	defer root.Close()
	s.mu.Lock()
	defer s.mu.Unlock()
	var list []Entry
	for _, d := range slices.Backward(entries) {
		name := d.Name()
		if !d.IsDir() || !namePattern.MatchString(name) {
			continue
		}
		e, ok := s.known[name]
		if !ok {
			if e, err = read(root, name); err != nil {
				e = Entry{Name: name, Trouble: err.Error()}
			} else {
				s.known[name] = e // what is there is never changed
			}
		}
		list = append(list, e)
	}
	slices.SortStableFunc(list, func(a, b Entry) int {
		return cmp.Or(strings.Compare(stampOf(b.Name), stampOf(a.Name)), cmp.Compare(b.Signed, a.Signed), strings.Compare(b.Name, a.Name))
	})
	return list, nil
}

// stampOf is when a test began, as its name says it.
func stampOf(name string) string { return name[:len(stampLayout)] }

// read reads what lists show of one folder.
func read(root *os.Root, name string) (Entry, error) {
	f, err := root.Open(path.Join(name, signFile))
	if err != nil {
		return Entry{}, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxSign+1))
	if err != nil {
		return Entry{}, err
	}
	if len(text) > maxSign {
		return Entry{}, fmt.Errorf("%s is larger than %d bytes", signFile, maxSign)
	}
	var e Entry
	if err := json.Unmarshal(text, &e); err != nil {
		return Entry{}, fmt.Errorf("%s: %w", signFile, err)
	}
	if e.Schema != 1 || e.Name != name {
		return Entry{}, fmt.Errorf("%s is of schema %d and speaks of %q: expected schema 1 and %s", signFile, e.Schema, e.Name, name)
	}
	return e, nil
}

// Find returns the signed test of a name; false: there is none, or it cannot be read.
func (s *Store) Find(name string) (Entry, bool) {
	list, err := s.List()
	if err != nil {
		return Entry{}, false
	}
	i := slices.IndexFunc(list, func(e Entry) bool { return e.Name == name && e.Trouble == "" })
	if i < 0 {
		return Entry{}, false
	}
	return list[i], true
}

// File opens report.html or result.json of the test of a name. The error is fs.ErrNotExist where the
// list has no such test: a name that is asked for never reaches the disk.
func (s *Store) File(name, file string) (*os.File, error) {
	e, ok := s.Find(name)
	if !ok || file != reportFile && file != resultFile {
		return nil, fs.ErrNotExist
	}
	root, err := os.OpenRoot(s.dir)
	if err != nil {
		return nil, fmt.Errorf("results: %w", err)
	}
	defer root.Close()
	f, err := root.Open(path.Join(e.Name, file))
	if err != nil {
		return nil, fmt.Errorf("results: %w", err)
	}
	if info, err := f.Stat(); err != nil || !info.Mode().IsRegular() {
		return nil, errors.Join(err, fs.ErrNotExist, f.Close())
	}
	return f, nil
}
