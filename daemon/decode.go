package daemon

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"plumbline/checks"
)

// maxResultBytes is how long a file of results may be: ten thousand recordings take about 500 MB, and
// nobody compares those; one result takes some 100 kB.
const maxResultBytes = 1 << 30

// ErrNoResult says that JSON was read and is something else than a result.
var ErrNoResult = errors.New("not a result of plumbline")

// Decode reads what [Encode] writes: one result, or an array of them. Keys that it
// does not know are passed over, so that a later version's results can be read. The
// error is ErrNoResult where the JSON is sound and of another kind.
func Decode(r io.Reader) ([]Result, error) {
	text, err := io.ReadAll(io.LimitReader(r, maxResultBytes+1))
	if err != nil {
		return nil, fmt.Errorf("daemon: reading results: %w", err)
	}
	if len(text) > maxResultBytes {
		return nil, fmt.Errorf("daemon: more than %d bytes of results: is it the right file?", maxResultBytes)
	}
	text = bytes.TrimSpace(bytes.TrimPrefix(text, []byte("\ufeff")))
	if len(text) == 0 {
		return nil, errors.New("daemon: the file is empty")
	}
	parts := []json.RawMessage{text}
	if text[0] == '[' {
		if err := json.Unmarshal(text, &parts); err != nil {
			return nil, fmt.Errorf("daemon: results: %w", err)
		}
	}
	out := make([]Result, len(parts))
	for i, part := range parts {
		if err := out[i].decode(part); err != nil {
			if len(parts) > 1 {
				return nil, fmt.Errorf("daemon: result %d of %d: %w", i+1, len(parts), err)
			}
			return nil, fmt.Errorf("daemon: %w", err)
		}
	}
	return out, nil
}

// decode reads one result and holds what others rest on.
func (r *Result) decode(text []byte) error {
	var kind struct {
		Schema   *int             `json:"schema"`
		Kind     string           `json:"kind"` // what is no result says what it is
		Findings *json.RawMessage `json:"findings"`
	}
	if err := json.Unmarshal(text, &kind); err != nil {
		if _, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
			return ErrNoResult
		}
		return err
	}
	if kind.Schema == nil || kind.Findings == nil || kind.Kind != "" {
		return ErrNoResult
	}
	if *kind.Schema != Schema {
		return fmt.Errorf("the result has schema %d, this program reads %d: use the version that wrote it", *kind.Schema, Schema)
	}
	if err := json.Unmarshal(text, r); err != nil {
		return err
	}
	for i := range r.Findings {
		f := &r.Findings[i]
		if f.Uncertainty != nil && *f.Uncertainty < 0 {
			return fmt.Errorf("%s has a negative uncertainty", f.Name())
		}
		if p := f.Parts; p != nil && (p.Scatter < 0 || p.DOF <= 0 || p.Resolution < 0 || p.Count < 0) {
			return fmt.Errorf("%s has a negative part of its uncertainty", f.Name())
		}
	}
	if r.Verdict == checks.Pass && len(r.Findings) == 0 {
		return errors.New("a pass without findings")
	}
	return nil
}

// Finding returns the finding of a check about a subject and a channel; nil: there is none.
func (r *Result) Finding(check, subject, channel string) *Finding {
	for i := range r.Findings {
		if f := &r.Findings[i]; f.Check == check && f.Subject == subject && f.Channel == channel {
			return f
		}
	}
	return nil
}

// Span returns the times of the first and the last frame of all captures; 0 where none had one.
func (r *Result) Span() (first, last Instant) {
	for i := range r.Captures {
		c := &r.Captures[i]
		if c.First != 0 && (first == 0 || c.First < first) {
			first = c.First
		}
		last = max(last, c.Last)
	}
	return first, last
}
