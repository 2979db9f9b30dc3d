package web

import (
	"context"
	"errors"
	"io/fs"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/report"
	"plumbline/daemon/results"
)

// signWithin is how long signing may take: a long recording on another file system is copied.
const signWithin = 100 * time.Second

// beginWithin is how long a new test may take to begin: a batch of what is heard.
const beginWithin = 10 * time.Second

// signRoutes adds what belongs to the end of a test.
func (s *Server) signRoutes(mux *http.ServeMux) {
	at := func(path string) http.HandlerFunc {
		return func(w http.ResponseWriter, r *http.Request) { s.page(w, r, path) }
	}
	mux.HandleFunc("GET /signoff", at("/signoff"))
	mux.HandleFunc("GET /afresh", at("/afresh"))
	mux.HandleFunc("GET /tests", at("/tests"))
	mux.HandleFunc("GET /tests/{name}/{file}", s.testFile)
	mux.HandleFunc("GET /api/tests", s.testList)
	mux.HandleFunc("POST /signoff", s.postSign)
	mux.HandleFunc("POST /afresh", s.postAfresh)
}

// signView is what the pages about signing show.
type signView struct {
	Possible, Afresh bool // a test can be signed, or begun anew
	Mark             mark
	Word, Meaning    string
	Points           []signPoint
	Fields           []signField
	Token, Amends    string
	Signed           *signedView
	Trouble, Note    string
}

// signPoint is one thing that is not as it should be, with what it concerns.
type signPoint struct{ State, Text, What string }

type signField struct {
	Name, Label, Hint, Value, Auto string
	Required                       bool
	Most                           int // characters
}

type signedView struct{ By, At, ID, Report, JSON string }

func (s *Server) signView(c *composer) signView {
	v := signView{Possible: s.signs(), Afresh: s.cfg.Signing.Desk != nil, Token: c.m.said.Token}
	if !v.Afresh {
		return v
	}
	if v.Trouble = c.m.trouble; s.cfg.Signing.Note != "" {
		v.Note = c.t(s.cfg.Signing.Note)
	}
	if !v.Possible {
		return v
	}
	if g := c.m.said.Signed; g != nil {
		v.Amends = g.ID
		v.Signed = &signedView{By: g.By, At: clock(g.At), ID: g.ID, Report: "/tests/" + g.Name + "/report.html", JSON: "/tests/" + g.Name + "/result.json"}
	}
	v.Mark, v.Word, v.Meaning = c.overall()
	v.Points = c.signPoints()
	f := c.m.said.Form
	for _, in := range []signField{
		{Name: "performed", Value: f.Performed, Required: true, Auto: "name"},
		{Name: "initials", Value: f.Initials, Required: true, Most: 20},
		{Name: "authorised", Value: f.Authorised, Hint: c.t("sign.authorised.hint")},
		{Name: "place", Value: f.Place},
		{Name: "item", Value: f.Item, Hint: c.t("sign.item.hint")},
		{Name: "conditions", Value: f.Conditions, Hint: c.t("sign.conditions.hint")},
		{Name: "customer", Value: f.Customer, Auto: "organization"},
		{Name: "laboratory", Value: f.Laboratory, Hint: c.t("sign.laboratory.hint")},
	} {
		in.Label = c.t("sign." + in.Name)
		if in.Auto == "" {
			in.Auto = "off"
		}
		if in.Most == 0 {
			in.Most = maxWords
		}
		v.Fields = append(v.Fields, in)
	}
	return v
}

// overall says in big words what would be signed, or was.
func (c *composer) overall() (m mark, word, meaning string) {
	if c.m.snapshot == nil || c.m.state == nothing {
		return mark{State: "none", Word: c.t("nodata")}, c.t("nodata"), c.t("sign.nodata")
	}
	done := "how"
	if c.m.said.Signed != nil {
		done = "signed"
	}
	switch c.m.result.Verdict {
	case checks.Fail:
		return mark{State: "fail", Word: c.t("state.fail")}, c.t("sign.fail"), c.t("sign.fail." + done)
	case checks.Pass:
		return mark{State: "pass", Word: c.t("state.pass")}, c.t("passed"), c.t("passed.how")
	case checks.Inconclusive, checks.Absent:
	}
	return mark{State: "open", Word: c.t("state.open")}, c.t("sign.open"), c.t("sign.open." + done)
}

