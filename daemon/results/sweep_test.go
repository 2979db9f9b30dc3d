package results

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestSweep refuses the N-th call of each kind: nothing is left over, what was there stays, and it can be signed again.
func TestSweep(t *testing.T) {
	f := frozen(t)
	earlier := "20200101T000000Z-minibus-7-00000000"
	for _, op := range []string{"mkdir", "create", "write", "half", "sync", "close", "link", "rename", "syncDir"} {
		for n := 0; ; n++ {
			dir := t.TempDir()
			for name, text := range map[string]string{earlier + "/" + reportFile: "signed before", "notes.txt": "of somebody else"} {
				if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o750); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			s := opened(t, dir)
			before := tree(t, dir)
			r := &refuser{op: op, n: n}
			s.disk = r.disk()
			e, err := s.Sign(t.Context(), signing(f))
			if !r.hit {
				if err != nil || n == 0 {
					t.Errorf("%s: %v after %d calls, want at least one that could be refused", op, err, n)
				}
				break
			}
			if op == "link" { // then it is copied
				if err != nil {
					t.Errorf("link %d: %v, want a copy", n, err)
					continue
				}
				replays(t, filepath.Join(dir, e.Name))
				continue
			}
			if !errors.Is(err, syscall.ENOSPC) {
				t.Errorf("%s %d: %v, want the error of the disk", op, n, err)
			}
			if diff := cmp.Diff(tree(t, dir), before); diff != "" {
				t.Errorf("%s %d: there now, before:\n%s", op, n, diff)
			}
			if e, err = s.Sign(t.Context(), signing(f)); err != nil {
				t.Errorf("%s %d: cannot be signed again: %v", op, n, err)
			} else if _, ok := s.Find(e.Name); !ok {
				t.Errorf("%s %d: signed again and not listed", op, n)
			}
		}
	}
}

// refuser refuses the n-th call of one kind, once.
type refuser struct {
	op    string
	n     int
	calls int
	hit   bool
}

func (r *refuser) call(op string) error {
	if op != r.op {
		return nil
	}
	r.calls++
	if r.calls-1 != r.n {
		return nil
	}
	r.hit = true
	return fmt.Errorf("%s: %w", op, syscall.ENOSPC)
}

func (r *refuser) disk() *disk {
	whole := realDisk()
	d := *whole
	d.mkdir = func(dir string) error { return errors.Join(r.call("mkdir"), whole.mkdir(dir)) }
	d.create = func(path string) (file, error) {
		if err := r.call("create"); err != nil {
			return nil, err
		}
		f, err := whole.create(path)
		return &refused{f, r}, err
	}
	d.link = func(from, to string) error {
		if err := r.call("link"); err != nil {
			return err
		}
		return whole.link(from, to)
	}
	d.rename = func(from, to string) error {
		if err := r.call("rename"); err != nil {
			return err
		}
		return whole.rename(from, to)
	}
	d.syncDir = func(dir string) error { return errors.Join(r.call("syncDir"), whole.syncDir(dir)) }
	return &d
}

type refused struct {
	file
	r *refuser
}

func (f *refused) Write(b []byte) (int, error) {
	if err := f.r.call("write"); err != nil {
		return 0, err
	}
	if err := f.r.call("half"); err != nil {
		n, _ := f.file.Write(b[:len(b)/2])
		return n, err
	}
	return f.file.Write(b)
}

func (f *refused) Sync() error  { return errors.Join(f.r.call("sync"), f.file.Sync()) }
func (f *refused) Close() error { return errors.Join(f.r.call("close"), f.file.Close()) }
