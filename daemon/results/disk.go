package results

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
)

const (
	dirMode  = 0o750
	fileMode = 0o640
)

// disk is what writing a folder asks of a file system, so that tests can refuse it.
type disk struct {
	mkdir   func(dir string) error
	create  func(path string) (file, error) // fails where there is one
	link    func(from, to string) error
	rename  func(from, to string) error
	remove  func(dir string) error // with all that is in it
	syncDir func(dir string) error
}

// file is a file that is being written.
type file interface {
	io.Writer
	Sync() error
	Close() error
}

func realDisk() *disk {
	return &disk{
		mkdir: func(dir string) error { return os.MkdirAll(dir, dirMode) },
		create: func(path string) (file, error) {
			f, err := os.OpenFile(filepath.Clean(path), os.O_WRONLY|os.O_CREATE|os.O_EXCL, fileMode)
			if err != nil {
				return nil, err
			}
			return f, nil
		},
		link:    os.Link,
		rename:  os.Rename,
		remove:  os.RemoveAll,
		syncDir: syncDir,
	}
}

// syncDir makes the names in a folder safe, where the system can do that.
func syncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(filepath.Clean(dir))
	if err != nil {
		return err
	}
	defer f.Close()
	if err := f.Sync(); err != nil && !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, syscall.EINVAL) {
		return err
	}
	return nil
}
