package dashboards

import (
	"bytes"
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/cog/plugins"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"

	"plumbline/daemon"
	"plumbline/daemon/metrics"
)

// TestStrict: the SDK, which refuses what Grafana's schema does not know, reads each board and makes the same of it again.
func TestStrict(t *testing.T) {
	plugins.RegisterDefaultPlugins()
	for _, b := range Boards() {
		text, err := b.JSON()
		if err != nil {
			t.Fatal(err)
		}
		var d dashboard.Dashboard
		if err := strict(&d, text); err != nil {
			t.Errorf("%s: %v", b.Name, err)
			continue
		}
		d = dashboard.Dashboard{} // what the strict reader returns lacks the panels
		if err := json.Unmarshal(text, &d); err != nil {
			t.Fatal(err)
		}
		again, err := json.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(tree(t, again), tree(t, text)); diff != "" {
			t.Errorf("%s: read and written again, got before want:\n%s", b.Name, diff)
		}
		if bytes.Contains(text, []byte("__inputs")) || bytes.Contains(text, []byte("${DS_")) {
			t.Errorf("%s: inputs are not resolved where a board is provisioned as a file", b.Name)
		}
		if err := strict(new(dashboard.Dashboard), bytes.Replace(text, []byte(`"title"`), []byte(`"tilte"`), 1)); err == nil {
			t.Errorf("%s: a misspelt key is not noticed", b.Name)
		}
	}
}

