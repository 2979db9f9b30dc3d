package web

import (
	"bytes"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"

	"plumbline/checks"
)

// page is one page of the site.
type page struct {
	path    string // as in the address, escaped
	kind    string // overview, corner, optic, steps, drive, signoff, afresh, tests
	corner  string // name, of kind corner and optic
	channel string // quantity of the strip that is wanted; empty: the one that tells most
	given   bool   // the language stands in the address
}

// parts are the regions of each kind of page. A region is sent anew as a whole when something in it changes.
func (p *page) parts() []string {
	switch p.kind {
	case "corner":
		return []string{"tape", "next", "corner", "zero", "plot", "live", "strip", "cornerfound"}
	case "optic":
		return []string{"tape", "next", "corner", "live", "strip", "cornerfound"}
	case "steps":
		return []string{"tape", "next", "steps"}
	case "signoff", "tests", "afresh":
		return []string{"tape", p.kind}
	case "drive":
		return []string{"tape", "next", "drive"}
	}
	return []string{"tape", "next", "map", "found"}
}

// find returns the page at a path.
func (s *Server) find(path string) (page, bool) {
	switch path {
	case "/":
		return page{path: path, kind: "overview"}, true
	case "/steps":
		return page{path: path, kind: "steps"}, true
	case "/signoff", "/afresh", "/tests":
		kind := path[1:]
		return page{path: path, kind: kind}, s.signs() || kind == "afresh" && s.cfg.Signing.Desk != nil
	case "/drive":
		return page{path: path, kind: "drive"}, true
	}
	if escaped, ok := strings.CutPrefix(path, "/optic/"); ok {
		name, err := url.PathUnescape(escaped)
		return page{path: opticPath(name), kind: "optic", corner: name}, err == nil && opticOf(s.refresh(), name) >= 0
	}
	escaped, ok := strings.CutPrefix(path, "/corner/")
	name, err := url.PathUnescape(escaped)
	if !ok || err != nil || cornerOf(s.refresh(), name) < 0 {
		return page{}, false
	}
	return page{path: cornerPath(name), kind: "corner", corner: name}, true
}

// ask takes from a query what is wanted of a page. Of a word that is none nothing is wanted: what is kept of a
// page must not grow with what is asked.
func (p *page) ask(query url.Values, languages map[string]*template.Template) {
	p.given = languages[query.Get("lang")] != nil
	for q := range checks.Quantities {
		if p.kind != "overview" && q.String() == query.Get("channel") {
			p.channel = q.String()
		}
	}
}

// cornerOf returns the number of a corner, -1 for none.
func cornerOf(m *moment, name string) int {
	if m.snapshot != nil {
		for i := range m.snapshot.Setup.Checks.Corners {
			if m.snapshot.Setup.Checks.Corners[i].Name == name {
				return i
			}
		}
	}
	return -1
}

// opticOf returns the number of an optical sensor, -1 for none.
func opticOf(m *moment, name string) int {
	if m.snapshot == nil {
		return -1
	}
	return slices.IndexFunc(m.snapshot.Setup.Checks.Optics, func(o checks.Optic) bool { return o.Name == name })
}

func cornerPath(name string) string { return "/corner/" + url.PathEscape(name) }
func opticPath(name string) string  { return "/optic/" + url.PathEscape(name) }

// readLooks reads the templates once for each language.
func readLooks(words catalogue) (map[string]*template.Template, error) {
	out := map[string]*template.Template{}
	for _, lang := range []string{english, german} {
		t := template.New("").Funcs(template.FuncMap{
			"t":    func(key string, with ...string) string { return words.say(lang, key, with...) },
			"size": wordSize,
		})
		t, err := t.ParseFS(files, "templates/*.html")
		if err != nil {
			return nil, fmt.Errorf("web: templates: %w", err)
		}
		out[lang] = t
	}
	return out, nil
}

// region is a part of a page.
type region struct {
	Name string
	HTML template.HTML
}

// cache keeps what has been rendered of one moment: many viewers look at few pages.
type cache struct {
	mu   sync.Mutex
	done map[string][]region
}

// render returns the regions of a page as they are at a moment.
func (s *Server) render(m *moment, p *page, lang string) ([]region, error) {
	m.cache.mu.Lock()
	defer m.cache.mu.Unlock()
	key := fmt.Sprint(lang, p.given, p.channel, p.path)
	if out, ok := m.cache.done[key]; ok {
		return out, nil
	}
	view := s.view(m, p, lang)
	var out []region
	for _, name := range p.parts() {
		var b bytes.Buffer
		if err := s.looks[lang].ExecuteTemplate(&b, name+".html", view); err != nil {
			return nil, err
		}
		out = append(out, region{name, template.HTML(b.String())}) //nolint:gosec // it comes from html/template, which has escaped it
	}
	if m.cache.done == nil {
		m.cache.done = map[string][]region{}
	}
	m.cache.done[key] = out
	return out, nil
}

// view is what templates see.
type view struct {
	Lang     string
	Query    string // appended to addresses of our own: the language, where it was given
	Page     page
	Path     string
	Kind     string
	State    state
	Vehicle  string
	Marks    bool
	Headline headline
	Map      vehicleMap
	Found    found
	Corner   cornerView
	Strip    stripView
	Steps    []stepView
	Confirms []stepView
	Sign     signView
	Tests    testsView
	Drive    driveView
	Tape     tapeView
	Driving  string // since when it is driven; empty: it is not
	Caution  string // of the page of the drive
}

