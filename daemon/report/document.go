package report

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// Language is the language of the frame of a report. What a check says, and the
// names of checks and quantities, are an interface and stay English.
type Language string

// The languages.
const (
	English Language = "en" // the default
	German  Language = "de" // with a decimal comma
)

// Document is all that a report says. A text that is empty is left as a line to be
// filled in by hand; a time that is 0 is too. Nothing in it is trusted: names may
// hold anything.
type Document struct {
	Language Language // empty: English
	ID       string   // on every page; empty: Identify of the tests
	Program  string   // name and version of what writes the report; empty: that of the first result

	Laboratory string         // who answers for the test, with address
	Place      string         // where it was done
	Customer   string         // for whom, with a way to reach them
	Item       string         // the vehicle beyond its name: number, mileage, condition
	Conditions string         // ambient ones that can matter
	Performed  string         // who did it
	Authorised string         // who answers for the report
	Issued     daemon.Instant // when the report was made
	Amends     string         // id of an earlier report that this one replaces; empty: none

	Setup *setup.Setup // what the results were judged by; nil: no corners, no plots
	Tests []Test       // at least one
}

// Test is one function test.
type Test struct {
	Result     daemon.Result
	Now        *checks.Now // what the sensors showed at the end, by the indexes of the setup; nil: no plot of the force
	Recordings []File      // what was judged
	Given      []Given     // confirmations that were given
	Deviations []Deviation
}

// File is a file and what it held.
type File struct {
	Name   string
	SHA256 string // hexadecimal; empty: not known, as of standard input
}

// Given is a confirmation that a person gave. One that Confirmations of the result
// does not name is shown all the same.
type Given struct {
	ID       string
	Value    *float64 // in the unit of the confirmation; nil: none was read off
	Initials string
	At       daemon.Instant
}

// Deviation is a step that a person recorded as not possible.
type Deviation struct {
	Step     string
	Reason   string
	Initials string
	At       daemon.Instant
}

// Identify returns an id made of what was judged and of what was found: the same
// tests have the same one, in whatever language and whenever they are printed. It
// begins with the time of the first frame, so that ids sort.
func Identify(tests []Test) (string, error) {
	sum := sha256.New()
	start := daemon.Instant(0)
	for i := range tests {
		t := &tests[i]
		for _, part := range []any{&t.Result, t.Recordings, t.Given, t.Deviations} {
			text, err := json.Marshal(part)
			if err != nil {
				return "", fmt.Errorf("report: id: %w", err)
			}
			sum.Write(text)
		}
		for j := range t.Result.Captures {
			if start == 0 {
				start = t.Result.Captures[j].First
			}
		}
	}
	id := strings.ToUpper(hex.EncodeToString(sum.Sum(nil)[:5]))
	if start != 0 {
		id = time.Unix(0, int64(start)).UTC().Format("20060102-150405-") + id
	}
	return "PL-" + id, nil
}
