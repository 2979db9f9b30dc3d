package main

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// measuredHead begins what differs from run to run, and is not compared.
const measuredHead = "## What came of it"

// faultsFile is the document.
func faultsFile() string { return filepath.Join("..", "..", "daemon", "FAULTS.md") }

// documentFaults writes the table with -update, and else holds the part of it that is the same each time against
// the document, and the rows of the other.
func documentFaults(t *testing.T, outcomes map[string]*outcome) {
	t.Helper()
	rows := append(faults(), guestFaults()...)
	head := faultsHead(rows)
	if *update {
		for _, f := range rows {
			if outcomes[f.name] == nil {
				t.Fatalf("%q did not run: the document holds what came of all rows", f.name)
			}
		}
		if err := os.WriteFile(faultsFile(), []byte(head+faultsMeasured(rows, outcomes)), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	text, err := os.ReadFile(faultsFile())
	if err != nil {
		t.Fatalf("%v (go test -update writes it)", err)
	}
	got, measured, _ := strings.Cut(string(text), measuredHead)
	if diff := cmp.Diff(got, head); diff != "" {
		t.Errorf("daemon/FAULTS.md is another than the table; got before want:\n%s", diff)
	}
	var names, want []string
	for _, m := range regexp.MustCompile(`(?m)^\| ([^|]+?) \| [0-9]`).FindAllStringSubmatch(measured, -1) {
		names = append(names, m[1])
	}
	for _, f := range rows {
		want = append(want, f.name)
	}
	if diff := cmp.Diff(names, want); diff != "" {
		t.Errorf("daemon/FAULTS.md tells of other rows; got before want:\n%s", diff)
	}
}

func faultsHead(rows []fault) string {
	var b strings.Builder
	b.WriteString(`# Faults

Made of the table in ` + "`cmd/plumbline/faults_*_linux_test.go`" + ` by ` + "`go test ./cmd/plumbline -run TestFaults -parallel 8 -update`" + `, as root; do not edit.

Each row runs the real program, ` + "`plumbline run`" + `, on a vehicle at rest whose wheels are heard over pseudo-terminals that stand for serial adapters, or over CAN
interfaces of a kernel of its own, while page, result and metrics are looked at some six times a second. The fault is made when all is well. Of every row this holds:

* frames sent = frames recorded + frames counted as lost, and lost they are only where the row says;
* what is recorded was sent, in that order, each frame once; nothing from before the fault is missing;
* at no moment did page or metrics show as good what was not heard: not ` + "`alive`" + `, not the wheel, not the vehicle, and no check passed without a sample;
* what the row says was said;
* all is well again: every source and every wheel is heard, nothing fails now, and it is recorded. That a message stayed away is remembered by ` + "`alive`" + ` and does not count here.

Limits are the defaults, but for how long a message may stay away (2 s) and how many may be lost, since a test machine has other things to do.

| fault | how it is made | what is said | where frames are lost | |
| --- | --- | --- | --- | --- |
`)
	for i := range rows {
		f := &rows[i]
		var says []string
		for _, s := range f.says {
			says = append(says, fmt.Sprintf("%s: `%s`", s.where, s.words))
		}
		if len(says) == 0 {
			says = []string{"nothing: nobody needs to do anything"}
		}
		lost := f.losses()
		switch {
		case f.losesLine:
			lost = "on the line, which the computer cannot count"
		case f.uncounted:
			lost = "with the program"
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s | %s |\n", f.name, f.how, strings.Join(says, "; "), lost, f.note)
	}
	b.WriteString("\n")
	return b.String()
}

func faultsMeasured(rows []fault, outcomes map[string]*outcome) string {
	var b strings.Builder
	fmt.Fprintf(&b, `%s

As measured on %s; no test goes by these figures. *Recorded* and *lost* are frames, *said* is how long after the fault began the last of what had to be said was
said, *well* how long after its end all was well again: what was lost counts as failing for 10 s. *Held back* is the longest that a terminal held back who writes, since the
program did not read: a serial line cannot be held back, and loses what its buffers do not take. The rows in a kernel of their own run some ten times slower than
on a computer. *Not taken* never reached the computer.

| fault | sent | recorded | lost, counted | lost, not counted | not taken | held back, s | stood for | said, s | well, s |
| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |
`, measuredHead, time.Now().UTC().Format("2006-01-02"))
	for i := range rows {
		o := outcomes[rows[i].name]
		var lost []string
		for _, place := range slices.Sorted(maps.Keys(o.Lost)) {
			if o.Lost[place] > 0 {
				lost = append(lost, fmt.Sprintf("%d (%s)", o.Lost[place], place))
			}
		}
		if len(lost) == 0 {
			lost = []string{"0"}
		}
		said := 0.0
		for _, s := range o.Said {
			said = max(said, s)
		}
		saidText := "–"
		if len(o.Said) > 0 {
			saidText = fmt.Sprintf("%.1f", said)
		}
		fmt.Fprintf(&b, "| %s | %d | %d | %s | %d | %d | %.1f | %.1f s | %s | %.1f |\n",
			o.Name, o.Sent, o.Recorded, strings.Join(lost, ", "), o.Uncounted, o.Missed, o.HeldS, o.StoodS, saidText, o.WellS)
	}
	return b.String()
}
