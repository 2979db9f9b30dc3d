package report

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strings"

	"plumbline/checks"
	"plumbline/daemon"
)

// JUnit writes results in the subset of JUnit's XML that CI machines agree on:
// a suite per capture, a case per finding. A check that failed is a failure;
// what is required and could not be judged is an error; what is not fitted, or
// not required and not judged, is skipped. Names are unique over all captures,
// because some readers keep only the first of equal names. The text stands in
// the body as well as in the message, because some readers show only one.
func JUnit(w io.Writer, results []daemon.Result) error {
	labels := Labels(results)
	var total Counts
	var body bytes.Buffer
	for i := range results {
		c, err := JUnitSuite(&body, &results[i], labels[i])
		if err != nil {
			return err
		}
		total.Add(c)
	}
	if err := JUnitHead(w, total); err != nil {
		return err
	}
	if _, err := w.Write(body.Bytes()); err != nil {
		return fmt.Errorf("report: JUnit: %w", err)
	}
	return JUnitTail(w, len(results))
}

// Counts are what the root of a JUnit document says of all its suites.
type Counts struct{ Tests, Failures, Errors, Skipped int }

// Add adds those of another suite.
func (c *Counts) Add(o Counts) {
	c.Tests += o.Tests
	c.Failures += o.Failures
	c.Errors += o.Errors
	c.Skipped += o.Skipped
}

// JUnitHead writes what stands before the suites.
func JUnitHead(w io.Writer, c Counts) error {
	_, err := fmt.Fprintf(w, "%s<testsuites name=\"plumbline\" tests=\"%d\" failures=\"%d\" errors=\"%d\" skipped=\"%d\">",
		xml.Header, c.Tests, c.Failures, c.Errors, c.Skipped)
	if err != nil {
		return fmt.Errorf("report: JUnit: %w", err)
	}
	return nil
}

// JUnitSuite writes the suite of one result. label is what [Labels] says of it.
func JUnitSuite(w io.Writer, r *daemon.Result, label string) (Counts, error) {
	s := suiteOf(r, label)
	out, err := xml.MarshalIndent(s, "  ", "  ")
	if err == nil {
		_, err = fmt.Fprintf(w, "\n%s", out)
	}
	if err != nil {
		return Counts{}, fmt.Errorf("report: JUnit: %w", err)
	}
	return Counts{s.Tests, s.Failures, s.Errors, s.Skipped}, nil
}

// JUnitTail writes what stands behind so many suites.
func JUnitTail(w io.Writer, suites int) error {
	end := "\n</testsuites>\n"
	if suites == 0 {
		end = end[1:]
	}
	if _, err := io.WriteString(w, end); err != nil {
		return fmt.Errorf("report: JUnit: %w", err)
	}
	return nil
}

// Labels returns what tells the results of several captures apart in the names of their cases: the name
// of the capture, with a number where it was given before; all empty where there is one result.
func Labels(results []daemon.Result) []string {
	names := make([]string, len(results))
	for i := range results {
		names[i] = captureName(&results[i])
	}
	return LabelsOf(names)
}

// LabelsOf is Labels for who knows only how results will call their captures.
func LabelsOf(names []string) []string {
	labels := make([]string, len(names))
	if len(names) < 2 {
		return labels
	}
	seen := map[string]int{}
	for i, name := range names {
		label := spoken(name)
		for seen[label] > 0 {
			seen[label]++
			label = fmt.Sprintf("%s #%d", label, seen[label])
		}
		seen[label] = 1
		labels[i] = label
	}
	return labels
}

type suite struct {
	XMLName  xml.Name   `xml:"testsuite"`
	Name     string     `xml:"name,attr"`
	Tests    int        `xml:"tests,attr"`
	Failures int        `xml:"failures,attr"`
	Errors   int        `xml:"errors,attr"`
	Skipped  int        `xml:"skipped,attr"`
	Cases    []testcase `xml:"testcase"`
}

type testcase struct {
	Class   string   `xml:"classname,attr"`
	Name    string   `xml:"name,attr"`
	Failure *outcome `xml:"failure"`
	Error   *outcome `xml:"error"`
	Skipped *outcome `xml:"skipped"`
	Output  string   `xml:"system-out,omitempty"`
}

type outcome struct {
	Message string `xml:"message,attr"`
	Type    string `xml:"type,attr,omitempty"`
	Body    string `xml:",innerxml"` // escaped by outcomeOf, with line feeds as they are
}

