package setup

import (
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Record is how what is heard is to be recorded, where the setup says so.
type Record struct {
	Dir       string        // folder; of a relative path from the folder of the setup file
	Keep      int64         // bytes that all parts may take; 0: no bound
	PartBytes int64         // after which a part ends; 0: the recorder's default
	PartTime  time.Duration // after which a part ends; 0: the recorder's default
	Zstd      bool          // pack the parts
}

// Bounds of a part: less is a folder full of files, more is lost when one is damaged.
const (
	leastPart     = 1_000_000
	leastPartTime = 10 * time.Second
	mostPartTime  = 24 * time.Hour
	partsKept     = 2 // how many parts must at least fit into what is kept: the one being written, and one before it
)

// record reads how to record.
func (l *loader) record() {
	w, n := l.words.Record, l.tree.get("record")
	if w == nil || n == nil {
		return
	}
	r := &Record{}
	switch {
	case w.Dir != nil && *w.Dir != "":
		r.Dir = *w.Dir
		if !filepath.IsAbs(r.Dir) {
			r.Dir = filepath.Join(l.dir, r.Dir)
		}
	case !n.given("dir") || w.Dir != nil:
		l.faults.add(n.at("dir"), "record has no folder: write dir:, as in record: {dir: recordings, keep: 20 GB}")
	}
	if w.Zstd != nil {
		r.Zstd = *w.Zstd
	}
	if w.Keep != nil {
		var ok bool
		if r.Keep, ok = size(*w.Keep); !ok {
			l.faults.add(n.at("keep"), "keep is %s: write how much all recordings may take, a number above 0 with one of %s, as in keep: 20 GB", quote(*w.Keep), strings.Join(sizeWords(), ", "))
		}
	}
	if w.Part != nil {
		l.part(n, *w.Part, r)
	}
	if r.Keep > 0 && r.Keep < partsKept*max(r.PartBytes, leastPart) {
		l.faults.add(n.at("keep"), "keep is %s, which is less than %d parts: write more, or a smaller part", quote(*w.Keep), partsKept)
	}
	l.out.Record = r
}

// part reads when a part ends: a size or a time.
func (l *loader) part(n *node, text string, r *Record) {
	bytes, isSize := size(text)
	span, isTime := timeSpan(text)
	switch {
	case !isSize && !isTime:
		l.faults.add(n.at("part"), "part is %s: write a size or a time after which a part ends, as in part: 100 MB or part: 15 min (known here: %s, %s)",
			quote(text), strings.Join(sizeWords(), ", "), strings.Join(timeWords(), ", "))
	case isSize && bytes < leastPart:
		l.faults.add(n.at("part"), "part is %s, so small that a folder fills with files: write at least 1 MB", quote(text))
	case isTime && (span < leastPartTime || span > mostPartTime):
		l.faults.add(n.at("part"), "part is %s: write a time from 10 s to 24 h", quote(text))
	case isSize:
		r.PartBytes = bytes
	default:
		r.PartTime = span
	}
}

// sizeWords are the units of a size.
func sizeWords() []string { return []string{"kB", "MB", "GB", "TB", "KiB", "MiB", "GiB", "TiB"} }

// timeWords are the units of a time.
func timeWords() []string { return []string{"s", "min", "h"} }

// size reads "20 GB", in bytes. SI units count in thousands, those of IEC 80000-13 (KiB) in 1024.
func size(text string) (int64, bool) {
	number, unit, ok := measure(text)
	i := slices.IndexFunc(sizeWords(), func(w string) bool { return strings.EqualFold(w, unit) })
	if !ok || i < 0 {
		return 0, false
	}
	base := 1000.0
	if i >= 4 {
		base, i = 1024, i-4
	}
	bytes := number * math.Pow(base, float64(i+1))
	if bytes < 1 || bytes > 1<<60 {
		return 0, false
	}
	return int64(bytes), true
}

// timeSpan reads "15 min".
func timeSpan(text string) (time.Duration, bool) {
	number, unit, ok := measure(text)
	if !ok {
		return 0, false
	}
	switch unit {
	case "s":
		return time.Duration(number * float64(time.Second)), number < 1e9
	case "min":
		return time.Duration(number * float64(time.Minute)), number < 1e7
	case "h":
		return time.Duration(number * float64(time.Hour)), number < 1e5
	}
	return 0, false
}

// measure parts a number above 0 from its unit.
func measure(text string) (number float64, unit string, ok bool) {
	text = strings.TrimSpace(text)
	i := strings.IndexFunc(text, func(r rune) bool { return (r < '0' || r > '9') && r != '.' })
	if i <= 0 {
		return 0, "", false
	}
	number, err := strconv.ParseFloat(text[:i], 64)
	return number, strings.TrimSpace(text[i:]), err == nil && number > 0
}
