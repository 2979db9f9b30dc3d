package archive

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"plumbline/daemon"
)

// maxLine bounds a line of results, in bytes: one of a hundred corners has some 2 MB.
const maxLine = 64 << 20

// Results are result lines of one archive, from one file or from all its shards.
type Results struct {
	About About    // of the first file; Shard 0
	files []string // by shard
	spans []where  // by index
	names []string // by index
	found map[int]found
}

// found is a line that was met while the files are looked through: only what is there takes memory, whatever
// the first line promises.
type found struct {
	where
	name string
}

// where a line stands.
type where struct {
	file int // from 1; 0: nowhere
	at   int64
}

// Open looks through files of result lines and tells whether they are all the shards of one archive, whole,
// each once, and judged by the same program and setup. The error names all that is wrong.
func Open(files []string) (*Results, error) {
	r := &Results{found: map[int]found{}}
	var faults []error
	from := map[int]string{} // file by shard
	for _, file := range files {
		about, err := r.scan(file, len(r.files)+1)
		if err != nil {
			faults = append(faults, err)
		}
		if about == nil {
			continue
		}
		if other, ok := from[about.Shard]; ok {
			faults = append(faults, fmt.Errorf("%s and %s are both shard %d: give each once", other, file, about.Shard))
		}
		from[about.Shard] = file
		if len(r.files) == 0 {
			r.About = *about
		} else if what := r.About.differs(about); what != "" {
			faults = append(faults, fmt.Errorf("%s and %s are not of one run: %s", r.files[0], file, what))
		}
		r.files = append(r.files, file)
	}
	const most = 10
	var missing []string
	if n := r.About.Of - len(from); n > 0 {
		for k := 1; k <= r.About.Of && len(missing) < most; k++ {
			if _, ok := from[k]; !ok {
				missing = append(missing, fmt.Sprintf("%d/%d", k, r.About.Of))
			}
		}
		if n > most {
			missing = append(missing, fmt.Sprintf("and %d more", n-most))
		}
	}
	switch {
	case len(missing) > 0 && len(faults) == 0:
		faults = append(faults, fmt.Errorf("shard %s is missing: run it, or give its file", strings.Join(missing, ", ")))
	case len(faults) == 0:
		if lost := r.About.Recordings - len(r.found); lost > 0 {
			faults = append(faults, fmt.Errorf("%d of %d recordings have no result though all shards are there: run them again", lost, r.About.Recordings))
		}
	}
	if len(faults) > 0 {
		return nil, errors.Join(faults...)
	}
	r.spans, r.names = make([]where, len(r.found)), make([]string, len(r.found))
	for i, f := range r.found {
		r.spans[i], r.names[i] = f.where, f.name
	}
	r.found = nil
	return r, nil
}

// differs says in what two shards differ that must not.
func (a *About) differs(b *About) string {
	switch {
	case a.Of != b.Of:
		return fmt.Sprintf("one of %d shards, one of %d", a.Of, b.Of)
	case a.List != b.List || a.Recordings != b.Recordings:
		return fmt.Sprintf("they saw different archives (%d and %d recordings): a recording was added, removed or renamed in between", a.Recordings, b.Recordings)
	case a.Setup != b.Setup || a.OwnSetups != b.OwnSetups:
		return fmt.Sprintf("they were judged by different setups (%s and %s)", a.Setup.File, b.Setup.File)
	case a.Program != b.Program:
		return fmt.Sprintf("they were judged by different programs (%s and %s)", a.Program, b.Program)
	}
	return ""
}

