package report

import (
	"bytes"
	"strings"
	"testing"

	"plumbline/daemon"
)

// TestRow: what a row counts is what the suite of the result holds, and what it names is what failed.
func TestRow(t *testing.T) {
	for _, r := range []daemon.Result{good(), faulty(), unusable(), wide()} {
		row := RowOf(&r)
		var out bytes.Buffer
		suite, err := JUnitSuite(&out, &r, "")
		if err != nil {
			t.Fatal(err)
		}
		if row.Counts != suite {
			t.Errorf("%s: counts: got %+v, the suite has %+v", row.File, row.Counts, suite)
		}
	}
	r := faulty()
	row := RowOf(&r)
	if row.Failures != 4 || len(row.Failed) == 0 || len(row.Failed) > mostFailed+1 {
		t.Errorf("got %d failures, %q", row.Failures, row.Failed)
	}
	if r.Causes[0].ID == "" || !strings.HasPrefix(row.Failed[0], strings.Replace(r.Causes[0].ID, ":", " ", 1)) {
		t.Errorf("the cause %q is not first: %q", r.Causes[0].ID, row.Failed)
	}
}

// TestSummaryOfHostileNames: what comes from a file steers neither a terminal nor a page.
func TestSummaryOfHostileNames(t *testing.T) {
	rows := []Row{{File: "a\x1b[2J\n|<b>&`x`.log", Unusable: "[x](http://example.org)\x07"}}
	var text, table bytes.Buffer
	if err := Summary(&text, rows, Style{}); err != nil {
		t.Fatal(err)
	}
	if err := SummaryMarkdown(&table, rows); err != nil {
		t.Fatal(err)
	}
	if strings.ContainsAny(text.String()+table.String(), "\x1b\x07") {
		t.Errorf("control characters in %q and %q", text.String(), table.String())
	}
	last := table.String()[strings.LastIndex(strings.TrimSpace(table.String()), "\n")+1:]
	want := `| … open | a \[2J \|&lt;b>&amp;\` + "`x" + `\` + "`" + `.log | unusable: \[x\](http://example.org)  |` + "\n"
	if last != want {
		t.Errorf("got %q, want %q", last, want)
	}
}
