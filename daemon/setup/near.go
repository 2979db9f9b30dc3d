package setup

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// Near is what to say after "no such file" of a path: which file of a like name there is, or which folder
// of the path is not there. It begins with ": " or is empty where nothing helps.
func Near(path string) string {
	dir, base := filepath.Split(filepath.Clean(path))
	if dir == "" {
		dir = "."
	}
	dir = filepath.Clean(dir)
	entries, err := os.ReadDir(dir)
	if err != nil {
		if _, gone := os.Stat(dir); gone != nil && dir != "." && dir != string(filepath.Separator) {
			if above := filepath.Dir(dir); above != dir {
				if _, gone := os.Stat(above); gone != nil {
					return Near(dir) // the first folder that is missing is told
				}
			}
			return fmt.Sprintf(": there is no folder %s%s", dir, Near(dir))
		}
		return ""
	}
	var names []string
	const most = 10_000 // names that are compared: an archive must not make a typing error slow
	for _, e := range entries[:min(len(entries), most)] {
		if name := e.Name(); !strings.HasPrefix(name, ".") {
			names = append(names, name)
		}
	}
	near, ok := nearest(base, names)
	if !ok {
		return alike(dir, filepath.Ext(base), names)
	}
	return ": did you mean " + filepath.Join(dir, near)
}

// NearWord is what to say of a word that is none of some, as Near is of a path.
func NearWord(word string, words []string) string {
	if near, ok := nearest(word, words); ok {
		return ": did you mean " + near
	}
	return ""
}

// alike names the files of the same ending, where they are few.
func alike(dir, ending string, names []string) string {
	const few = 3
	var found []string
	for _, name := range names {
		if ending != "" && strings.EqualFold(filepath.Ext(name), ending) {
			found = append(found, filepath.Join(dir, name))
		}
	}
	if len(found) == 0 || len(found) > few {
		return ""
	}
	return ": the folder has " + strings.Join(found, ", ")
}

// Located returns err, the error of opening the file at path; where there is none, with what Near says.
func Located(path string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%w%s", err, Near(path))
	}
	return err
}