// scan notes where each line of a file stands.
func (r *Results) scan(file string, number int) (*About, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	in := bufio.NewReaderSize(f, 64<<10)
	head, at, err := nextLine(in)
	var about About
	if err != nil || json.Unmarshal(head, &about) != nil || about.Plumbline != "results" {
		return nil, fmt.Errorf("%s holds no result lines: write them with plumbline replay -o NAME.jsonl", file)
	}
	if about.Schema != linesSchema {
		return nil, fmt.Errorf("%s has result lines of schema %d, known here is %d", file, about.Schema, linesSchema)
	}
	if about.Shard < 1 || about.Shard > about.Of || about.Of > maxShards || about.Recordings < 0 {
		return nil, fmt.Errorf("%s: its first line is damaged", file)
	}
	judged := 0
	for {
		text, n, err := nextLine(in)
		if errors.Is(err, io.EOF) {
			return &about, fmt.Errorf("%s was cut off after %d results: run shard %d/%d again", file, judged, about.Shard, about.Of)
		}
		if err != nil {
			return &about, fmt.Errorf("%s: %w", file, err)
		}
		var l struct {
			Index  *int `json:"index"`
			Result struct {
				Captures []struct {
					File string `json:"file"`
				} `json:"captures"`
			} `json:"result"`
			last
		}
		if err := json.Unmarshal(text, &l); err != nil {
			return &about, fmt.Errorf("%s: line %d is damaged: %w", file, judged+2, err)
		}
		if l.End {
			if l.Judged != judged {
				return &about, fmt.Errorf("%s holds %d results and says that there are %d: run shard %d/%d again", file, judged, l.Judged, about.Shard, about.Of)
			}
			return &about, nil
		}
		if l.Index == nil || *l.Index < 0 || *l.Index >= about.Recordings {
			return &about, fmt.Errorf("%s: line %d is of no recording of the archive", file, judged+2)
		}
		if _, ok := r.found[*l.Index]; ok {
			return &about, fmt.Errorf("%s has a result of recording number %d, of which there is one already", file, *l.Index+1)
		}
		line := found{where: where{number, at}}
		if len(l.Result.Captures) > 0 {
			line.name = l.Result.Captures[0].File
		}
		r.found[*l.Index] = line
		judged++
		at += n
	}
}

// nextLine returns the next line, whole, and how many bytes it takes in the file.
func nextLine(in *bufio.Reader) (text []byte, n int64, err error) {
	for {
		piece, err := in.ReadSlice('\n')
		text = append(text, piece...)
		switch {
		case err == nil:
			return text, int64(len(text)), nil
		case len(text) > maxLine:
			return nil, 0, fmt.Errorf("a line of more than %d bytes", maxLine)
		case errors.Is(err, bufio.ErrBufferFull):
		default:
			return nil, 0, err // a line that does not end was cut off
		}
	}
}

// mostOpen bounds the files that are open at a time.
const mostOpen = 128

// Each calls f with each result, in the order of the archive.
func (r *Results) Each(f func(index int, r *daemon.Result) error) (err error) {
	open := map[int]*os.File{}
	shut := func() {
		for k, file := range open {
			err = errors.Join(err, file.Close())
			delete(open, k)
		}
	}
	defer shut()
	for i, w := range r.spans {
		file := open[w.file]
		if file == nil {
			if len(open) == mostOpen {
				shut()
			}
			if file, err = os.Open(r.files[w.file-1]); err != nil {
				return err
			}
			open[w.file] = file
		}
		if _, err := file.Seek(w.at, io.SeekStart); err != nil {
			return err
		}
		result, err := read(file)
		if err != nil {
			return fmt.Errorf("%s: the result of recording number %d: %w", file.Name(), i+1, err)
		}
		if err := f(i, result); err != nil {
			return err
		}
	}
	return nil
}

// Names returns what the results call their recordings.
func (r *Results) Names() []string { return r.names }

// read reads the result at the place where the file stands.
func read(file io.Reader) (*daemon.Result, error) {
	text, _, err := nextLine(bufio.NewReaderSize(file, 64<<10))
	if err != nil {
		return nil, err
	}
	var l line
	if err := json.Unmarshal(text, &l); err != nil {
		return nil, err
	}
	return l.result()
}
