package daemon

import (
	"fmt"
	"slices"
	"strings"

	"plumbline/bus"
)

// told says for the recording what begins to fail and what ceases to. The zero value has said nothing; it
// belongs to one goroutine.
type told struct {
	failing map[string]bool // by the finding's name
}

// maxToldNames is how many findings are named in what is told at once.
const maxToldNames = 8

// look returns what has changed since the last look. What one cause explains is said once.
func (t *told) look(at int64, r *Result) []bus.Note {
	if t.failing == nil {
		t.failing = map[string]bool{}
	}
	var notes []bus.Note
	var ended []string
	causes := map[string]bool{}
	for i := range r.Findings {
		f := &r.Findings[i]
		name, now := f.Name(), f.Failed != nil && f.Failed.Now
		switch {
		case now == t.failing[name]:
			continue
		case !now:
			delete(t.failing, name)
			ended = append(ended, name)
			continue
		}
		t.failing[name] = true
		if f.Cause != "" && causes[f.Cause] {
			continue
		}
		causes[f.Cause] = f.Cause != ""
		notes = append(notes, bus.Note{At: at, Kind: bus.Told, Count: 1, Text: r.begins(f)})
	}
	if len(ended) > 0 {
		more := ""
		if n := len(ended) - maxToldNames; n > 0 {
			ended, more = ended[:maxToldNames], fmt.Sprintf(" and %d more", n)
		}
		notes = append(notes, bus.Note{At: at, Kind: bus.Told, Text: "no longer fails: " + strings.Join(ended, ", ") + more})
	}
	return notes
}

// begins says of a finding that it fails, by its cause where one explains it.
func (r *Result) begins(f *Finding) string {
	k := slices.IndexFunc(r.Causes, func(c Cause) bool { return c.ID == f.Cause && slices.Contains(c.Explains, f.Name()) })
	if k < 0 {
		return "fails: " + f.Name() + ": " + f.Sentence
	}
	return "fails: " + r.Causes[k].Sentence
}
