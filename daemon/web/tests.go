package web

import (
	"encoding/json"
	"net/http"
	"strconv"
	"time"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/results"
)

// mostTests is how many earlier tests are shown; the folder holds all of them.
const mostTests = 200

// testsView is the list of earlier tests.
type testsView struct {
	Rows    []testRow
	More    string // how many are not shown; empty: none
	Folder  string
	Trouble string
}

type testRow struct {
	Name, When, Vehicle, By, Report, JSON string
	Mark                                  mark
	Counts                                []string
	Amends                                string
	Trouble                               string // why it cannot be read
}

func (s *Server) testsView(c *composer) testsView {
	if !s.signs() {
		return testsView{}
	}
	v := testsView{Folder: s.cfg.Signing.Results.Dir()}
	list, err := s.cfg.Signing.Results.List()
	if err != nil {
		v.Trouble = err.Error()
		return v
	}
	if n := len(list) - mostTests; n > 0 {
		list, v.More = list[:mostTests], c.t("tests.more", strconv.Itoa(n))
	}
	for i := range list {
		v.Rows = append(v.Rows, c.testRow(&list[i]))
	}
	return v
}

func (c *composer) testRow(e *results.Entry) testRow {
	row := testRow{Name: e.Name, Vehicle: e.Vehicle, Trouble: e.Trouble}
	if e.Trouble != "" {
		return row
	}
	row.When, row.By = day(e.Began), e.Form.Performed
	row.Report, row.JSON = "/tests/"+e.Name+"/report.html", "/tests/"+e.Name+"/result.json"
	switch e.Verdict {
	case checks.Pass:
		row.Mark = mark{State: "pass", Word: c.t("state.passed")}
	case checks.Fail:
		row.Mark = mark{State: "fail", Word: c.t("state.failed")}
	case checks.Inconclusive, checks.Absent:
		row.Mark = mark{State: "open", Word: c.t("state.open")}
	}
	for _, n := range []struct {
		n   int
		key string
	}{{e.Failed, "sign.point.failed"}, {e.Open, "sign.point.open"}, {e.Unconfirmed, "sign.point.unconfirmed"}, {e.Deviations, "sign.point.skipped"}} {
		if n.n > 0 {
			row.Counts = append(row.Counts, c.t(n.key, strconv.Itoa(n.n)))
		}
	}
	if e.Amends != "" {
		row.Amends = c.t("tests.amends", e.Amends)
	}
	return row
}

// day is a date with a time of day, where the program runs.
func day(at daemon.Instant) string { return time.Unix(0, int64(at)).Format("2006-01-02 15:04") }

// testFile serves report or result of an earlier test: what the list knows, and nothing else.
func (s *Server) testFile(w http.ResponseWriter, r *http.Request) {
	if !s.signs() {
		s.notFound(w, r)
		return
	}
	f, err := s.cfg.Signing.Results.File(r.PathValue("name"), r.PathValue("file"))
	if err != nil {
		s.notFound(w, r)
		return
	}
	defer f.Close()
	kind := "application/json"
	if r.PathValue("file") == "report.html" {
		kind = "text/html; charset=utf-8"
		// a report carries its own look and no script
		w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
	}
	w.Header().Set("Content-Type", kind)
	http.ServeContent(w, r, "", time.Time{}, f)
}

// testList lists the earlier tests as JSON, the newest first.
func (s *Server) testList(w http.ResponseWriter, r *http.Request) {
	if !s.signs() {
		s.notFound(w, r)
		return
	}
	list, err := s.cfg.Signing.Results.List()
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	out := []results.Entry{}
	for i := range list {
		if list[i].Trouble == "" {
			out = append(out, list[i])
		}
	}
	w.Header().Set("Content-Type", "application/json")
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	_ = e.Encode(out) // fails only where the viewer has gone
}
