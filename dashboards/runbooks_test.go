package dashboards

import (
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
)

// site is what the daemon serves, as far as runbooks link to it.
func site(t *testing.T) func(path string) (status int, body string) {
	t.Helper()
	mux := http.NewServeMux()
	mux.Handle("GET /runbooks/", Runbooks())
	mux.HandleFunc("GET /{$}", func(http.ResponseWriter, *http.Request) {})
	return func(path string) (int, string) {
		w := httptest.NewRecorder()
		mux.ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), http.MethodGet, path, http.NoBody))
		return w.Code, w.Body.String()
	}
}

// TestRunbooks: each alarm has one, each is of an alarm and names it, and has the sections that help.
func TestRunbooks(t *testing.T) {
	get := site(t)
	of := map[string][]string{}
	for _, a := range alarms() {
		of[a.runbook] = append(of[a.runbook], a.name)
	}
	for _, name := range RunbookNames() {
		text, err := Runbook(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{"# ", "\n## What it means\n", "\n## How to see it\n", "\n## What to do\n"} {
			if !strings.Contains(string(text), want) {
				t.Errorf("%s: %q is missing", name, strings.TrimSpace(want))
			}
		}
		for _, alarm := range of[name] {
			if !strings.Contains(string(text), "`"+alarm+"`") {
				t.Errorf("%s does not name the alarm %s", name, alarm)
			}
		}
		if len(of[name]) == 0 {
			t.Errorf("%s: no alarm points to it", name)
		}
		delete(of, name)
		if status, body := get("/runbooks/" + name); status != http.StatusOK || !strings.Contains(body, "<h1>") {
			t.Errorf("%s: status %d", name, status)
		}
		for _, word := range []string{"safe to drive", "safe to go on"} {
			if strings.Contains(strings.ToLower(string(text)), word) {
				t.Errorf("%s says %q; that is for a person to decide", name, word)
			}
		}
	}
	for name, alarms := range of {
		t.Errorf("%v: there is no runbook %s: write runbooks/%s.md, with what it means, how to see it and what to do", alarms, name, name)
	}
	if status, _ := get("/runbooks/no-such"); status != http.StatusNotFound {
		t.Errorf("a runbook that is not there: status %d", status)
	}
}

// TestRunbookLinks follows every link from the list of runbooks on, and what alarms point to. None leaves the daemon.
func TestRunbookLinks(t *testing.T) {
	get := site(t)
	href := regexp.MustCompile(`(?:href|src)="([^"]*)"`)
	todo, seen := []string{"/runbooks/"}, map[string]bool{}
	for _, g := range Groups() {
		for _, r := range g.Rules {
			if r.Alert == "" {
				continue
			}
			path, ok := strings.CutPrefix(r.Annotations["runbook_url"], "http://{{ $labels.instance }}")
			if !ok {
				t.Errorf("%s: the runbook is at %q", r.Alert, r.Annotations["runbook_url"])
			}
			todo = append(todo, path)
		}
	}
	for len(todo) > 0 {
		path := todo[0]
		if todo = todo[1:]; seen[path] {
			continue
		}
		seen[path] = true
		if !strings.HasPrefix(path, "/") || strings.HasPrefix(path, "//") {
			t.Errorf("%s leaves the daemon", path)
			continue
		}
		status, body := get(path)
		if status != http.StatusOK {
			t.Errorf("%s: status %d", path, status)
		}
		for _, m := range href.FindAllStringSubmatch(body, -1) {
			todo = append(todo, m[1])
		}
	}
	if len(seen) < len(RunbookNames())+2 {
		t.Errorf("followed %d links only: %v", len(seen), sorted(seen))
	}
}

func TestMarkdown(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"heading", "# A & B", "<h1>A &amp; B</h1>\n"},
		{"paragraph", "one\ntwo\n\nthree", "<p>one\ntwo</p>\n<p>three</p>\n"},
		{"list", "* a\n  b\n* c", ""},
		{"list that goes on", "* a\n   b\n* c", "<ul>\n<li>a\nb</li>\n<li>c</li>\n</ul>\n"},
		{"numbers", "1. a\n2. `b*c*`", "<ol>\n<li>a</li>\n<li><code>b*c*</code></li>\n</ol>\n"},
		{"both", "* a\n\n1. b", "<ul>\n<li>a</li>\n</ul>\n<ol>\n<li>b</li>\n</ol>\n"},
		{"inline", "*x* [y](z.md) <b> `<i>`", "<p><em>x</em> <a href=\"/runbooks/z\">y</a> &lt;b&gt; <code>&lt;i&gt;</code></p>\n"},
		{"caution", "## Caution\n\nx", "<section class=\"caution\">\n<h2>⚠ Caution</h2>\n<p>x</p>\n</section>\n"},
		{"table", "| a |", ""},
		{"quote", "> a", ""},
		{"after a list", "* a\nb", ""},
	} {
		got, err := markdown(c.in)
		if (err != nil) != (c.want == "") || err == nil && got != c.want {
			t.Errorf("%s: got %q, %v; want %q", c.name, got, err, c.want)
		}
	}
}
