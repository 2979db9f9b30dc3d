package daemon

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
)

// Encode writes one result as a JSON object and several as an array, in the
// order given, with an indent of two blanks and a line feed at the end.
func Encode(w io.Writer, results []Result) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	var err error
	if len(results) == 1 {
		err = e.Encode(&results[0])
	} else {
		err = e.Encode(results)
	}
	if err != nil {
		return fmt.Errorf("daemon: writing the result: %w", err)
	}
	return nil
}

// EncodeItem writes one result as it stands among several in what Encode writes, without what stands between two.
func EncodeItem(w *bytes.Buffer, r *Result) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("  ", "  ")
	if err := e.Encode(r); err != nil {
		return fmt.Errorf("daemon: writing the result: %w", err)
	}
	w.Truncate(w.Len() - 1) // the line feed
	return nil
}
