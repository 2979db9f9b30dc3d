package checks

import "fmt"

// MarshalText writes the word that results use.
func (v Verdict) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// UnmarshalText reads the word that results use; any other word is an error.
func (v *Verdict) UnmarshalText(word []byte) error {
	for _, known := range []Verdict{Inconclusive, Pass, Fail, Absent} {
		if string(word) == known.String() {
			*v = known
			return nil
		}
	}
	return fmt.Errorf("checks: verdict %q: expected pass, fail, inconclusive or absent", word)
}