// suiteOf makes the suite of one result. Its first case is the capture itself:
// an error where it could not be used, with its warnings as output.
func suiteOf(r *daemon.Result, label string) suite {
	file := captureName(r)
	s := suite{Name: file}
	names := map[string]int{}
	add := func(subject, name string, c testcase) {
		c.Class = file + "." + clean(subject)
		if label != "" {
			name += " (" + label + ")"
		}
		c.Name = clean(name)
		names[c.Name]++
		if n := names[c.Name]; n > 1 {
			c.Name += fmt.Sprintf(" #%d", n)
		}
		s.Tests++
		switch {
		case c.Failure != nil:
			s.Failures++
		case c.Error != nil:
			s.Errors++
		case c.Skipped != nil:
			s.Skipped++
		}
		s.Cases = append(s.Cases, c)
	}
	for i := range r.Captures {
		c := &r.Captures[i]
		own := testcase{Output: clean(strings.Join(c.Warnings, "\n"))}
		if c.Unusable != "" {
			own.Error = outcomeOf(clean(c.Unusable), "unusable", clean(c.Unusable))
			own.Output = ""
		}
		add("capture", "capture", own)
	}
	causes := map[string]*daemon.Cause{}
	for i := range r.Causes {
		causes[r.Causes[i].ID] = &r.Causes[i]
	}
	for i := range r.Findings {
		f := &r.Findings[i]
		add(f.Subject, strings.TrimSpace(f.Subject+" "+f.Check+" "+f.Channel), caseOf(f, causes[f.Cause]))
	}
	return s
}

func captureName(r *daemon.Result) string {
	files := make([]string, len(r.Captures))
	for i := range r.Captures {
		files[i] = spoken(r.Captures[i].File)
	}
	return strings.Join(files, ", ")
}

// spoken is how a document calls a capture.
func spoken(file string) string {
	if file == "-" {
		return "standard input"
	}
	return clean(file)
}

func caseOf(f *daemon.Finding, cause *daemon.Cause) testcase {
	message := clean(f.Sentence)
	if message == "" {
		message = f.Verdict.String()
	}
	text := clean(body(f, cause))
	switch c := countsOf(f); {
	case c.Failures > 0:
		return testcase{Failure: outcomeOf(message, clean(f.Check), text)}
	case c.Errors > 0:
		return testcase{Error: outcomeOf(message, "inconclusive", text)}
	case c.Skipped > 0:
		return testcase{Skipped: outcomeOf(message, "", text)}
	}
	return testcase{}
}

// countsOf says as what the case of a finding counts.
func countsOf(f *daemon.Finding) Counts {
	switch {
	case f.Verdict == checks.Fail:
		return Counts{Tests: 1, Failures: 1}
	case f.Verdict == checks.Inconclusive && f.Required:
		return Counts{Tests: 1, Errors: 1}
	case f.Verdict != checks.Pass:
		return Counts{Tests: 1, Skipped: 1}
	}
	return Counts{Tests: 1}
}

// outcomeOf escapes the body itself: the encoder writes line feeds as references,
// which readers show as they stand.
func outcomeOf(message, kind, body string) *outcome {
	for _, c := range [][2]string{{"&", "&amp;"}, {"<", "&lt;"}, {">", "&gt;"}} { // a Replacer would be built anew each time
		body = strings.ReplaceAll(body, c[0], c[1])
	}
	return &outcome{Message: message, Type: kind, Body: body}
}

// body is all that a finding says, a line each.
func body(f *daemon.Finding, cause *daemon.Cause) string {
	lines := []string{f.Sentence, f.Next}
	if f.Value != nil {
		u := readable(f.Unit)
		line := "value " + strings.TrimSpace(quantity(*f.Value, f.Uncertainty, u)+" "+u.name)
		if limit := limitText(f, u); limit != "" {
			line += ", limit " + strings.TrimSpace(limit+" "+u.name)
		}
		lines = append(lines, line)
	}
	if cause != nil {
		lines = append(lines, "cause: "+cause.Sentence, cause.Next)
	}
	kept := lines[:0]
	for _, line := range lines {
		if line != "" {
			kept = append(kept, line)
		}
	}
	return strings.Join(kept, "\n")
}

// clean drops what XML 1.0 cannot carry: control characters beside tab and line
// feed, surrogates and the two non-characters (section 2.2).
func clean(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t', r == '\n':
			return r
		case r < ' ', r >= 0x7f && r < 0xa0, r == 0xfffe, r == 0xffff:
			return -1
		}
		return r
	}, strings.ToValidUTF8(text, "\ufffd"))
}
