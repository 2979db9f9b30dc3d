package results

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
)

// sumsFile is the list of hashes, in the format of sha256sum.
const sumsFile = "SHA256SUMS"

// folder is a folder that is being written: under a name that no list shows, until it is whole.
type folder struct {
	disk *disk
	dir  string // where it is now
	subs []string
	sums map[string]string // by name, with slashes
}

func (s *Store) begin(name string) (*folder, error) {
	f := &folder{disk: s.disk, dir: filepath.Join(s.dir, unfinished+name), sums: map[string]string{}}
	if err := f.disk.remove(f.dir); err != nil { // what an earlier try has left
		return nil, err
	}
	if err := f.disk.mkdir(f.dir); err != nil {
		return nil, errors.Join(err, f.discard())
	}
	return f, nil
}

// in returns where a file of the folder is, making the folders above it.
func (f *folder) in(name string) (string, error) {
	if sub := path.Dir(name); sub != "." && !slices.Contains(f.subs, sub) {
		if err := f.disk.mkdir(filepath.Join(f.dir, filepath.FromSlash(sub))); err != nil {
			return "", err
		}
		for ; sub != "." && !slices.Contains(f.subs, sub); sub = path.Dir(sub) {
			f.subs = append(f.subs, sub)
		}
	}
	return filepath.Join(f.dir, filepath.FromSlash(name)), nil
}

// write writes a file of the folder.
func (f *folder) write(name string, text []byte) error {
	to, err := f.in(name)
	if err != nil {
		return err
	}
	if err := f.fill(to, bytes.NewReader(text)); err != nil {
		return err
	}
	sum := sha256.Sum256(text)
	f.sums[name] = hex.EncodeToString(sum[:])
	return nil
}

func (f *folder) fill(to string, from io.Reader) error {
	out, err := f.disk.create(to)
	if err != nil {
		return err
	}
	if _, err = io.Copy(out, from); err == nil {
		err = out.Sync()
	}
	return errors.Join(err, out.Close())
}

// take puts a finished file of elsewhere into the folder: the same file under another name where the
// file system can do that, else a copy. It returns its hash.
func (f *folder) take(ctx context.Context, name, from string) (string, error) {
	to, err := f.in(name)
	if err != nil {
		return "", err
	}
	if err := f.disk.link(from, to); err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
		if err := f.copy(ctx, to, from); err != nil {
			return "", err
		}
	}
	in, err := os.Open(filepath.Clean(to))
	if err != nil {
		return "", err
	}
	defer in.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, &patient{ctx, in}); err != nil {
		return "", err
	}
	f.sums[name] = hex.EncodeToString(sum.Sum(nil))
	return f.sums[name], nil
}

func (f *folder) copy(ctx context.Context, to, from string) error {
	in, err := os.Open(filepath.Clean(from))
	if err != nil {
		return err
	}
	defer in.Close()
	return f.fill(to, &patient{ctx, in})
}

// patient reads until its context is done.
type patient struct {
	ctx context.Context //nolint:containedctx // it lives as long as one call
	io.Reader
}

func (p *patient) Read(b []byte) (int, error) {
	if err := p.ctx.Err(); err != nil {
		return 0, err
	}
	return p.Reader.Read(b)
}

// commit gives the folder its name. After an error there is no folder of that name.
func (f *folder) commit(name string) error {
	names := make([]string, 0, len(f.sums))
	for n := range f.sums {
		names = append(names, n)
	}
	slices.Sort(names)
	var sums bytes.Buffer
	for _, n := range names {
		fmt.Fprintf(&sums, "%s  %s\n", f.sums[n], n)
	}
	if err := f.write(sumsFile, sums.Bytes()); err != nil {
		return err
	}
	for _, sub := range append(f.subs, ".") {
		if err := f.disk.syncDir(filepath.Join(f.dir, filepath.FromSlash(sub))); err != nil {
			return err
		}
	}
	above := filepath.Dir(f.dir)
	to := filepath.Join(above, name)
	if _, err := os.Lstat(to); err == nil {
		return fmt.Errorf("%s: %w", name, fs.ErrExist)
	}
	if err := f.disk.rename(f.dir, to); err != nil {
		return err
	}
	if err := f.disk.syncDir(above); err != nil {
		return errors.Join(err, f.disk.rename(to, f.dir)) // nobody knows whether it would be there tomorrow
	}
	return nil
}

// discard removes what was not finished.
func (f *folder) discard() error { return f.disk.remove(f.dir) }
