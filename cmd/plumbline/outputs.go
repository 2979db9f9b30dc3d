package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/daemon"
	"plumbline/daemon/archive"
	"plumbline/daemon/report"
)

// The formats of results.
const (
	formatText    = string(archive.Text)
	formatJSON    = string(archive.JSON)
	formatJUnit   = string(archive.JUnit)
	formatHTML    = "html"
	formatSummary = string(archive.Summary)
	formatTable   = string(archive.Markdown)
	formatLines   = string(archive.Lines)
)

func formats() []string {
	return []string{formatText, formatJSON, formatJUnit, formatHTML, formatSummary, formatTable, formatLines}
}

// endingOf returns the format that the ending of a file tells, "" for none.
func endingOf(file string) string {
	switch strings.ToLower(filepath.Ext(file)) {
	case ".txt":
		return formatText
	case ".json":
		return formatJSON
	case ".xml":
		return formatJUnit
	case ".html", ".htm":
		return formatHTML
	case ".md":
		return formatTable
	case ".jsonl":
		return formatLines
	}
	return ""
}

// addOutputs gives a command the flags that say where results go.
func addOutputs(c *cobra.Command, format *string, files *[]string, known []string) {
	c.Flags().StringVarP(format, "format", "f", "", "how to write the results: "+strings.Join(known, ", ")+"; by the ending of -o, else text")
	c.Flags().StringArrayVarP(files, "output", "o", nil, "write to `FILE` instead of standard output; may be given several times")
	complete(c, "format", known...)
}

// outputs are the places that results go to.
type outputs struct {
	list    []target
	printed bool // one of them is standard output
}

type target struct {
	format, file string
	out          *output // nil: not yet made
}

// chosen returns the outputs that flags ask for.
func chosen(format string, files, known []string) (*outputs, error) {
	if format != "" && !slices.Contains(known, format) {
		return nil, fmt.Errorf("unknown format %q: expected one of %s", format, strings.Join(known, ", "))
	}
	if format != "" && len(files) > 1 {
		return nil, fmt.Errorf("--format %s is one for %d files: leave it out, their endings tell the format", format, len(files))
	}
	o := &outputs{}
	if len(files) == 0 {
		files = []string{"-"}
	}
	seen := map[string]bool{}
	for _, file := range files {
		t := target{format: format, file: file}
		if t.format == "" {
			t.format = endingOf(file)
		}
		if ending := filepath.Ext(file); t.format == "" && strings.EqualFold(ending, ".pdf") {
			return nil, fmt.Errorf("%s: PDF is not written here: write NAME.html and print that", file)
		} else if t.format == "" {
			t.format = formatText
		}
		if !slices.Contains(known, t.format) {
			return nil, fmt.Errorf("%s would be %s, which is not written here: expected one of %s", file, t.format, strings.Join(known, ", "))
		}
		if seen[file] {
			return nil, fmt.Errorf("-o %s stands twice", file)
		}
		seen[file] = true
		o.printed = o.printed || file == "-" || file == ""
		o.list = append(o.list, t)
	}
	return o, nil
}

// create makes the files.
func (o *outputs) create(g *global) error {
	for i := range o.list {
		var err error
		if o.list[i].out, err = create(o.list[i].file, g.out); err != nil {
			return err
		}
	}
	return nil
}

// commit gives the files their names, when all of them are whole.
func (o *outputs) commit() error {
	var errs []error
	for i := range o.list {
		errs = append(errs, o.list[i].out.commit())
	}
	return errors.Join(errs...)
}

// discard drops what was not committed.
func (o *outputs) discard() {
	for i := range o.list {
		if o.list[i].out != nil {
			o.list[i].out.discard()
		}
	}
}

// has reports whether a format is asked for.
func (o *outputs) has(format string) bool {
	return slices.ContainsFunc(o.list, func(t target) bool { return t.format == format })
}

// style is how text looks that goes to a target.
func (t *target) style(g *global) report.Style {
	style := g.style(g.out)
	if t.file != "" && t.file != "-" {
		style.ASCII, style.Width = false, 0
		style.Colour = g.colour.String() == colourAlways
	}
	return style
}

// sheets are the outputs as an archive writes them. Where all of several captures goes to files, the table over them is printed.
func (o *outputs) sheets(g *global, several bool) []archive.Sheet {
	var list []archive.Sheet
	for i := range o.list {
		t := &o.list[i]
		sheet := archive.Sheet{Format: archive.Format(t.format), Style: t.style(g), W: t.out}
		if t.out.name != "" {
			sheet.Dir = filepath.Dir(t.out.name)
		}
		list = append(list, sheet)
	}
	if several && !o.printed {
		out := target{file: "-", format: formatSummary, out: &output{}}
		out.out, _ = create("-", g.out) // there is nothing to make
		o.list = append(o.list, out)
		list = append(list, archive.Sheet{Format: archive.Summary, Style: out.style(g), W: out.out})
	}
	return list
}

// write writes results that are all there.
func (o *outputs) write(g *global, t *target, results []daemon.Result) error {
	about := archive.About{}
	names := make([]string, len(results))
	for i := range results {
		names[i] = results[i].Captures[0].File
	}
	sheets, err := archive.NewSheets(&about, names, []archive.Sheet{{Format: archive.Format(t.format), Style: t.style(g), W: t.out}})
	if err != nil {
		return err
	}
	for i := range results {
		if err := sheets.Add(i, &results[i]); err != nil {
			return errors.Join(err, sheets.Close())
		}
	}
	return errors.Join(sheets.Write(), sheets.Close())
}
