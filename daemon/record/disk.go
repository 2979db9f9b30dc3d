package record

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"plumbline/bus"
	"plumbline/bus/capture"
)

// disk is what the recorder asks of a file system, so that tests can refuse it.
type disk struct {
	mkdir   func(dir string) error
	list    func(dir string) ([]fs.DirEntry, error)
	head    func(path string) (first [4]byte, size int64, err error) // of a regular file
	create  func(path string) (file, error)                          // fails where there is one
	open    func(path string) (bus.Source, error)                    // of a part, to be read
	links   func(path string) (uint64, error)                        // how many names lead to a file; errors.ErrUnsupported where it cannot be told
	remove  func(path string) error
	syncDir func(dir string) error
	space   func(dir string) (free, total uint64, err error) // bytes; errors.ErrUnsupported where it cannot be told
}

// file is a part that is being written.
type file interface {
	io.Writer
	Truncate(size int64) error
	Sync() error
	Close() error
}

const (
	dirMode  = 0o750
	fileMode = 0o640
)

func realDisk() *disk {
	return &disk{
		mkdir: func(dir string) error { return os.MkdirAll(dir, dirMode) },
		list:  os.ReadDir,
		head:  readHead,
		create: func(path string) (file, error) {
			f, err := os.OpenFile(filepath.Clean(path), os.O_WRONLY|os.O_CREATE|os.O_EXCL, fileMode)
			if err != nil {
				return nil, err
			}
			return f, nil
		},
		open:    capture.Open,
		links:   links,
		remove:  os.Remove,
		syncDir: syncDir,
		space:   space,
	}
}

// errNotRegular says that something with the name of a part is no file.
var errNotRegular = errors.New("it is not a regular file")

func readHead(path string) (first [4]byte, size int64, err error) {
	info, err := os.Lstat(path)
	if err != nil {
		return first, 0, err
	}
	if !info.Mode().IsRegular() {
		return first, 0, errNotRegular
	}
	f, err := os.Open(filepath.Clean(path))
	if err != nil {
		return first, 0, err
	}
	defer f.Close()
	_, err = io.ReadFull(f, first[:])
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		err = nil // first is not that of a recording
	}
	return first, info.Size(), err
}

// syncDir makes the name of a new part safe, where the system can do that.
func syncDir(dir string) error {
	f, err := os.Open(filepath.Clean(dir))
	if err != nil {
		return err
	}
	defer f.Close()
	if err := f.Sync(); err != nil && !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, syscall.EINVAL) && !noDirSync {
		return err
	}
	return nil
}
