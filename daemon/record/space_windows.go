package record

import (
	"os"

	"golang.org/x/sys/windows"
)

const noDirSync = true

// space returns what this user may still write, and the size of the disk.
func space(dir string) (free, total uint64, err error) {
	path, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return 0, 0, &os.PathError{Op: "disk space", Path: dir, Err: err}
	}
	var all uint64
	if err := windows.GetDiskFreeSpaceEx(path, &free, &total, &all); err != nil {
		return 0, 0, &os.PathError{Op: "disk space", Path: dir, Err: err}
	}
	return free, total, nil
}
