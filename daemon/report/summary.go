package report

import (
	"fmt"
	"io"
	"strings"

	"plumbline/checks"
	"plumbline/daemon"
)

// Row is what the table over several results says of one. It is small, so that ten thousand can be kept.
type Row struct {
	File     string
	Verdict  checks.Verdict
	Unusable string   // why it could not be judged, or not to its end
	Failed   []string // checks that failed, each once with what it failed of, causes first
	Failures int      // findings that failed
	Open     int      // findings that are required and not yet judged
	Counts   Counts   // of its suite in a JUnit document
}

// mostFailed is how many names a row carries: who wants all reads the result.
const mostFailed = 4

// RowOf returns the row of a result.
func RowOf(r *daemon.Result) Row {
	row := Row{Verdict: r.Verdict, Open: len(r.Open)}
	var files []string
	for i := range r.Captures {
		c := &r.Captures[i]
		files = append(files, c.File)
		row.Counts.Tests++
		if c.Unusable != "" {
			row.Unusable = c.Unusable
			row.Counts.Errors++
		}
	}
	row.File = strings.Join(files, ", ")
	seen := map[string]bool{}
	name := func(text string) {
		if !seen[text] {
			seen[text] = true
			row.Failed = append(row.Failed, text)
		}
	}
	for i := range r.Causes {
		name(strings.Replace(r.Causes[i].ID, ":", " ", 1)) // harness-exchanged FL,FR
	}
	for i := range r.Findings {
		f := &r.Findings[i]
		row.Counts.Add(countsOf(f))
		if f.Verdict != checks.Fail {
			continue
		}
		row.Failures++
		if f.Cause == "" {
			name(f.Check + " " + f.Subject)
		}
	}
	if n := len(row.Failed); n > mostFailed {
		row.Failed = append(row.Failed[:mostFailed:mostFailed], fmt.Sprintf("and %d more", n-mostFailed))
	}
	return row
}

// said is what a row says beside verdict and file.
func (r *Row) said() string {
	var parts []string
	if r.Failures > 0 {
		parts = append(parts, fmt.Sprintf("%d failed: %s", r.Failures, strings.Join(r.Failed, ", ")))
	}
	switch {
	case r.Unusable != "":
		parts = append(parts, "unusable: "+r.Unusable)
	case r.Open > 0 && r.Verdict != checks.Fail:
		parts = append(parts, fmt.Sprintf("%d still open", r.Open))
	}
	return printable(strings.Join(parts, "; "))
}

// Summary writes the table over several results: verdict, file and, where there is something to say, what
// failed or why a file could not be used; then how many there are of each.
func Summary(w io.Writer, rows []Row, style Style) error {
	var out strings.Builder
	out.WriteString(style.bold("Captures") + "\n")
	for i := range rows {
		r := &rows[i]
		out.WriteString("  " + style.paint(style.plain(sign(r.Verdict)), r.Verdict) + "  " + printable(r.File) + "\n")
		if said := r.said(); said != "" {
			blanks(&out, 10)
			wrap(&out, style.plain(said), 10, style.width())
		}
	}
	out.WriteString("\n" + style.plain(tally(rows)) + "\n")
	if _, err := io.WriteString(w, out.String()); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// tally counts the rows by what became of them.
func tally(rows []Row) string {
	var pass, fail, open, unusable int
	for i := range rows {
		switch r := &rows[i]; {
		case r.Verdict == checks.Fail:
			fail++
		case r.Unusable != "":
			unusable++
		case r.Verdict == checks.Pass:
			pass++
		default:
			open++
		}
	}
	return fmt.Sprintf("%d captures: %d passed, %d failed, %d still open, %d unusable", len(rows), pass, fail, open, unusable)
}

// SummaryMarkdown writes the same as a table in Markdown, as CI machines show it beside a job.
func SummaryMarkdown(w io.Writer, rows []Row) error {
	var out strings.Builder
	out.WriteString(tally(rows) + "\n\n| verdict | capture | |\n| --- | --- | --- |\n")
	for i := range rows {
		r := &rows[i]
		fmt.Fprintf(&out, "| %s | %s | %s |\n", sign(r.Verdict), inMarkdown(printable(r.File)), inMarkdown(r.said()))
	}
	if _, err := io.WriteString(w, out.String()); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// inMarkdown keeps text from outside text.
func inMarkdown(text string) string {
	var out strings.Builder
	for _, r := range text {
		switch r {
		case '&':
			out.WriteString("&amp;")
			continue
		case '<':
			out.WriteString("&lt;")
			continue
		case '|', '\\', '`', '*', '_', '[', ']', '#', '!', '~':
			out.WriteByte('\\')
		}
		out.WriteRune(r)
	}
	return out.String()
}
