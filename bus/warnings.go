package bus

import "fmt"

// MaxWarnings is how many warnings a source gives of one recording: a broken one of a hundred million lines
// must not become as many notes. The rest is counted, and the number told at the end.
const MaxWarnings = 20

// Warnings bounds the warnings of a source to [MaxWarnings]. The zero value has given none.
type Warnings struct{ n uint64 }

// Next counts a warning and reports whether it is to be given. Ask before it is put into words.
func (w *Warnings) Next() bool {
	w.n++
	return w.n <= MaxWarnings
}

// Total returns what is to be said at the end of the recording of that name; "" where all warnings were given.
func (w *Warnings) Total(name string) string {
	if w.n <= MaxWarnings {
		return ""
	}
	return fmt.Sprintf("%s: %d warnings in all, the first %d are listed", name, w.n, MaxWarnings)
}