// signPoints lists what is not as it should be.
func (c *composer) signPoints() []signPoint {
	var out []signPoint
	count := func(state, key string, n int, what []string) {
		const most = 12
		if n > 0 {
			if len(what) > most {
				what = append(what[:most:most], "…")
			}
			out = append(out, signPoint{state, c.t(key, strconv.Itoa(n)), strings.Join(what, ", ")})
		}
	}
	add := func(state, key string, what []string) { count(state, key, len(what), what) }
	r := &c.m.result
	var failed, open, left, skipped, outside, unconfirmed []string
	faults := 0
	for i := range r.Findings {
		f := &r.Findings[i]
		name := f.Subject + " " + f.Check // its channels are too many to be read
		switch {
		case f.Verdict == checks.Fail:
			if faults++; !slices.Contains(failed, name) {
				failed = append(failed, name)
			}
		case f.Verdict == checks.Inconclusive && f.Required && !slices.Contains(open, name):
			open = append(open, name)
		}
	}
	for i := range c.m.steps {
		st := &c.m.steps[i]
		switch name := c.stepName(st); {
		case st.Skipped != "":
			skipped = append(skipped, name)
		case st.Confirm != nil && st.Confirm.Outside():
			outside = append(outside, name)
		case st.Confirm != nil && !st.Done:
			unconfirmed = append(unconfirmed, name)
		case !st.Done:
			left = append(left, name)
		}
	}
	count("fail", "sign.point.failed", faults, failed)
	add("fail", "sign.point.outside", outside)
	count("open", "sign.point.open", len(r.Open), open)
	add("open", "sign.point.left", left)
	add("open", "sign.point.unconfirmed", unconfirmed)
	add("absent", "sign.point.skipped", skipped)
	return out
}

// stepName is a step as reports list it.
func (c *composer) stepName(st *step) string {
	if st.Confirm != nil {
		return st.Text
	}
	return c.t("step."+st.Kind+".title", st.Corner)
}

// signed puts into a headline that the test can be signed, or was.
func (s *Server) signed(c *composer, v *view) {
	if !s.signs() || c.m.snapshot == nil {
		return
	}
	switch g := c.m.said.Signed; {
	case g != nil:
		v.Headline.Signed = c.t("signoff.by", g.By, clock(g.At))
	default:
		v.Headline.Sign = current(c.m.steps) == nil && c.m.state != nothing
	}
}

// deviations lists the steps that were gone on without, and those that are open now, which are left so by who signs.
func (c *composer) deviations(now daemon.Instant, initials string) []daemon.Deviation {
	var out []daemon.Deviation
	for i := range c.m.steps {
		st := &c.m.steps[i]
		if st.Confirm != nil || st.Done && st.Skipped == "" {
			continue // confirmations stand in the result
		}
		d := daemon.Deviation{Step: st.ID, Text: c.stepName(st), Reason: c.t("sign.left"), Initials: initials, At: now}
		for _, said := range c.m.said.Deviations {
			if said.Step == st.ID {
				d.Reason, d.Initials, d.At = said.Reason, said.Initials, said.At
			}
		}
		out = append(out, d)
	}
	return out
}

// gaps lists what is missing of the recording that belongs to the test.
func (c *composer) gaps(f *daemon.Frozen, now daemon.Instant) []daemon.Deviation {
	var out []daemon.Deviation
	add := func(reason string) {
		out = append(out, daemon.Deviation{Step: "recording", Text: c.t("sign.recording"), Reason: reason, At: now})
	}
	if f.Parts == nil {
		add(c.t("sign.unrecorded"))
	}
	if f.Removed > 0 {
		add(c.t("sign.removed", strconv.Itoa(f.Removed)))
	}
	if f.Lost > 0 {
		add(c.t("sign.lost", strconv.FormatUint(f.Lost, 10)))
	}
	return out
}

// readForm reads what a person fills in to sign.
func readForm(r *http.Request) (daemon.Form, error) {
	var f daemon.Form
	var errs []error
	for _, in := range []struct {
		name string
		to   *string
	}{
		{"performed", &f.Performed},
		{"initials", &f.Initials},
		{"authorised", &f.Authorised},
		{"laboratory", &f.Laboratory},
		{"place", &f.Place},
		{"customer", &f.Customer},
		{"item", &f.Item},
		{"conditions", &f.Conditions},
	} {
		text, err := field(r, in.name)
		*in.to = text
		errs = append(errs, err)
	}
	return f, errors.Join(errs...)
}

// postSign signs the test as it is now.
func (s *Server) postSign(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	words := s.composer(r)
	if !s.signs() {
		s.tell(w, r, http.StatusNotFound, words.t("notfound"), words.t("sign.nowhere"), "/")
		return
	}
	f, err := readForm(r)
	switch {
	case err != nil:
		s.tell(w, r, http.StatusUnprocessableEntity, words.t("refused"), err.Error(), "/signoff")
		return
	case f.Performed == "" || f.Initials == "":
		s.tell(w, r, http.StatusUnprocessableEntity, words.t("refused"), words.t("sign.who"), "/signoff")
		return
	}
	if !s.signing.TryLock() {
		s.tell(w, r, http.StatusConflict, words.t("sign.busy"), words.t("sign.busy.how"), "/signoff")
		return
	}
	defer s.signing.Unlock()
	said := s.cfg.Test.Said()
	switch {
	case r.PostFormValue("test") != said.Token:
		s.tell(w, r, http.StatusConflict, words.t("sign.other"), words.t("sign.other.how"), "/signoff")
	case said.Signed != nil && r.PostFormValue("amends") != said.Signed.ID:
		s.tell(w, r, http.StatusConflict, words.t("sign.already"), words.t("sign.already.how", said.Signed.By, clock(said.Signed.At), said.Signed.ID), "/signoff")
	default:
		s.sign(w, r, &f, &said)
	}
}

