package record

import (
	"os"
	"path/filepath"

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

// links returns how many names lead to a file.
func links(path string) (n uint64, err error) {
	f, err := os.Open(filepath.Clean(path))
	if err != nil {
		return 0, err
	}
	defer f.Close()
	var info windows.ByHandleFileInformation
	if err := windows.GetFileInformationByHandle(windows.Handle(f.Fd()), &info); err != nil {
		return 0, &os.PathError{Op: "links", Path: path, Err: err}
	}
	return uint64(info.NumberOfLinks), nil
}
