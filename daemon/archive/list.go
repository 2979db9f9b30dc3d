package archive

import (
	"cmp"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"plumbline/daemon/record"
)

// Recording is one thing to judge.
type Recording struct {
	Name  string   // as results call it: a path; "-" is standard input
	Place string   // in the archive, with /: the path below the folder or pattern that named it, so that it is the same on every machine
	Parts []string // of a recording of our own, whose Name is the path of its parts without number and ending
	Root  string   // the folder that named it; of a file that was named alone, its own
	Err   error    // why it cannot be looked at; nil: it can
}

// List returns the recordings that arguments name, in their order: a file, "-", a folder with all that it
// holds at any depth, or a pattern, in which * and ? stand for letters of a name, [a-z] for one of them and ** for any number of folders.
//
// A file counts as a recording in a folder by its ending: .log, .candump, .pcap, .pcapng, each also .gz
// or .zst; a pattern that ends in an ending of its own takes that for one. What begins with a dot is passed over. The parts of one recording of our own are one. Within a folder or
// pattern recordings stand in the order of their names, byte by byte; one that two of them name counts
// once. A file that is not there is a Recording all the same: what is wrong with it is told when it is opened.
//
// An error means that a folder or a pattern names no recording at all.
func List(args []string) ([]Recording, error) {
	var list []Recording
	seen := map[string]bool{}
	for _, arg := range args {
		info, err := os.Stat(arg)
		isFolder := err == nil && info.IsDir()
		if arg == "-" || !isFolder && (err == nil || !isPattern(arg)) {
			list = append(list, Recording{Name: arg, Place: filepath.ToSlash(arg), Root: filepath.Dir(arg)})
			seen[arg] = true
			continue
		}
		var found []Recording
		if isFolder {
			found = below(arg, nil)
			if len(found) == 0 {
				return nil, fmt.Errorf("%s holds no recording (looked for %s, also .gz and .zst): name a capture, or a folder of them", arg, strings.Join(endings(), ", "))
			}
		} else {
			found, err = matching(arg)
			if err != nil {
				return nil, err
			}
			if len(found) == 0 {
				return nil, fmt.Errorf("%s matches no recording", arg)
			}
		}
		for _, r := range found {
			if !seen[r.Name] {
				seen[r.Name] = true
				list = append(list, r)
			}
		}
	}
	return list, nil
}

// endings are those of recordings.
func endings() []string { return []string{".log", ".candump", ".pcap", ".pcapng"} }

// IsRecording reports whether a name ends as those of recordings do.
func IsRecording(name string) bool {
	if strings.HasPrefix(name, ".") {
		return false
	}
	name = strings.ToLower(name)
	for _, packed := range []string{".gz", ".zst"} {
		name = strings.TrimSuffix(name, packed)
	}
	return slices.Contains(endings(), path.Ext(name))
}

// below returns the recordings in a folder, at any depth, for which take is true; take is nil or is asked of
// the path below the folder, with /.
func below(folder string, take func(place string) bool) []Recording {
	var found []Recording
	parts := map[string][]string{} // of our own recordings, by place of the folder
	var order []string
	_ = fs.WalkDir(os.DirFS(folder), ".", func(place string, e fs.DirEntry, err error) error {
		full := filepath.Join(folder, filepath.FromSlash(place))
		if err != nil {
			found = append(found, Recording{Name: full, Place: place, Root: folder, Err: err})
			return nil //nolint:nilerr // the recording tells it, the others are found
		}
		base := path.Base(place)
		switch {
		case e.IsDir() && place != "." && strings.HasPrefix(base, "."):
			return fs.SkipDir
		case e.IsDir(), take == nil && !IsRecording(base), take != nil && !take(place), !isFile(full, e):
			return nil
		}
		if name, ok := record.SessionOf(base); ok {
			session := path.Join(path.Dir(place), name)
			if parts[session] == nil {
				order = append(order, session)
			}
			parts[session] = append(parts[session], full)
			return nil
		}
		found = append(found, Recording{Name: full, Place: place, Root: folder})
		return nil
	})
	for _, session := range order {
		list := parts[session]
		record.SortParts(list)
		found = append(found, Recording{Name: filepath.Join(folder, filepath.FromSlash(session)), Place: session, Root: folder, Parts: list})
	}
	slices.SortFunc(found, func(a, b Recording) int { return cmp.Compare(a.Place, b.Place) })
	return found
}

// isFile follows links to files; those to folders could lead in circles.
func isFile(full string, e fs.DirEntry) bool {
	if e.Type().IsRegular() {
		return true
	}
	if e.Type()&fs.ModeSymlink == 0 {
		return false
	}
	info, err := os.Stat(full)
	return err != nil || info.Mode().IsRegular() // one that leads nowhere is told when it is opened
}

func isDir(name string) bool {
	info, err := os.Stat(name)
	return err == nil && info.IsDir()
}

// isPattern reports whether a name is to be matched.
func isPattern(name string) bool { return strings.ContainsAny(name, "*?[") }

// matching returns what a pattern matches: files, and all that matching folders hold.
func matching(pattern string) ([]Recording, error) {
	steps := strings.Split(filepath.ToSlash(pattern), "/")
	first := slices.IndexFunc(steps, isPattern)
	root := strings.Join(steps[:first], "/")
	switch {
	case first == 0:
		root = "."
	case root == "":
		root = "/"
	}
	steps = steps[first:]
	for _, step := range steps {
		if _, err := path.Match(step, ""); err != nil {
			return nil, fmt.Errorf("the pattern %s is not right: [ needs its ]", pattern)
		}
	}
	root = filepath.FromSlash(root)
	if !isDir(root) {
		return nil, nil
	}
	if steps[len(steps)-1] == "**" { // all below it
		return below(root, func(place string) bool {
			return IsRecording(path.Base(place)) && matches(steps, strings.Split(place, "/"))
		}), nil
	}
	named := path.Ext(steps[len(steps)-1]) != "" // *.dat means what it says, * only what is known to be a recording
	return below(root, func(place string) bool {
		names := strings.Split(place, "/")
		known := IsRecording(path.Base(place))
		if (named || known) && matches(steps, names) {
			return true
		}
		if !known {
			return false
		}
		for n := 1; n < len(names); n++ { // in a folder that matches
			if matches(steps, names[:n]) {
				return true
			}
		}
		return false
	}), nil
}

// matches reports whether a path matches a pattern, step by step. A name that begins with a dot is matched by one that does alone.
func matches(steps, names []string) bool {
	for len(steps) > 0 {
		if steps[0] == "**" {
			for n := 0; n <= len(names); n++ {
				if matches(steps[1:], names[n:]) {
					return true
				}
			}
			return false
		}
		if len(names) == 0 || strings.HasPrefix(names[0], ".") && !strings.HasPrefix(steps[0], ".") {
			return false
		}
		if ok, err := path.Match(steps[0], names[0]); err != nil || !ok {
			return false
		}
		steps, names = steps[1:], names[1:]
	}
	return len(names) == 0
}
