package archive

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// Own returns what recordings are judged by that lie beside a setup of their own: setup.yaml, .yml, .toml
// or .json in the folder of the recording, else in the nearest folder above it, up to the one that was named. What has none is
// judged by spare. A setup that is not right makes its recordings unusable.
func Own(spare *daemon.Bench, program string) func(r *Recording) (*daemon.Bench, error) {
	own := &owned{program: program, kept: map[string]*keptBench{}}
	return func(r *Recording) (*daemon.Bench, error) {
		file := besides(r)
		if file == "" {
			return spare, nil
		}
		return own.bench(file)
	}
}

// mostBenches is how many setups are kept ready: recordings come folder by folder.
const mostBenches = 32

type owned struct {
	program string

	mu    sync.Mutex // guards what follows
	kept  map[string]*keptBench
	order []string
}

type keptBench struct {
	once  sync.Once
	bench *daemon.Bench
	err   error
}

func (o *owned) bench(file string) (*daemon.Bench, error) {
	o.mu.Lock()
	k := o.kept[file]
	if k == nil {
		k = &keptBench{}
		o.kept[file] = k
		if o.order = append(o.order, file); len(o.order) > mostBenches {
			delete(o.kept, o.order[0])
			o.order = o.order[1:]
		}
	}
	o.mu.Unlock()
	k.once.Do(func() {
		var s *setup.Setup
		if s, k.err = setup.Load(file); k.err == nil {
			k.bench, k.err = daemon.NewBench(s, o.program)
		}
		if faults, ok := errors.AsType[setup.Faults](k.err); ok && len(faults) > 0 {
			text := "the setup of its own is wrong: " + faults[0].String()
			if n := len(faults) - 1; n > 0 {
				text += fmt.Sprintf(" (and %d more: plumbline setup check %s)", n, file)
			}
			k.err = errors.New(text)
		}
	})
	return k.bench, k.err
}

// besides returns the setup that belongs to a recording, "" where there is none.
func besides(r *Recording) string {
	if r.Name == "-" {
		return ""
	}
	root := filepath.Clean(r.Root)
	for dir := filepath.Dir(r.Name); ; dir = filepath.Dir(dir) {
		for _, ending := range []string{".yaml", ".yml", ".toml", ".json"} {
			file := filepath.Join(dir, "setup"+ending)
			if info, err := os.Stat(file); err == nil && info.Mode().IsRegular() {
				return file
			}
		}
		if dir == root || dir == filepath.Dir(dir) || !within(root, dir) {
			return ""
		}
	}
}

// within reports whether a folder lies below another.
func within(root, dir string) bool {
	rel, err := filepath.Rel(root, dir)
	return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator))
}
