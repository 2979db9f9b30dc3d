package record

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/klauspost/compress/zstd"

	"plumbline/bus"
	"plumbline/bus/pcapng"
)

// fake is a file system in memory that refuses when it is told to.
type fake struct {
	mu     sync.Mutex
	files  map[string]*fakeFile
	calls  map[string]int
	refuse func(op string, n int) error // the n-th call of its kind, from 0; nil: never
	half   bool                         // a write that is refused writes half of it
	size   int64                        // of the disk; 0: without end
	slow   time.Duration                // of a sync
	stall  func(n int) time.Duration    // of the n-th write; nil: none
}

func newFake() *fake { return &fake{files: make(map[string]*fakeFile), calls: make(map[string]int)} }

// fakeFile is a file; what is not synced goes when power goes.
type fakeFile struct {
	disk   *fake
	data   []byte
	safe   []byte
	closed bool
}

func (d *fake) call(op string) error {
	n := d.calls[op]
	d.calls[op]++
	if d.refuse == nil {
		return nil
	}
	return d.refuse(op, n)
}

func (d *fake) used() (n int64) {
	for _, f := range d.files {
		n += int64(len(f.data))
	}
	return n
}

func (d *fake) disk() *disk {
	locked := func(op string, do func() error) error {
		d.mu.Lock()
		defer d.mu.Unlock()
		if err := d.call(op); err != nil {
			return err
		}
		return do()
	}
	return &disk{
		mkdir: func(string) error { return locked("mkdir", func() error { return nil }) },
		list: func(string) (entries []fs.DirEntry, err error) {
			return entries, locked("list", func() error {
				for path := range d.files {
					entries = append(entries, fakeEntry(filepath.Base(path)))
				}
				slices.SortFunc(entries, func(a, b fs.DirEntry) int {
					if a.Name() < b.Name() {
						return -1
					}
					return 1
				})
				return nil
			})
		},
		head: func(path string) (first [4]byte, size int64, err error) {
			return first, size, locked("head", func() error {
				f, ok := d.files[path]
				if !ok {
					return fs.ErrNotExist
				}
				copy(first[:], f.data)
				size = int64(len(f.data))
				return nil
			})
		},
		create: func(path string) (f file, err error) {
			return f, locked("open", func() error {
				if d.files[path] != nil {
					return fs.ErrExist
				}
				d.files[path] = &fakeFile{disk: d}
				f = d.files[path]
				return nil
			})
		},
		open: func(path string) (src bus.Source, err error) {
			return src, locked("read", func() error {
				f, ok := d.files[path]
				if !ok {
					return fs.ErrNotExist
				}
				data := slices.Clone(f.data)
				if strings.HasSuffix(path, ".zst") {
					unpack, err := zstd.NewReader(nil)
					if err != nil {
						return err
					}
					defer unpack.Close()
					if data, err = unpack.DecodeAll(data, nil); err != nil {
						return err
					}
				}
				src = pcapng.NewReader(path, bytes.NewReader(data))
				return nil
			})
		},
		links: func(path string) (n uint64, err error) {
			return n, locked("links", func() error {
				f, ok := d.files[path]
				if !ok {
					return fs.ErrNotExist
				}
				for _, other := range d.files {
					if other == f {
						n++
					}
				}
				return nil
			})
		},
		remove: func(path string) error {
			return locked("remove", func() error {
				if d.files[path] == nil {
					return fs.ErrNotExist
				}
				delete(d.files, path)
				return nil
			})
		},
		syncDir: func(string) error { return locked("syncdir", func() error { return nil }) },
		space: func(string) (free, total uint64, err error) {
			return free, total, locked("space", func() error {
				if d.size == 0 {
					free, total = 1<<40, 1<<41
					return nil
				}
				free, total = uint64(max(0, d.size-d.used())), uint64(d.size)
				return nil
			})
		},
	}
}

type fakeEntry string

func (e fakeEntry) Name() string               { return string(e) }
func (e fakeEntry) IsDir() bool                { return false }
func (e fakeEntry) Type() fs.FileMode          { return 0 }
func (e fakeEntry) Info() (fs.FileInfo, error) { return nil, errors.ErrUnsupported }

func (f *fakeFile) Write(p []byte) (int, error) {
	d := f.disk
	if d.stall != nil { // outside the lock, which synctest does not take for waiting
		d.mu.Lock()
		n := d.calls["write"]
		d.mu.Unlock()
		time.Sleep(d.stall(n))
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if f.closed {
		return 0, os.ErrClosed
	}
	if err := d.call("write"); err != nil {
		n := 0
		if d.half {
			n = len(p) / 2
		}
		f.data = append(f.data, p[:n]...)
		return n, err
	}
	if room := d.size - d.used(); d.size > 0 && int64(len(p)) > room {
		f.data = append(f.data, p[:max(0, room)]...)
		return int(max(0, room)), syscall.ENOSPC
	}
	f.data = append(f.data, p...)
	return len(p), nil
}

func (f *fakeFile) Truncate(size int64) error {
	d := f.disk
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.call("truncate"); err != nil {
		return err
	}
	f.data = f.data[:size]
	f.safe = f.safe[:min(len(f.safe), int(size))]
	return nil
}

func (f *fakeFile) Sync() error {
	d := f.disk
	if d.slow > 0 {
		time.Sleep(d.slow)
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.call("sync"); err != nil {
		// what was not safe may be gone, and the next sync says that all is well
		clear(f.data[len(f.safe):])
		return err
	}
	f.safe = slices.Clone(f.data)
	return nil
}

func (f *fakeFile) Close() error {
	d := f.disk
	d.mu.Lock()
	defer d.mu.Unlock()
	if f.closed {
		return os.ErrClosed
	}
	f.closed = true
	return d.call("close")
}

// dump writes the files to a real folder: all of them, or what is safe only.
func (d *fake) dump(tb testing.TB, safe bool, tail func(f *fakeFile) []byte) string {
	tb.Helper()
	d.mu.Lock()
	defer d.mu.Unlock()
	dir := tb.TempDir()
	for path, f := range d.files {
		data := f.data
		if safe {
			data = append(slices.Clone(f.safe), tail(f)...)
		}
		if err := os.WriteFile(filepath.Join(dir, filepath.Base(path)), data, 0o600); err != nil {
			tb.Fatal(err)
		}
	}
	return dir
}
