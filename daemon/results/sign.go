package results

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"path"
	"path/filepath"
	"strings"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/report"
)

// Signing is a test and what a person says of it.
type Signing struct {
	Test       *daemon.Frozen
	Form       daemon.Form
	Deviations []daemon.Deviation // steps gone on without and steps left open, as the report lists them
	Signed     daemon.Instant
	Program    string // name and version of what writes the report
	Language   report.Language
	Amends     string // id of the report that this one replaces; empty: none
}

// Sign writes a test into a folder of its own and returns what lists show of it. After an error there
// is no such folder, and everything that was there is as it was; it can be tried again. Where the same
// test was signed before in the same words, the error is fs.ErrExist.
func (s *Store) Sign(ctx context.Context, g *Signing) (Entry, error) {
	s.writing.Lock()
	defer s.writing.Unlock()
	r := g.Test.Result
	r.Deviations = g.Deviations
	if len(r.Deviations) == 0 {
		r.Deviations = nil
	}
	e := entryOf(&r, g)
	// the id needs the hashes of the recording, which are known when it is in the folder
	f, err := s.begin(nameOf(e.Began, e.Vehicle, ""))
	if err != nil {
		return Entry{}, wrapped(e.Vehicle, err)
	}
	err = s.fill(ctx, f, &e, &r, g)
	if err == nil {
		err = f.commit(e.Name)
	}
	if err != nil {
		return Entry{}, wrapped(filepath.Join(s.dir, nameOf(e.Began, e.Vehicle, e.Report)), errors.Join(err, f.discard()))
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.known[e.Name] = e
	return e, nil
}

// fill writes all files of a test and completes what lists show of it.
func (s *Store) fill(ctx context.Context, f *folder, e *Entry, r *daemon.Result, g *Signing) error {
	t := report.Test{Result: *r, Now: &g.Test.Now, Given: given(r), Deviations: deviations(r)}
	for _, part := range g.Test.Parts {
		name := path.Join(recordingDir, filepath.Base(part))
		sum, err := f.take(ctx, name, part)
		if err != nil {
			return err
		}
		t.Recordings = append(t.Recordings, report.File{Name: name, SHA256: sum})
	}
	for _, file := range setupFiles(g.Test.Setup) {
		if err := f.write(file.name, file.text); err != nil {
			return err
		}
	}
	doc := report.Document{
		Language: g.Language, Program: g.Program, Setup: g.Test.Setup, Tests: []report.Test{t},
		Laboratory: g.Form.Laboratory, Place: g.Form.Place, Customer: g.Form.Customer, Item: g.Form.Item, Conditions: g.Form.Conditions,
		Performed: signature(&g.Form), Authorised: g.Form.Authorised, Issued: g.Signed, Amends: g.Amends,
	}
	var err error
	if doc.ID, err = report.Identify(doc.Tests); err != nil {
		return err
	}
	e.Report, e.Name = doc.ID, nameOf(e.Began, e.Vehicle, doc.ID)
	var result, page bytes.Buffer
	if err := daemon.Encode(&result, []daemon.Result{*r}); err != nil {
		return err
	}
	if err := report.HTML(&page, doc); err != nil {
		return err
	}
	sign, err := json.MarshalIndent(e, "", "  ")
	if err != nil {
		return err
	}
	for _, file := range []text{{resultFile, result.Bytes()}, {reportFile, page.Bytes()}, {signFile, append(sign, '\n')}} {
		if err := f.write(file.name, file.text); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// signature is who performed a test, as the report names them.
func signature(f *daemon.Form) string {
	if f.Initials == "" {
		return f.Performed
	}
	return strings.TrimSpace(f.Performed + " (" + f.Initials + ")")
}

// given lists what persons have confirmed, also out of range: the report shows that.
func given(r *daemon.Result) []report.Given {
	var out []report.Given
	for i := range r.Confirmations {
		c := &r.Confirmations[i]
		if c.State == daemon.StateConfirmed || c.Value != nil {
			out = append(out, report.Given{ID: c.ID, Value: c.Value, Initials: c.Initials, At: c.At})
		}
	}
	return out
}

// deviations lists what was gone on without: steps, and confirmations that were not possible.
func deviations(r *daemon.Result) []report.Deviation {
	var out []report.Deviation
	for _, d := range r.Deviations {
		if d.Text == "" {
			d.Text = d.Step
		}
		out = append(out, report.Deviation{Step: d.Text, Reason: d.Reason, Initials: d.Initials, At: d.At})
	}
	for i := range r.Confirmations {
		if c := &r.Confirmations[i]; c.State == daemon.StateNotPossible {
			out = append(out, report.Deviation{Step: c.Text, Reason: c.Reason, Initials: c.Initials, At: c.At})
		}
	}
	return out
}

// entryOf is what lists show of a test, but for the name and the report.
func entryOf(r *daemon.Result, g *Signing) Entry {
	e := Entry{
		Schema: 1, Vehicle: r.Setup.Vehicle, Verdict: r.Verdict, Signed: g.Signed, Form: g.Form, Amends: g.Amends,
		Program: g.Program, Open: len(r.Open), Deviations: len(deviations(r)), Parts: len(g.Test.Parts),
	}
	e.Began, e.Ended = beganAt(r, g.Signed)
	for i := range r.Findings {
		if r.Findings[i].Verdict == checks.Fail {
			e.Failed++
		}
	}
	for i := range r.Confirmations {
		if r.Confirmations[i].State != daemon.StateConfirmed {
			e.Unconfirmed++
		}
	}
	return e
}
