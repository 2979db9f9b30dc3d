package report

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"plumbline/checks"
)

// field is one field of a table.
type field struct {
	text  string
	state *checks.Verdict // colours the field; nil: none
}

// table lays out rows of fields under a heading, two blanks between columns.
type table struct {
	indent int
	right  []bool // columns that are set to the right
	rows   [][]field
}

func (t *table) add(row ...field) { t.rows = append(t.rows, row) }

func words(texts ...string) []field {
	row := make([]field, len(texts))
	for i, text := range texts {
		row[i].text = text
	}
	return row
}

// widths returns the width of each column.
func (t *table) widths(style Style) []int {
	var widths []int
	for _, row := range t.rows {
		for i := range row {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(style.plain(row[i].text)))
		}
	}
	return widths
}

// write lays the table out; lines carry no blanks at their end.
func (t *table) write(out *strings.Builder, style Style) {
	widths := t.widths(style)
	for _, row := range t.rows {
		last := len(row) - 1
		for last > 0 && row[last].text == "" {
			last--
		}
		if row[last].text == "" {
			out.WriteByte('\n')
			continue
		}
		blanks(out, t.indent)
		for i := 0; i <= last; i++ {
			text := style.plain(row[i].text)
			pad := widths[i] - utf8.RuneCountInString(text)
			if row[i].state != nil {
				text = style.paint(text, *row[i].state)
			}
			right := i < len(t.right) && t.right[i]
			if right {
				blanks(out, pad)
			}
			out.WriteString(text)
			if i == last {
				break
			}
			if !right {
				blanks(out, pad)
			}
			blanks(out, 2)
		}
		out.WriteByte('\n')
	}
}

func blanks(out *strings.Builder, n int) {
	for range n {
		out.WriteByte(' ')
	}
}

// wrap writes text in lines of at most width columns; the first begins where the
// cursor stands, in column at, the others are indented so far. A word that is
// longer than a line stands alone.
func wrap(out *strings.Builder, text string, at, width int) {
	column := at
	for i, word := range strings.Fields(text) {
		length := utf8.RuneCountInString(word)
		if i > 0 {
			if column+1+length > width {
				out.WriteByte('\n')
				blanks(out, at)
				column = at
			} else {
				out.WriteByte(' ')
				column++
			}
		}
		out.WriteString(word)
		column += length
	}
	out.WriteByte('\n')
}

// Columns writes rows as aligned columns.
func Columns(w io.Writer, rows [][]string) error {
	var tab table
	for _, row := range rows {
		tab.add(words(row...)...)
	}
	var out strings.Builder
	tab.write(&out, Style{})
	if _, err := io.WriteString(w, out.String()); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}