// view builds what a page shows.
func (s *Server) view(m *moment, p *page, lang string) *view {
	c := composer{m: m, lang: lang, words: s.words}
	v := &view{Lang: lang, Page: *p, Path: p.path, Kind: p.kind, State: m.state, Marks: s.cfg.Mark != nil}
	if p.given {
		v.Query = "?lang=" + lang
	}
	c.query = v.Query
	v.Headline, v.Tape = c.headline(), c.tape()
	v.Sign = s.signView(&c)
	if p.kind == "tests" {
		v.Tests = s.testsView(&c)
	}
	s.signed(&c, v)
	if m.snapshot == nil {
		return v
	}
	v.Vehicle = m.snapshot.Setup.Vehicle
	switch p.kind {
	case "corner":
		if i := cornerOf(m, p.corner); i >= 0 {
			k := &m.snapshot.Setup.Checks.Corners[i]
			v.Corner = c.corner(i)
			v.Strip = c.strip(&k.Channels, p.channel, p.path, cornerLimits(&m.snapshot.Setup.Checks.Limits))
		}
	case "optic":
		if i := opticOf(m, p.corner); i >= 0 {
			o := &m.snapshot.Setup.Checks.Optics[i]
			v.Corner = c.optic(o)
			v.Strip = c.strip(&o.Channels, p.channel, p.path, opticLimits(o))
		}
	case "steps":
		v.Steps, v.Confirms = c.stepViews()
	case "drive":
		v.Caution = c.t("caution.drive")
		if v.Headline, v.Drive = c.driveHeadline(), c.drive(); v.Headline.Tape {
			v.Tape = tapeView{} // said once
		}
	default:
		v.Map, v.Found = c.vehicle(), c.found()
		if c.driving() != nil {
			v.Driving = c.whenDriven()
		}
	}
	return v
}

// composer turns one moment into words and shapes.
type composer struct {
	m     *moment
	lang  string
	query string
	words catalogue
}

func (c *composer) t(key string, with ...string) string { return c.words.say(c.lang, key, with...) }

// document is a whole page.
type document struct {
	Lang, Query, Title, Path, Kind, Vehicle string
	Channel                                 string // of the strip, where the address names it
	Other, OtherHref                        string // the other language
	Build                                   string
	State                                   state
	Age                                     string // s
	Refresh                                 int    // s between two reloads where there are no scripts
	Regions                                 []region
	Tests                                   bool   // earlier ones are listed here
	Message                                 string // of a page that is an answer to something that did not work
}

func (s *Server) overview(w http.ResponseWriter, r *http.Request) { s.page(w, r, "/") }
func (s *Server) steps(w http.ResponseWriter, r *http.Request)    { s.page(w, r, "/steps") }

func (s *Server) corner(w http.ResponseWriter, r *http.Request) {
	s.page(w, r, cornerPath(r.PathValue("name")))
}

func (s *Server) optic(w http.ResponseWriter, r *http.Request) {
	s.page(w, r, opticPath(r.PathValue("name")))
}

// page writes the page at a path.
func (s *Server) page(w http.ResponseWriter, r *http.Request, path string) {
	p, ok := s.find(path)
	if !ok {
		s.notFound(w, r)
		return
	}
	p.ask(r.URL.Query(), s.looks)
	m, lang := s.refresh(), s.language(r)
	regions, err := s.render(m, &p, lang)
	if err != nil {
		http.Error(w, "the page cannot be made: "+err.Error(), http.StatusInternalServerError)
		return
	}
	d := s.document(m, lang, p.given, p.path)
	d.Kind, d.Regions, d.Refresh = p.kind, regions, 2
	if d.Channel = p.channel; d.Channel != "" {
		d.OtherHref += "&channel=" + d.Channel
	}
	if p.kind != "overview" && p.kind != "corner" && p.kind != "optic" {
		d.Refresh = 30 // somebody is writing
	}
	d.Title = s.words.say(lang, "title."+p.kind, p.corner)
	s.write(w, http.StatusOK, d)
}

func (s *Server) document(m *moment, lang string, given bool, path string) *document {
	d := &document{Lang: lang, Path: path, Build: s.build, State: m.state, Other: german, Tests: s.signs()}
	if lang == german {
		d.Other = english
	}
	d.OtherHref = path + "?lang=" + d.Other
	if given {
		d.Query = "?lang=" + lang
	}
	if m.snapshot != nil {
		d.Vehicle = m.snapshot.Setup.Vehicle
		d.Age = decimals(lang, s.now().Sub(m.since).Seconds(), 0)
	}
	return d
}

// write sends a document.
func (s *Server) write(w http.ResponseWriter, status int, d *document) {
	var b bytes.Buffer
	if err := s.looks[d.Lang].ExecuteTemplate(&b, "document.html", d); err != nil {
		http.Error(w, "the page cannot be made: "+err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Add("Vary", "Accept-Language")
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes()) // who has gone needs no answer
}

// notFound says that there is nothing at an address.
func (s *Server) notFound(w http.ResponseWriter, r *http.Request) {
	lang := s.language(r)
	d := s.document(s.refresh(), lang, s.looks[r.URL.Query().Get("lang")] != nil, "/")
	d.Kind, d.Title, d.Message = "message", s.words.say(lang, "notfound"), s.words.say(lang, "notfound.how")
	s.write(w, http.StatusNotFound, d)
}

// refuse says what is wrong with a form.
func (s *Server) refuse(w http.ResponseWriter, r *http.Request, why string) {
	lang := s.language(r)
	d := s.document(s.refresh(), lang, s.looks[r.URL.Query().Get("lang")] != nil, "/steps")
	d.Kind, d.Title, d.Message = "message", s.words.say(lang, "refused"), why
	s.write(w, http.StatusUnprocessableEntity, d)
}
