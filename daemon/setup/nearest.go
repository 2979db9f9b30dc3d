package setup

import (
	"strings"
	"unicode/utf8"
)

// nearest returns the word that word was most likely meant to be: the one with
// the smallest edit distance, upper and lower case being the same, and no more
// than a third of its letters wrong. One that begins with the other counts as
// just near enough. Of equals the first counts. The second
// result is false where nothing comes near.
func nearest(word string, words []string) (string, bool) {
	const longest = 64 // characters; what is longer was not mistyped
	if utf8.RuneCountInString(word) > longest {
		return "", false
	}
	lower := []rune(strings.ToLower(word))
	best, found := 0, ""
	for _, w := range words {
		if utf8.RuneCountInString(w) > longest {
			continue
		}
		candidate := []rune(strings.ToLower(w))
		allowed := max(1, (max(len(lower), len(candidate))+1)/3)
		d := distance(lower, candidate)
		if begins(string(lower), string(candidate)) {
			d = min(d, allowed)
		}
		if d <= allowed && (found == "" || d < best) {
			best, found = d, w
		}
	}
	return found, found != ""
}

// begins reports whether one word begins with the other.
func begins(a, b string) bool {
	const letters = 3 // of the shorter one; fewer mean nothing
	return min(len(a), len(b)) >= letters && (strings.HasPrefix(a, b) || strings.HasPrefix(b, a))
}

// distance is the number of letters inserted, deleted, replaced or exchanged
// with their neighbour that turn a into b (optimal string alignment).
func distance(a, b []rune) int {
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := range a {
		row[0] = i + 1
		for j := range b {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			row[j+1] = min(last[j+1]+1, row[j]+1, last[j]+cost)
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}

// advise says which word to write instead of a wrong one: the nearest, then
// all that are valid as long as the list stays readable.
func advise(word string, words []string) string {
	const readable, beside = 40, 12 // words in a list alone, and beside a good guess
	near, ok := nearest(word, words)
	switch {
	case len(words) == 0:
		return "there is none at all"
	case len(words) == 1:
		return "write " + words[0]
	case ok && len(words) <= beside:
		return "write " + near + " (known here: " + strings.Join(words, ", ") + ")"
	case ok:
		return "write " + near
	case len(words) > readable:
		return "write one of " + strings.Join(words[:readable], ", ") + ", …"
	}
	return "write one of " + strings.Join(words, ", ")
}