// tree is a text of JSON without the order of its keys.
func tree(t *testing.T, text []byte) any {
	t.Helper()
	var v any
	if err := json.Unmarshal(text, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// strict reads a board. The SDK returns a list of errors that may be empty.
func strict(d *dashboard.Dashboard, text []byte) error {
	err := d.UnmarshalJSONStrict(text)
	if list, ok := errors.AsType[cog.BuildErrors](err); ok && len(list) == 0 {
		return nil
	}
	return err
}

// TestPanels: each panel says what it shows, in which unit, from which data source, and fits the grid.
func TestPanels(t *testing.T) {
	uids := map[string]bool{}
	for _, b := range Boards() {
		d, err := b.build()
		if err != nil {
			t.Fatal(err)
		}
		if uids[*d.Uid] || *d.Description == "" {
			t.Errorf("%s: uid %s twice, or no description", b.Name, *d.Uid)
		}
		uids[*d.Uid] = true
		titles := map[string]bool{}
		for _, row := range d.Panels {
			p := row.Panel
			if p == nil {
				continue
			}
			title := *p.Title
			if title == "" || titles[title] || !strings.HasSuffix(*p.Description, ".") || *p.FieldConfig.Defaults.Unit == "" {
				t.Errorf("%s, %q: a title of its own, a description that ends in a full stop and a unit are wanted", b.Name, title)
			}
			titles[title] = true
			if *p.Datasource.Uid != "${datasource}" || len(p.Targets) == 0 {
				t.Errorf("%s, %s: data source %q, %d queries", b.Name, title, *p.Datasource.Uid, len(p.Targets))
			}
			if p.GridPos.X+p.GridPos.W > 24 {
				t.Errorf("%s, %s: reaches beyond the grid: %+v", b.Name, title, *p.GridPos)
			}
		}
		for _, s := range b.sections {
			width := uint32(0)
			for _, p := range s.panels {
				if width += p.width; width > 24 {
					t.Errorf("%s, %s: the panels of a line are %d wide", b.Name, p.title, width)
				}
				width %= 24
			}
			if width != 0 {
				t.Errorf("%s, %s: a line is not full", b.Name, s.title)
			}
		}
	}
}

// TestStates: a state is told by a word and a sign, not by its colour alone.
func TestStates(t *testing.T) {
	for name, states := range map[string][]state{
		"verdict": verdictStates(), "hang": hangStates(), "turning": turningStates(), "driving": drivingStates(), "up": upStates(),
		"link": linkStates(), "recording": recordingStates(), "active": activeStates(),
	} {
		words := map[string]bool{}
		for _, s := range states {
			if sign, word, ok := strings.Cut(s.word, " "); !ok || word == "" || len([]rune(sign)) != 1 || words[s.word] {
				t.Errorf("%s: %q: want a sign, a blank and a word of its own", name, s.word)
			}
			words[s.word] = true
		}
	}
}

// expressions returns every expression of boards and rules with the place that it stands in.
func expressions(t *testing.T) map[string][]string {
	t.Helper()
	out := map[string][]string{}
	for _, b := range Boards() {
		for _, s := range b.sections {
			for _, p := range s.panels {
				for _, q := range p.queries {
					out["board "+b.Name+", "+p.title] = append(out["board "+b.Name+", "+p.title], q.expr)
				}
			}
		}
		d, err := b.build()
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range d.Templating.List {
			if v.Definition != nil {
				out["board "+b.Name+", variable "+v.Name] = []string{*v.Definition}
			}
		}
		for _, a := range d.Annotations.List {
			if a.Expr != nil {
				out["board "+b.Name+", mark "+a.Name] = []string{*a.Expr}
			}
		}
	}
	for _, g := range Groups() {
		for _, r := range g.Rules {
			out["rule "+r.Record+r.Alert] = []string{r.Expr}
		}
	}
	return out
}

var metricName = regexp.MustCompile(`\b(?:vehicle[a-z_]*:)?(?:plumbline|go|process|scrape)_[a-z0-9_]+(?::[a-z0-9_]+)?\b`)

// TestMetricsAreExported: every metric that a board or rule names is exported or recorded, and every exported one is
// on a board, in a rule, or left out on purpose.
func nothing() *daemon.Snapshot { return nil }

func TestMetricsAreExported(t *testing.T) {
	known := map[string]bool{"scrape_duration_seconds": true} // Prometheus itself
	for _, m := range metrics.Table() {
		known[m.Name] = true
		if m.Type == metrics.Histogram {
			for _, part := range []string{"_bucket", "_sum", "_count"} {
				known[m.Name+part] = true
			}
		}
	}
	for _, r := range records() {
		known[r.Record] = true
	}
	w := httptest.NewRecorder()
	metrics.New(nothing, "", "", "").Handler().ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/metrics", http.NoBody))
	for _, m := range regexp.MustCompile(`(?m)^# TYPE ((?:go|process)_\S+)`).FindAllStringSubmatch(w.Body.String(), -1) {
		known[m[1]] = true
	}
	used := map[string]bool{}
	for where, list := range expressions(t) {
		n := 0
		for _, expr := range list {
			for _, name := range metricName.FindAllString(expr, -1) {
				n++
				used[name] = true
				if !known[name] {
					t.Errorf("%s: nobody exports %s", where, name)
				}
			}
		}
		if n == 0 && !strings.Contains(list[0], "up{") && !strings.Contains(list[0], "ALERTS{") {
			t.Errorf("%s: names no metric: %q", where, list)
		}
	}
	left := map[string]int{}
	for _, m := range metrics.Table() {
		on := used[m.Name] || used[m.Name+"_bucket"]
		out := ""
		for _, l := range leftOuts() {
			if regexp.MustCompile("^(?:" + l.Pattern + ")$").MatchString(m.Name) {
				out = l.Pattern
				left[out]++
			}
		}
		switch {
		case !on && out == "":
			t.Errorf("%s is exported, but on no board and in no rule: show it, or say in leftout.go why not", m.Name)
		case on && out != "":
			t.Errorf("%s is left out by %s, but it is on a board or in a rule", m.Name, out)
		}
	}
	for _, l := range leftOuts() {
		if left[l.Pattern] == 0 {
			t.Errorf("leftout.go: %s is exported no more", l.Pattern)
		}
	}
}
