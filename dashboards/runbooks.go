package dashboards

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"net/http"
	"path"
	"strings"
)

//go:embed runbooks/*.md
var runbookFiles embed.FS

//go:embed runbook.html
var runbookPage string

// RunbookNames returns the names of all runbooks: the last part of their addresses.
func RunbookNames() []string {
	entries, err := runbookFiles.ReadDir("runbooks")
	if err != nil {
		panic(err) // they are compiled in
	}
	var names []string
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), ".md"))
	}
	return names
}

// Runbook returns the text of a runbook as Markdown.
func Runbook(name string) ([]byte, error) {
	return runbookFiles.ReadFile(path.Join("runbooks", name+".md"))
}

// Runbooks serves the runbooks below /runbooks/, with a list of them at that place. It needs no network, no script and nothing
// beside itself.
func Runbooks() http.Handler {
	page := template.Must(template.New("runbook").Parse(runbookPage))
	pages := map[string][]byte{}
	var list strings.Builder
	list.WriteString("<h1>Runbooks</h1>\n<p>What an alarm means, how to see it, and what to do.</p>\n<ul>\n")
	for _, name := range RunbookNames() {
		text, err := Runbook(name)
		if err != nil {
			panic(err) // it was listed
		}
		body, err := markdown(string(text))
		if err != nil {
			panic(fmt.Errorf("runbook %s: %w", name, err)) // a test renders all of them
		}
		title := titleOf(string(text))
		fmt.Fprintf(&list, "<li><a href=\"/runbooks/%s\">%s</a></li>\n", name, template.HTMLEscapeString(title))
		pages[name] = rendered(page, title, body)
	}
	list.WriteString("</ul>\n")
	pages[""] = rendered(page, "Runbooks", list.String())
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, ok := pages[strings.TrimPrefix(strings.TrimPrefix(r.URL.Path, "/runbooks"), "/")]
		if !ok {
			http.Error(w, "There is no such runbook; /runbooks/ lists them.", http.StatusNotFound)
			return
		}
		h := w.Header()
		h.Set("Content-Type", "text/html; charset=utf-8")
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		_, _ = w.Write(body)
	})
}

func rendered(page *template.Template, title, body string) []byte {
	var b bytes.Buffer
	err := page.Execute(&b, struct {
		Title string
		Body  template.HTML
	}{title, template.HTML(body)}) //nolint:gosec // made of what is compiled in, escaped by markdown
	if err != nil {
		panic(err) // nothing in it can fail
	}
	return b.Bytes()
}

// titleOf returns the first heading.
func titleOf(text string) string {
	first, _, _ := strings.Cut(text, "\n")
	return strings.TrimPrefix(first, "# ")
}
