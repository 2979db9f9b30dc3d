package results

import (
	"regexp"
	"strings"
	"time"

	"plumbline/daemon"
)

const (
	stampLayout = "20060102T150405Z"
	maxSlug     = 40 // characters
	idDigits    = 8
)

var namePattern = regexp.MustCompile(`^\d{8}T\d{6}Z-[a-z0-9]+(-[a-z0-9]+)*-[0-9A-F]{8}$`)

// nameOf returns the name of a test's folder.
func nameOf(began daemon.Instant, vehicle, report string) string {
	return time.Unix(0, int64(began)).UTC().Format(stampLayout) + "-" + slug(vehicle) + "-" + digitsOf(report)
}

// slug makes a name that every file system takes: small letters, digits, and one dash between them.
func slug(name string) string {
	var b strings.Builder
	dash := false
	for _, r := range strings.ToLower(name) {
		if b.Len() >= maxSlug {
			break
		}
		if (r < 'a' || r > 'z') && (r < '0' || r > '9') {
			dash = b.Len() > 0
			continue
		}
		if dash {
			b.WriteByte('-')
			dash = false
		}
		b.WriteRune(r)
	}
	if b.Len() == 0 {
		return "vehicle"
	}
	return b.String()
}

// digitsOf returns the first digits of the hash in a report's id, which stands at its end.
func digitsOf(report string) string {
	hash := report[strings.LastIndexByte(report, '-')+1:]
	for len(hash) < idDigits {
		hash += "0"
	}
	return hash[:idDigits]
}
