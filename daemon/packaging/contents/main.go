package main

import (
	"bufio"
	"crypto/sha256"
	"debug/buildinfo"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"time"
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

func run(args []string, stdout, stderr io.Writer) int {
	out := bufio.NewWriter(stdout)
	err := errors.New("expected spdx PROGRAM, or notices and one PROGRAM or more")
	switch {
	case len(args) == 2 && args[0] == "spdx":
		err = spdx(out, args[1])
	case len(args) >= 2 && args[0] == "notices":
		err = notices(out, args[1:])
	}
	if err = errors.Join(err, out.Flush()); err != nil {
		fmt.Fprintln(stderr, "contents:", err)
		return 1
	}
	return 0
}

// program is what a file says of itself.
type program struct {
	name    string // of the file
	sha256  string // of the file, hex
	version string
	parts   []part // the Go standard library first, then modules by path
}

// read reads a program and looks up the licences of its parts.
func read(file string) (program, error) {
	info, err := buildinfo.ReadFile(file)
	if err != nil {
		return program{}, err
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return program{}, err
	}
	sum := sha256.Sum256(text)
	parts, err := partsOf(info)
	return program{name: filepath.Base(file), sha256: hex.EncodeToString(sum[:]), version: info.Main.Version, parts: parts}, err
}

// built is the one time in what is written.
func built() (time.Time, error) {
	s, err := strconv.ParseInt(os.Getenv("SOURCE_DATE_EPOCH"), 10, 64)
	if err != nil {
		return time.Time{}, errors.New("SOURCE_DATE_EPOCH is not set: write the seconds of the commit, git log -1 --format=%ct")
	}
	return time.Unix(s, 0).UTC(), nil
}

func spdx(w io.Writer, file string) error {
	p, err := read(file)
	if err != nil {
		return err
	}
	at, err := built()
	if err != nil {
		return err
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(newDocument(&p, at))
}
