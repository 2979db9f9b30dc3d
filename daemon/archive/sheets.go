package archive

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"sync"

	"plumbline/daemon"
	"plumbline/daemon/report"
)

// Format is a way to write results.
type Format string

// The formats of which a piece can be made of each result.
const (
	Text     Format = "text"     // for people, each result whole
	JSON     Format = "json"     // as daemon.Encode
	JUnit    Format = "junit"    // as report.JUnit
	Summary  Format = "summary"  // a table over all, for people
	Markdown Format = "markdown" // the same, as CI machines show it
	Lines    Format = "lines"    // result lines, for merge
)

// Sheet is one place to write results to.
type Sheet struct {
	Format Format
	Style  report.Style // of Text and Summary
	Dir    string       // folder for what has to wait, on the disk that the sheet is on; empty: that of the system
	W      io.Writer
}

// Sheets writes results in the order of the archive to several places, in whatever order they come. Add may be called
// by several goroutines; what it takes is on disk when it returns.
type Sheets struct {
	about  About
	labels []string // of all recordings, where there are several
	sheets []spooled
	pieces sync.Pool // of *bytes.Buffer

	mu   sync.Mutex // guards what follows
	rows []report.Row
	have []bool
	n    int
}

type spooled struct {
	Sheet
	*spool // nil where there are no pieces
}

// NewSheets begins. names are the recordings of the whole archive, as results will call them. Close must be called.
func NewSheets(about *About, names []string, sheets []Sheet) (*Sheets, error) {
	s := &Sheets{about: *about, labels: report.LabelsOf(names), rows: make([]report.Row, len(names)), have: make([]bool, len(names))}
	for _, sheet := range sheets {
		p := spooled{Sheet: sheet}
		if sheet.Format != Summary && sheet.Format != Markdown {
			var err error
			if p.spool, err = newSpool(sheet.Dir, len(names)); err != nil {
				return nil, errors.Join(err, s.Close())
			}
		}
		s.sheets = append(s.sheets, p)
	}
	return s, nil
}

// Close removes what waited.
func (s *Sheets) Close() error {
	var errs []error
	for i := range s.sheets {
		if p := s.sheets[i].spool; p != nil {
			errs = append(errs, p.close())
		}
	}
	return errors.Join(errs...)
}

// Add takes the result of the recording at an index of the archive.
func (s *Sheets) Add(index int, r *daemon.Result) error {
	row := report.RowOf(r)
	s.mu.Lock()
	switch {
	case index < 0 || index >= len(s.rows):
		s.mu.Unlock()
		return fmt.Errorf("archive: there is no recording number %d of %d", index+1, len(s.rows))
	case s.have[index]:
		s.mu.Unlock()
		return fmt.Errorf("archive: recording number %d, %s, was judged twice", index+1, row.File)
	}
	s.rows[index], s.have[index] = row, true
	s.n++
	s.mu.Unlock()
	piece, _ := s.pieces.Get().(*bytes.Buffer)
	if piece == nil {
		piece = &bytes.Buffer{}
	}
	defer s.pieces.Put(piece)
	for i := range s.sheets {
		sheet := &s.sheets[i]
		if sheet.spool == nil {
			continue
		}
		piece.Reset()
		if err := s.piece(piece, sheet, index, r); err != nil {
			return err
		}
		if err := sheet.put(index, piece.Bytes()); err != nil {
			return err
		}
	}
	return nil
}

// piece makes what a sheet says of one result.
func (s *Sheets) piece(w *bytes.Buffer, sheet *spooled, index int, r *daemon.Result) error {
	switch sheet.Format {
	case Text:
		return report.TextItem(w, r, true, sheet.Style)
	case JSON:
		if len(s.rows) == 1 {
			return daemon.Encode(w, []daemon.Result{*r})
		}
		return daemon.EncodeItem(w, r)
	case JUnit:
		_, err := report.JUnitSuite(w, r, s.labels[index])
		return err
	case Lines:
		return writeLine(w, index, r)
	case Summary, Markdown:
	}
	return nil
}

// Rows returns a row for each result that came, in the order of the archive.
func (s *Sheets) Rows() []report.Row {
	s.mu.Lock()
	defer s.mu.Unlock()
	rows := make([]report.Row, 0, s.n)
	for i := range s.rows {
		if s.have[i] {
			rows = append(rows, s.rows[i])
		}
	}
	return rows
}

// Missing returns the indexes of which no result came.
func (s *Sheets) Missing() []int {
	s.mu.Lock()
	defer s.mu.Unlock()
	var missing []int
	for i := range s.have {
		if !s.have[i] {
			missing = append(missing, i)
		}
	}
	return missing
}

// Write writes all sheets. It is called once, when all results have come.
func (s *Sheets) Write() error {
	rows := s.Rows()
	for i := range s.sheets {
		if err := s.write(&s.sheets[i], rows); err != nil {
			return err
		}
	}
	return nil
}

func (s *Sheets) write(sheet *spooled, rows []report.Row) error {
	w := sheet.W
	switch sheet.Format {
	case Summary:
		return report.Summary(w, rows, sheet.Style)
	case Markdown:
		return report.SummaryMarkdown(w, rows)
	case Text:
		if err := s.inOrder(w, sheet, "\n"); err != nil {
			return err
		}
		return report.TextTail(w, rows, sheet.Style)
	case JUnit:
		var total report.Counts
		for i := range rows {
			total.Add(rows[i].Counts)
		}
		if err := report.JUnitHead(w, total); err != nil {
			return err
		}
		if err := s.inOrder(w, sheet, ""); err != nil {
			return err
		}
		return report.JUnitTail(w, len(rows))
	case Lines:
		if err := writeHead(w, &s.about); err != nil {
			return err
		}
		if err := s.inOrder(w, sheet, ""); err != nil {
			return err
		}
		return writeEnd(w, len(rows))
	case JSON:
	}
	if len(s.rows) == 1 || len(rows) == 0 {
		if len(rows) == 0 {
			return daemon.Encode(w, []daemon.Result{})
		}
		return s.inOrder(w, sheet, "")
	}
	if _, err := io.WriteString(w, "[\n  "); err != nil {
		return err
	}
	if err := s.inOrder(w, sheet, ",\n  "); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n]\n")
	return err
}

// inOrder writes what waited, in order, with something between two.
func (s *Sheets) inOrder(w io.Writer, sheet *spooled, between string) error {
	first := true
	for i := range s.rows {
		if !sheet.has(i) {
			continue
		}
		if !first {
			if _, err := io.WriteString(w, between); err != nil {
				return err
			}
		}
		first = false
		if err := sheet.copy(w, i); err != nil {
			return err
		}
	}
	return nil
}
