//go:build linux || darwin

package record

import (
	"os"

	"golang.org/x/sys/unix"
)

const noDirSync = false

// space returns what a user without privileges may still write, and the size of the disk.
func space(dir string) (free, total uint64, err error) {
	var s unix.Statfs_t
	if err := unix.Statfs(dir, &s); err != nil {
		return 0, 0, &os.PathError{Op: "statfs", Path: dir, Err: err}
	}
	size := uint64(s.Bsize) // its type is another on each system
	return s.Bavail * size, s.Blocks * size, nil
}

// links returns how many names lead to a file.
func links(path string) (uint64, error) {
	var s unix.Stat_t
	if err := unix.Lstat(path, &s); err != nil {
		return 0, &os.PathError{Op: "lstat", Path: path, Err: err}
	}
	return uint64(s.Nlink), nil //nolint:unconvert // its type is another on each system
}
