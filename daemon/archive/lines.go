package archive

import (
	"encoding/json"
	"fmt"
	"io"

	"plumbline/daemon"
)

// linesSchema grows when a reader of older lines would misread newer ones.
const linesSchema = 1

// About says what result lines are of: their first line.
type About struct {
	Plumbline  string           `json:"plumbline"` // "results"
	Schema     int              `json:"schema"`
	Program    string           `json:"program"`
	Setup      daemon.SetupFile `json:"setup"`
	OwnSetups  bool             `json:"own_setups"`
	Shard      int              `json:"shard"`
	Of         int              `json:"of"`
	Recordings int              `json:"recordings"` // of the whole archive
	List       string           `json:"list"`       // hash over their places
}

// Describe returns what is to be said of one machine's share of a list.
func Describe(program string, setup daemon.SetupFile, own bool, shard Shard, list []Recording) About {
	shard = shard.whole()
	return About{"results", linesSchema, program, setup, own, shard.Number, shard.Of, len(list), hashOf(list)}
}

// line is one result. What daemon.Result keeps from JSON stands beside it.
type line struct {
	Index    int            `json:"index"`
	Next     string         `json:"next,omitempty"`
	Unusable []string       `json:"unusable,omitempty"` // by capture
	Result   *daemon.Result `json:"result"`
}

// last is the last line.
type last struct {
	End    bool `json:"end"`
	Judged int  `json:"judged"`
}

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return fmt.Errorf("archive: writing results: %w", err)
	}
	return nil
}

func writeHead(w io.Writer, about *About) error { return writeJSON(w, about) }

func writeEnd(w io.Writer, judged int) error { return writeJSON(w, last{true, judged}) }

func writeLine(w io.Writer, index int, r *daemon.Result) error {
	l := line{Index: index, Next: r.Next, Result: r}
	for i := range r.Captures {
		if why := r.Captures[i].Unusable; why != "" {
			if l.Unusable == nil {
				l.Unusable = make([]string, len(r.Captures))
			}
			l.Unusable[i] = why
		}
	}
	return writeJSON(w, &l)
}

// result puts together what writeLine took apart.
func (l *line) result() (*daemon.Result, error) {
	if l.Result == nil {
		return nil, fmt.Errorf("recording number %d has no result", l.Index+1)
	}
	if l.Result.Schema != daemon.Schema {
		return nil, fmt.Errorf("a result of schema %d, known here is %d", l.Result.Schema, daemon.Schema)
	}
	l.Result.Next = l.Next
	for i, why := range l.Unusable {
		if i < len(l.Result.Captures) {
			l.Result.Captures[i].Unusable = why
		}
	}
	return l.Result, nil
}
