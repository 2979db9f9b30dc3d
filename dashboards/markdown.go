package dashboards

import (
	"fmt"
	"html"
	"regexp"
	"strings"
)

// markdown turns the little of Markdown that runbooks are written in to HTML: headings, paragraphs, lists of one level, code,
// emphasis and links. Anything else is an error with its line, so that nothing is shown that was not meant.
//
// A section with the heading Caution stands in a frame. A link to NAME.md goes to the runbook of that name.
func markdown(text string) (string, error) {
	var out strings.Builder
	list, framed := "", false
	closeList := func() {
		if list != "" {
			out.WriteString("</li>\n</" + list + ">\n")
			list = ""
		}
	}
	var paragraph []string
	closeParagraph := func() {
		if len(paragraph) > 0 {
			out.WriteString("<p>" + strings.Join(paragraph, "\n") + "</p>\n")
			paragraph = nil
		}
	}
	item := func(kind, text string) {
		closeParagraph()
		if list == kind {
			out.WriteString("</li>\n<li>" + text)
			return
		}
		closeList()
		out.WriteString("<" + kind + ">\n<li>" + text)
		list = kind
	}
	for i, line := range strings.Split(strings.TrimRight(text, "\n"), "\n") {
		bullet, isBullet := strings.CutPrefix(line, "* ")
		number := numbered.FindStringSubmatch(line)
		switch {
		case line == "":
			closeParagraph()
			closeList()
		case strings.HasPrefix(line, "# "), strings.HasPrefix(line, "## "):
			closeParagraph()
			closeList()
			level, title, _ := strings.Cut(line, " ")
			if framed {
				out.WriteString("</section>\n")
				framed = false
			}
			if title == "Caution" {
				out.WriteString("<section class=\"caution\">\n")
				framed, title = true, "⚠ Caution"
			}
			fmt.Fprintf(&out, "<h%d>%s</h%d>\n", len(level), html.EscapeString(title), len(level))
		case isBullet:
			item("ul", inline(bullet))
		case number != nil:
			item("ol", inline(number[1]))
		case strings.HasPrefix(line, "   ") && list != "":
			out.WriteString("\n" + inline(strings.TrimSpace(line)))
		case unknown.MatchString(line):
			return "", fmt.Errorf("line %d: %q is not understood: write headings, paragraphs and lists of one level", i+1, line)
		case list != "":
			return "", fmt.Errorf("line %d: %q follows a list: indent it, or leave a line free", i+1, line)
		default:
			paragraph = append(paragraph, inline(line))
		}
	}
	closeParagraph()
	closeList()
	if framed {
		out.WriteString("</section>\n")
	}
	return out.String(), nil
}

var (
	numbered = regexp.MustCompile(`^\d+\. (.*)`)
	unknown  = regexp.MustCompile("^(\\s|#|>|-|\\+|\\||```|<)")
	code     = regexp.MustCompile("`([^`]+)`")
	link     = regexp.MustCompile(`\[([^\]]+)\]\(([^)\s]+)\)`)
	emphasis = regexp.MustCompile(`\*([^*]+)\*`)
)

// inline turns what stands within a line. Code is taken out first: nothing in it means anything.
func inline(text string) string {
	var kept []string
	text = code.ReplaceAllStringFunc(text, func(c string) string {
		kept = append(kept, "<code>"+html.EscapeString(strings.Trim(c, "`"))+"</code>")
		return "\x00"
	})
	text = html.EscapeString(text)
	text = link.ReplaceAllStringFunc(text, func(l string) string {
		m := link.FindStringSubmatch(l)
		to := m[2]
		if name, ok := strings.CutSuffix(to, ".md"); ok {
			to = "/runbooks/" + name
		}
		return `<a href="` + to + `">` + m[1] + "</a>"
	})
	text = emphasis.ReplaceAllString(text, "<em>$1</em>")
	for _, c := range kept {
		text = strings.Replace(text, "\x00", c, 1)
	}
	return text
}
