package results

import (
	"bytes"
	"fmt"
	"path"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"plumbline/daemon/setup"
)

// text is a file and what it holds. The name is relative, with slashes.
type text struct {
	name string
	text []byte
}

// setupFiles returns the setup and the files that it names, each where the setup in the folder finds
// it. Where all of them lie in the folder of the setup or below, the setup is as it was read. Where one
// lies elsewhere, the setup of the folder names its copy, and how it was read stands beside it.
func setupFiles(s *setup.Setup) []text {
	ending := strings.ToLower(filepath.Ext(s.File))
	own := text{"setup" + ending, s.Text}
	out := []text{own}
	named := map[string][]byte{} // by name in the folder
	moved := s.Text
	for i := range s.Files {
		f := &s.Files[i]
		name := filepath.ToSlash(filepath.Clean(f.Path))
		if !fits(f.Path, name) || named[name] != nil {
			name = fmt.Sprintf("files/%02d-%s%s", i+1, slug(strings.TrimSuffix(path.Base(name), path.Ext(name))), endingOf(name))
			moved = rename(moved, f.Path, name)
		}
		named[name] = f.Text
		out = append(out, text{name, f.Text})
	}
	if bytes.Equal(moved, s.Text) {
		return out
	}
	again, err := setup.Parse(own.name, moved, func(name string) ([]byte, error) {
		return named[filepath.ToSlash(name)], nil
	})
	if err == nil && reflect.DeepEqual(again.Checks, s.Checks) && slices.EqualFunc(again.Files, s.Files, func(a, b setup.File) bool { return bytes.Equal(a.Text, b.Text) }) {
		out[0].text = moved
		out = append(out, text{"setup-as-read" + ending, s.Text})
	}
	return out
}

// fits reports whether a file that a setup names can have the same place in the folder.
func fits(given, name string) bool {
	first, _, _ := strings.Cut(name, "/")
	plain := !strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == 0x7F || r == '\\' || r == ':' })
	return plain && filepath.IsLocal(given) && !slices.Contains([]string{
		".", reportFile, resultFile, signFile, sumsFile, recordingDir, "files", "setup", "setup.yaml", "setup.yml", "setup.toml", "setup.json",
		"setup-as-read.yaml", "setup-as-read.yml", "setup-as-read.toml", "setup-as-read.json",
	}, first)
}

func endingOf(name string) string {
	if e := slug(strings.TrimPrefix(path.Ext(name), ".")); e != "vehicle" && len(e) <= 8 {
		return "." + e
	}
	return ""
}

// rename replaces a path in a setup where it stands alone.
func rename(in []byte, from, to string) []byte {
	var out []byte
	for {
		i := bytes.Index(in, []byte(from))
		if from == "" || i < 0 {
			return append(out, in...)
		}
		end := i + len(from)
		before, after := byte(' '), byte(' ')
		if i > 0 {
			before = in[i-1]
		}
		if end < len(in) {
			after = in[end]
		}
		out = append(out, in[:i]...)
		if inPath(before) || inPath(after) {
			out = append(out, from...)
		} else {
			out = append(out, to...)
		}
		in = in[end:]
	}
}

func inPath(b byte) bool {
	return b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z' || b >= '0' && b <= '9' || b >= 0x80 || strings.IndexByte("._-/\\", b) >= 0
}