// sign freezes the test and writes it down. s.signing is held.
func (s *Server) sign(w http.ResponseWriter, r *http.Request, f *daemon.Form, said *daemon.Said) {
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(signWithin + time.Minute)) // not supported: then the server's bound holds
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), signWithin)           // who goes away does not end it half-way
	defer cancel()
	c := s.composer(r)
	s.cfg.Test.Filled(*f)
	frozen, err := s.cfg.Signing.Desk.Freeze(ctx, f.Initials)
	if err != nil {
		s.unsigned(w, r, err)
		return
	}
	s.news()
	c.m = s.moment.Load()
	g := results.Signing{
		Test: frozen, Form: *f, Signed: s.instant(), Program: s.cfg.Signing.Program, Language: report.Language(c.lang),
	}
	c.m.said.Apply(&g.Test.Result)
	if said.Signed != nil {
		g.Amends = said.Signed.ID
	}
	for _, capture := range frozen.Result.Captures {
		g.Signed = max(g.Signed, capture.Last)
	}
	g.Deviations = append(c.deviations(g.Signed, f.Initials), c.gaps(frozen, g.Signed)...)
	e, err := s.cfg.Signing.Results.Sign(ctx, &g)
	if err != nil {
		s.unsigned(w, r, err)
		return
	}
	s.cfg.Test.Sign(daemon.Signed{Name: e.Name, ID: e.Report, By: f.Performed, Initials: f.Initials, At: g.Signed})
	s.cfg.Signing.Log.Info("signed", "folder", e.Name, "report", e.Report, "by", f.Performed, "verdict", e.Verdict.String())
	s.news()
	s.lead(w, r, "/signoff")
}

// unsigned says why a test was not signed: nothing is lost by that.
func (s *Server) unsigned(w http.ResponseWriter, r *http.Request, err error) {
	c := s.composer(r)
	s.cfg.Signing.Log.Error("the test was not signed", "error", err)
	s.news() // what was filled in stays
	if errors.Is(err, fs.ErrExist) {
		s.tell(w, r, http.StatusConflict, c.t("sign.same"), c.t("sign.same.how"), "/signoff")
		return
	}
	s.tell(w, r, http.StatusInternalServerError, c.t("sign.failed"), c.t("sign.failed.how", err.Error()), "/signoff")
}

// postAfresh begins a new test.
func (s *Server) postAfresh(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	c := s.composer(r)
	if s.cfg.Signing.Desk == nil {
		s.tell(w, r, http.StatusNotFound, c.t("notfound"), c.t("sign.nowhere"), "/")
		return
	}
	if r.PostFormValue("really") != "yes" {
		s.lead(w, r, "/afresh")
		return
	}
	if !s.signing.TryLock() {
		s.tell(w, r, http.StatusConflict, c.t("sign.busy"), c.t("sign.busy.how"), "/signoff")
		return
	}
	defer s.signing.Unlock()
	if r.PostFormValue("test") != s.cfg.Test.Said().Token {
		s.tell(w, r, http.StatusConflict, c.t("afresh.already"), c.t("afresh.already.how"), "/")
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), beginWithin)
	defer cancel()
	if err := s.cfg.Signing.Desk.Afresh(ctx); err != nil {
		s.cfg.Signing.Log.Error("no new test begins", "error", err)
		s.tell(w, r, http.StatusInternalServerError, c.t("afresh.failed"), err.Error(), "/afresh")
		return
	}
	s.news()
	s.lead(w, r, "/")
}

// composer puts words into the language of a request.
func (s *Server) composer(r *http.Request) *composer {
	return &composer{m: s.refresh(), lang: s.language(r), words: s.words}
}

// tell answers with a page that says something, and leads on to a path.
func (s *Server) tell(w http.ResponseWriter, r *http.Request, status int, title, text, path string) {
	d := s.document(s.refresh(), s.language(r), s.looks[r.URL.Query().Get("lang")] != nil, path)
	d.Kind, d.Title, d.Message = "message", title, text
	s.write(w, status, d)
}

// lead leads to a page after a form, so that a reload does not send it again.
func (s *Server) lead(w http.ResponseWriter, r *http.Request, to string) {
	if lang := r.URL.Query().Get("lang"); s.looks[lang] != nil {
		to += "?lang=" + lang
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}
