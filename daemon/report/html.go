package report

import (
	"bytes"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"io"
	"strings"
	"time"

	"plumbline/daemon"
)

//go:embed templates
var templates embed.FS

// HTML writes a report as one HTML file that needs nothing beside it: no script
// runs, no address is asked. It prints to A4 and Letter; number of the page,
// report and hashes stand on each page in a browser that knows page margin boxes
// (Chromium 131 and later). The same document gives the same bytes.
func HTML(w io.Writer, doc Document) error {
	v, err := newView(&doc)
	if err != nil {
		return err
	}
	t, err := template.New("report").Funcs(funcs()).ParseFS(templates, "templates/*")
	if err != nil {
		return fmt.Errorf("report: %w", err)
	}
	var out bytes.Buffer // so that half a report is never written
	if err := t.ExecuteTemplate(&out, "report.tmpl", v); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	if _, err := out.WriteTo(w); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// view is a document as the template shows it: every number is text by now.
type view struct {
	W        catalogue
	Doc      *Document
	ID       string
	Program  string
	Subtitle string // what was tested, and when
	Pages    pages
	Fields   []pair // identification; an empty text is a line to fill in
	Files    []fileRow
	Corners  []cornerRow
	Tests    []testView
	JSON     template.JS // escaped by package json: no < and no > in it
}

type pair struct{ Name, Text string }

// funcs bring what a part of the template needs into one value.
func funcs() template.FuncMap {
	type picture struct {
		W catalogue
		P any
	}
	return template.FuncMap{
		"plane":      func(w catalogue, p *planePlot) picture { return picture{w, p} },
		"zero":       func(w catalogue, p *zeroPlot) picture { return picture{w, p} },
		"components": func(w catalogue, p *componentPlot) picture { return picture{w, p} },
		"findings": func(w catalogue, s any) (any, error) {
			type table struct {
				W       catalogue
				Subject subjectView
			}
			switch s := s.(type) {
			case subjectView:
				return table{w, s}, nil
			case cornerView:
				return table{w, s.subjectView}, nil
			}
			return nil, fmt.Errorf("no subject: %T", s)
		},
		"points": func(verdict string, points []pointView) any {
			return struct {
				Verdict string
				Points  []pointView
			}{verdict, points}
		},
	}
}

func newView(doc *Document) (*view, error) {
	if len(doc.Tests) == 0 {
		return nil, errors.New("report: a document without a test: give the result of one at least")
	}
	v := &view{
		W: catalogueOf(doc.Language), Doc: doc, ID: printable(doc.ID), Program: printable(doc.Program),
	}
	var err error
	if v.ID == "" {
		if v.ID, err = Identify(doc.Tests); err != nil {
			return nil, err
		}
	}
	if v.Program == "" {
		v.Program = printable(doc.Tests[0].Result.Program)
	}
	results := make([]*daemon.Result, len(doc.Tests))
	for i := range doc.Tests {
		results[i] = &doc.Tests[i].Result
	}
	var embedded any = results
	if len(results) == 1 {
		embedded = results[0] // one is an object, several are an array, as daemon.Encode has it
	}
	text, err := json.Marshal(embedded)
	if err != nil {
		return nil, fmt.Errorf("report: the result as JSON: %w", err)
	}
	v.JSON = template.JS(text)
	v.files()
	v.fields()
	v.feet()
	v.corners()
	for i := range doc.Tests {
		v.Tests = append(v.Tests, v.test(i))
	}
	return v, nil
}

// fields fills the identification, in the order of ISO/IEC 17025, 7.8.2.1.
func (v *view) fields() {
	d, w := v.Doc, &v.W
	for _, text := range []string{d.Tests[0].Result.Setup.Vehicle, v.tested(), v.W.Report + " " + v.ID} {
		if text != "" {
			v.Subtitle += " · " + printable(text)
		}
	}
	v.Subtitle = strings.TrimPrefix(v.Subtitle, " · ")
	add := func(name, text string) { v.Fields = append(v.Fields, pair{name, printable(text)}) }
	add(w.Number, v.ID)
	if d.Amends != "" {
		add(w.Amends, d.Amends)
	}
	add(w.Vehicle, d.Tests[0].Result.Setup.Vehicle)
	add(w.Item, d.Item)
	add(w.Tested, v.tested())
	add(w.Issued, v.date(d.Issued))
	add(w.Laboratory, d.Laboratory)
	add(w.Place, d.Place)
	add(w.Customer, d.Customer)
	add(w.Performed, d.Performed)
	add(w.Authorised, d.Authorised)
	add(w.Conditions, d.Conditions)
	add(w.Method, w.MethodText)
	add(w.Program, v.Program)
}

// tested is the time from the first frame of all to the last.
func (v *view) tested() string {
	var first, last daemon.Instant
	for i := range v.Doc.Tests {
		for _, c := range v.Doc.Tests[i].Result.Captures {
			if c.First != 0 && (first == 0 || c.First < first) {
				first = c.First
			}
			last = max(last, c.Last)
		}
	}
	if first == 0 {
		return ""
	}
	from, to := time.Unix(0, int64(first)).UTC(), time.Unix(0, int64(last)).UTC()
	end := to.Format(time.DateTime)
	if from.Format(time.DateOnly) == to.Format(time.DateOnly) {
		end = to.Format(time.TimeOnly)
	}
	return from.Format(time.DateTime) + " – " + end + " " + v.W.UTC
}

// date writes a time to the second; empty where it is not known.
func (v *view) date(t daemon.Instant) string {
	if t == 0 {
		return ""
	}
	return time.Unix(0, int64(t)).UTC().Format(time.DateTime) + " " + v.W.UTC
}
