package report

import (
	"crypto/sha256"
	"fmt"
	"html/template"
	"slices"
	"strings"
)

// pages is what stands on each page, as strings of CSS.
type pages struct {
	Left, Right template.CSS // above
	Foot        template.CSS // below, left
	Page, Of    template.CSS // around the numbers, below, right
}

type fileRow struct{ Kind, Name, SHA256 string }

// maxHead is how much of a name the head of a page has room for, in characters.
const maxHead = 40

// files lists recordings, setup and descriptions, each with its hash.
func (v *view) files() {
	add := func(kind, name, sum string) {
		row := fileRow{kind, printable(name), cutTo(printable(sum), 2*sha256.Size)}
		if row.SHA256 == "" {
			row.SHA256 = v.W.NoSum
		}
		if !slices.Contains(v.Files, row) {
			v.Files = append(v.Files, row)
		}
	}
	for i := range v.Doc.Tests {
		t := &v.Doc.Tests[i]
		for _, f := range t.Recordings {
			add(v.W.Recording, f.Name, f.SHA256)
		}
		if len(t.Recordings) == 0 {
			for _, c := range t.Result.Captures {
				add(v.W.Recording, c.File, "")
			}
		}
	}
	for i := range v.Doc.Tests {
		add(v.W.SetupFile, v.Doc.Tests[i].Result.Setup.File, v.Doc.Tests[i].Result.Setup.SHA256)
	}
	if v.Doc.Setup != nil {
		for _, f := range v.Doc.Setup.DBC {
			add("DBC", f.Path, f.SHA256)
		}
	}
}

// feet makes the lines that stand on each page. A hash has 64 digits: its first 16
// tell files apart, all of them stand in the list of files.
func (v *view) feet() {
	const digits, most = 16, 3
	kinds := []string{v.W.Recording, v.W.SetupFile, "DBC"}
	if v.W.Recording == v.W.SetupFile {
		kinds = kinds[1:]
	}
	var parts []string
	for _, kind := range kinds {
		var sums []string
		more := 0
		for _, f := range v.Files {
			switch {
			case f.Kind != kind:
			case len(sums) == most:
				more++
			default:
				sums = append(sums, cutTo(f.SHA256, digits))
			}
		}
		if more > 0 {
			sums = append(sums, fmt.Sprintf("+%d", more))
		}
		if len(sums) > 0 {
			parts = append(parts, kind+" "+strings.Join(sums, ", "))
		}
	}
	head := v.W.Title
	if name := printable(v.Doc.Tests[0].Result.Setup.Vehicle); name != "" {
		head += " · " + cutTo(name, maxHead)
	}
	v.Pages = pages{
		Left: quote(head), Right: quote(v.W.Report + " " + v.ID), Page: quote(v.W.Page + " "), Of: quote(" " + v.W.Of + " "),
		Foot: quote("SHA-256: "+strings.Join(parts, " · ")) + ` "\A" ` + quote(cutTo(v.Program, maxHead)),
	}
}

// quote makes a string of CSS. html/template would take text before a colon for
// the scheme of an address and throw it away; here all but plain letters and
// digits is escaped by number, so that nothing can end the string.
func quote(text string) template.CSS {
	var out strings.Builder
	out.WriteByte('"')
	for _, r := range text {
		switch {
		case r >= '0' && r <= '9', r >= 'A' && r <= 'Z', r >= 'a' && r <= 'z':
			out.WriteRune(r)
		default:
			fmt.Fprintf(&out, `\%x `, r) // the blank ends the number
		}
	}
	out.WriteByte('"')
	return template.CSS(out.String())
}

// cutTo shortens text to so many characters.
func cutTo(text string, most int) string {
	runes := []rune(text)
	if len(runes) <= most {
		return text
	}
	return string(runes[:most]) + "…"
}

// number puts the decimal sign of the language into a number that this package wrote.
func (v *view) number(text string) string { return strings.ReplaceAll(text, ".", v.W.Decimal) }
