package report

import (
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
	root := suites{Name: "plumbline"}
	names := map[string]int{}
	for i := range results {
		s := suiteOf(&results[i], len(results) > 1, names)
		root.Tests += s.Tests
		root.Failures += s.Failures
		root.Errors += s.Errors
		root.Skipped += s.Skipped
		root.Suites = append(root.Suites, s)
	}
	out, err := xml.MarshalIndent(root, "", "  ")
	if err != nil {
		return fmt.Errorf("report: JUnit: %w", err)
	}
	if _, err := fmt.Fprintf(w, "%s%s\n", xml.Header, out); err != nil {
		return fmt.Errorf("report: JUnit: %w", err)
	}
	return nil
}

type suites struct {
	XMLName  xml.Name `xml:"testsuites"`
	Name     string   `xml:"name,attr"`
	Tests    int      `xml:"tests,attr"`
	Failures int      `xml:"failures,attr"`
	Errors   int      `xml:"errors,attr"`
	Skipped  int      `xml:"skipped,attr"`
	Suites   []suite  `xml:"testsuite"`
}

type suite struct {
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
func suiteOf(r *daemon.Result, several bool, names map[string]int) suite {
	file := captureName(r)
	s := suite{Name: file}
	add := func(subject, name string, c testcase) {
		c.Class = file + "." + clean(subject)
		if several {
			name += " (" + file + ")"
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
		files[i] = r.Captures[i].File
		if files[i] == "-" {
			files[i] = "standard input"
		}
	}
	return clean(strings.Join(files, ", "))
}

func caseOf(f *daemon.Finding, cause *daemon.Cause) testcase {
	message := clean(f.Sentence)
	if message == "" {
		message = f.Verdict.String()
	}
	text := clean(body(f, cause))
	switch {
	case f.Verdict == checks.Fail:
		return testcase{Failure: outcomeOf(message, clean(f.Check), text)}
	case f.Verdict == checks.Inconclusive && f.Required:
		return testcase{Error: outcomeOf(message, "inconclusive", text)}
	case f.Verdict != checks.Pass:
		return testcase{Skipped: outcomeOf(message, "", text)}
	}
	return testcase{}
}

// outcomeOf escapes the body itself: the encoder writes line feeds as references,
// which readers show as they stand.
func outcomeOf(message, kind, body string) *outcome {
	body = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;").Replace(body)
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
