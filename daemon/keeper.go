package daemon

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"time"
)

const (
	// stateFile is what was said in the test under way.
	stateFile = "test-under-way.json"

	// tooOld is after how long what was said belongs to another day's test.
	tooOld = 12 * time.Hour

	maxState = 1 << 20 // bytes of the file
)

// kept is the file.
type kept struct {
	Schema int       `json:"schema"`
	Saved  time.Time `json:"saved"` // by the clock of the machine
	Said   Said      `json:"said"`
}

// keeper keeps what was said in a file.
type keeper struct {
	file string
	log  *slog.Logger
}

// OpenTest returns the test that a folder keeps: what was said before a restart, if that is not older
// than half a day, else a new one. A file that cannot be used is set aside; the log says so. The folder
// is made where it is missing. No error of the disk is a reason not to test: see Trouble.
func OpenTest(dir string, log *slog.Logger) *Test {
	t := NewTest()
	t.keep = &keeper{file: filepath.Join(dir, stateFile), log: log}
	if err := os.MkdirAll(dir, 0o750); err != nil {
		t.told = fmt.Sprintf("what is confirmed would not survive a restart: %v", err)
		log.Error("no folder for the test under way", "error", err)
		return t
	}
	k, err := t.keep.load()
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		aside := t.keep.file + ".bad"
		log.Error("the file of the test under way cannot be used and is set aside", "file", t.keep.file, "aside", aside, "error", err)
		if err := os.Rename(t.keep.file, aside); err != nil {
			log.Error("it could not be set aside", "error", err)
		}
	case time.Since(k.Saved) > tooOld || time.Until(k.Saved) > tooOld:
		log.Info("what was said last is of another day: a new test begins", "saved", k.Saved)
		t.said = newSaid(k.Said.Setup, k.Said.Form)
	default:
		t.said = k.Said
		log.Info("the test under way goes on with what was said before", "confirmed", len(k.Said.Statements), "not_possible", len(k.Said.Deviations), "saved", k.Saved)
	}
	return t
}

func (k *keeper) load() (*kept, error) {
	f, err := os.Open(k.file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxState+1))
	if err != nil {
		return nil, err
	}
	if len(text) > maxState {
		return nil, fmt.Errorf("it is larger than %d bytes", maxState)
	}
	var out kept
	if err := json.Unmarshal(text, &out); err != nil {
		return nil, err
	}
	if out.Schema != 1 || out.Said.Token == "" {
		return nil, fmt.Errorf("schema %d and token %q: expected schema 1 and a token", out.Schema, out.Said.Token)
	}
	s := newSaid("", out.Said.Form)
	if out.Said.Statements == nil {
		out.Said.Statements = s.Statements
	}
	if out.Said.Deviations == nil {
		out.Said.Deviations = s.Deviations
	}
	return &out, nil
}

// save writes the file whole or not at all, and returns why it could not; empty: it could.
func (k *keeper) save(said *Said, now time.Time) string {
	text, err := json.MarshalIndent(kept{1, now.UTC(), *said}, "", "  ")
	if err == nil {
		err = replace(k.file, append(text, '\n'))
	}
	if err == nil {
		return ""
	}
	k.log.Error("what was said is not kept", "file", k.file, "error", err)
	return fmt.Sprintf("what is confirmed would not survive a restart: %v", err)
}

// replace puts a file in place of another one, or leaves that as it was.
func replace(name string, text []byte) error {
	f, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+".*.tmp")
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	err = errors.Join(err, f.Chmod(0o640), f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), name)
	}
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return nil
}
