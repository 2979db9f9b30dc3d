package history

import (
	"errors"
	"io/fs"
	"path"
	"strings"

	"plumbline/daemon"
)

// Read reads all results in a folder and below it: every file whose name ends in
// .json, one result or an array. name is what the history calls the folder, program
// the name and version that it carries. Where only is not nil, just the transducer of
// that serial number is kept. The error is that the folder itself cannot be read;
// what is wrong with a file is a problem in the history.
func Read(folder fs.FS, name, program string, only *uint64) (History, error) {
	h := History{Schema: Schema, Kind: "history", Program: program, Folder: name, Problems: []Problem{}, Transducers: []Transducer{}}
	seen := map[string]bool{}
	err := fs.WalkDir(folder, ".", func(file string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil && file == ".":
			return err
		case err != nil:
			h.Problems = append(h.Problems, Problem{file, reason(err)})
			return nil // the rest is read all the same
		case entry.IsDir() && strings.HasPrefix(entry.Name(), ".") && file != ".":
			return fs.SkipDir
		case entry.IsDir(), !strings.EqualFold(path.Ext(file), ".json"), strings.HasPrefix(entry.Name(), "."):
			return nil
		}
		h.file(folder, file, seen)
		return nil
	})
	if err != nil {
		return History{}, err
	}
	h.finish(only)
	return h, nil
}

func (h *History) file(folder fs.FS, file string, seen map[string]bool) {
	f, err := folder.Open(file)
	if err != nil {
		h.Problems = append(h.Problems, Problem{file, reason(err)})
		return
	}
	defer f.Close()
	results, err := daemon.Decode(f)
	switch {
	case errors.Is(err, daemon.ErrNoResult):
		h.Other++
		return
	case err != nil:
		h.Problems = append(h.Problems, Problem{file, strings.TrimPrefix(err.Error(), "daemon: ")})
		return
	}
	for i := range results {
		h.add(file, &results[i], seen)
	}
}

// reason is an error without the path that stands beside it.
func reason(err error) string {
	if p, ok := errors.AsType[*fs.PathError](err); ok {
		return p.Err.Error()
	}
	return err.Error()
}
