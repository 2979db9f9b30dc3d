package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"

	"plumbline/daemon/setup"
)

// output is where a command writes: standard output, or a file that takes its
// name only when all of it is written, so that nobody reads half a report and a
// failed run leaves the last good one in place.
type output struct {
	*bufio.Writer
	file *os.File // nil: standard output
	name string   // that it will have; empty: it has it
}

// create opens an output. name is empty or "-" for stdout. A name that is not a
// plain file (a pipe, a device) is written to directly.
func create(name string, stdout io.Writer) (*output, error) {
	if name == "" || name == "-" {
		return &output{Writer: bufio.NewWriter(stdout)}, nil
	}
	if to, err := filepath.EvalSymlinks(name); err == nil {
		name = to // the link stays, what it points to is replaced
	}
	info, err := os.Stat(name)
	switch {
	case err == nil && info.IsDir():
		return nil, fmt.Errorf("%s is a folder: name a file in it", name)
	case err == nil && !info.Mode().IsRegular():
		f, err := os.OpenFile(name, os.O_WRONLY, 0)
		if err != nil {
			return nil, fmt.Errorf("output: %w", err)
		}
		return &output{Writer: bufio.NewWriter(f), file: f}, nil
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("output: %w", err)
	}
	f, err := beside(name)
	if err != nil {
		return nil, err
	}
	return &output{Writer: bufio.NewWriter(f), file: f, name: name}, nil
}

// outputMode lets the user write what was judged and the user's group read it, where the umask allows that.
const outputMode = 0o640

// beside makes a new file in the folder of name.
func beside(name string) (*os.File, error) {
	folder, base := filepath.Split(name)
	for i := range 1000 {
		temp := folder + "." + base + "." + strconv.Itoa(os.Getpid()) + "." + strconv.Itoa(i) + ".tmp"
		f, err := os.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_EXCL, outputMode)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			if p, ok := errors.AsType[*fs.PathError](err); ok {
				err = p.Err // the path is that of the unfinished file
			}
			return nil, fmt.Errorf("output %s: %w", name, setup.Located(name, err))
		}
		return f, nil
	}
	return nil, fmt.Errorf("output %s: its folder is full of unfinished files, remove .%s.*.tmp", name, base)
}

// commit writes what is left and gives the file its name.
func (o *output) commit() error {
	err := o.Flush()
	if o.file == nil {
		return wrapped("standard output", err)
	}
	temp := o.file.Name()
	if o.name == "" {
		return wrapped(temp, errors.Join(err, o.file.Close()))
	}
	err = errors.Join(err, o.file.Sync(), o.file.Close())
	if err == nil {
		err = os.Rename(temp, o.name)
	}
	if err != nil {
		err = errors.Join(err, os.Remove(temp))
	}
	o.file = nil
	return wrapped(o.name, err)
}

// discard drops what was not committed. After commit it does nothing.
func (o *output) discard() {
	if o.file == nil {
		return
	}
	_ = o.file.Close()
	if o.name != "" {
		_ = os.Remove(o.file.Name())
	}
	o.file = nil
}

func wrapped(name string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("writing %s: %w", name, err)
}
