package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
)

// way is how the source that a word names is heard.
type way int

const (
	wayCapture way = iota
	wayCAN
	waySerial
)

// String names the way in messages.
func (w way) String() string {
	switch w {
	case wayCAN:
		return "a CAN interface"
	case waySerial:
		return "a serial device"
	case wayCapture:
	}
	return "a recording"
}

const (
	netFolder = "/sys/class/net" // of Linux, a folder for each interface
	typeCAN   = "280"            // ARPHRD_CAN of linux/if_arp.h

	longestInterface = 15 // IFNAMSIZ of linux/if.h less its closing NUL
)

// usualCAN are the names that Linux and its users give to CAN interfaces. They are
// taken for one that will be plugged in.
var usualCAN = regexp.MustCompile(`^(can|vcan|vxcan|slcan)[0-9]+$`)

// wayOf says what a word means. A file is what it is; a word without a file is an
// interface that exists or is named as CAN interfaces are, or a device that is not there yet.
func wayOf(name string) (way, error) {
	if name == "-" {
		return wayCapture, nil
	}
	info, err := os.Stat(name)
	switch {
	case err == nil && info.Mode()&fs.ModeCharDevice != 0 && !standardInput(name):
		return waySerial, nil
	case err == nil:
		return wayCapture, nil
	case strings.HasPrefix(name, "/dev/") && !standardInput(name), runtime.GOOS == "windows" && strings.HasPrefix(strings.ToUpper(name), "COM"):
		return waySerial, nil
	case !errors.Is(err, fs.ErrNotExist) || name == "" || len(name) > longestInterface || strings.ContainsAny(name, "/. \t"):
		return wayCapture, nil // opening it says why not
	}
	kind, err := os.ReadFile(filepath.Join(netFolder, name, "type"))
	switch {
	case err == nil && strings.TrimSpace(string(kind)) != typeCAN:
		return wayCapture, fmt.Errorf("%s is a network interface, but no CAN interface, and there is no file of this name: `ip -details link` shows which are", name)
	case err == nil || usualCAN.MatchString(name):
		return wayCAN, nil
	}
	return wayCapture, fmt.Errorf("%s: there is neither a file nor a CAN interface of this name: "+
		"name a recording, an interface as `ip link` shows it (can0), or a serial device (/dev/ttyUSB0)", name)
}

// standardInput reports whether a device stands for what a shell hands in.
func standardInput(name string) bool {
	return name == "/dev/stdin" || name == os.DevNull || strings.HasPrefix(name, "/dev/fd/")
}
