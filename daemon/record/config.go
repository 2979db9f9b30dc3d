package record

import (
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"time"

	"plumbline/bus"
)

// Config says where and how to record. Dir is required, the rest has defaults.
type Config struct {
	Dir     string   // folder of the parts; made, mode 0750, where it is missing
	Name    string   // begins the name of every part: letters, digits, ". _-" and blank; "": plumbline
	Program string   // that records, with its version, for the section header
	Setup   string   // the setup file, for the section header
	SHA256  string   // of the setup file, in hex, for the section header
	Serial  []string // names of the sources that are serial ports; one that is not named is known by its first bytes
	Zstd    bool     // pack the parts

	PartBytes int64         // on disk, after which a part ends; 0: 64 MiB, or an eighth of Keep where that is less
	PartTime  time.Duration // after which a part ends; 0: 10 min
	Keep      int64         // bytes that all parts of this name may take, but for those that have another name as well; 0: no bound
	Reserve   int64         // bytes that stay free on the disk; 0: 64 MiB or 1 % of it, whichever is more; below 0: none

	Sync  time.Duration // from one write and sync to the next; 0: 500 ms. Shorter wears flash memory more.
	Queue int           // bytes of memory between Write and the disk; 0: 16 MiB, 14 s of 24,000 frames/s

	Log *slog.Logger // changes of state; nil: none

	disk *disk // nil: the real one
}

// The defaults of a Config.
const (
	defaultName      = "plumbline"
	defaultPartBytes = 64 << 20
	defaultPartTime  = 10 * time.Minute
	defaultReserve   = 64 << 20
	reserveShare     = 100 // one part in so many of the disk
	defaultSync      = 500 * time.Millisecond
	defaultQueue     = 16 << 20
)

// Validate reports all that is wrong with a Config.
func (c *Config) Validate() error {
	var errs []error
	fault := func(format string, args ...any) { errs = append(errs, fmt.Errorf("record: "+format, args...)) }
	if c.Dir == "" {
		fault("no folder to record into")
	}
	if !validName(c.Name) {
		fault("%q cannot begin the name of a file: expected at most %d letters, digits, blanks and any of . _ -, a letter or digit first", c.Name, maxName)
	}
	if c.PartBytes < 0 || c.PartTime < 0 || c.Keep < 0 || c.Sync < 0 || c.Queue < 0 {
		fault("a size or time is negative")
	}
	if c.Keep > 0 && c.PartBytes > c.Keep/2 {
		fault("parts of %d bytes are too large to keep %d bytes: expected at most half of it", c.PartBytes, c.Keep)
	}
	return errors.Join(errs...)
}

const maxName = 64 // bytes

// validName reports whether a name can begin that of a part. "" is the default.
func validName(name string) bool {
	if len(name) > maxName || strings.HasPrefix(name, ".") || strings.TrimSpace(name) != name {
		return false
	}
	for i, c := range name {
		letter := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c > 0x7F
		if !letter && (i == 0 || !strings.ContainsRune(". _-", c)) {
			return false
		}
	}
	return true
}

// withDefaults fills in what was left out.
func (c Config) withDefaults() Config {
	if c.Name == "" {
		c.Name = defaultName
	}
	if c.PartBytes == 0 {
		c.PartBytes = defaultPartBytes
		if c.Keep > 0 {
			c.PartBytes = min(c.PartBytes, max(1, c.Keep/8))
		}
	}
	if c.PartTime == 0 {
		c.PartTime = defaultPartTime
	}
	if c.Sync == 0 {
		c.Sync = defaultSync
	}
	if c.Queue == 0 {
		c.Queue = defaultQueue
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	if c.disk == nil {
		c.disk = realDisk()
	}
	return c
}

// places is how many places there are where a frame can be lost.
const places = int(bus.Recorder) + 1
