package web

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"

	"plumbline/daemon"
	"plumbline/daemon/results"
)

// deskOf is a desk without a bus: it freezes what a stage shows.
type deskOf struct {
	stage *stage
	test  *daemon.Test
	mu    sync.Mutex
	words []string
	err   error
	hold  chan struct{} // if set, Freeze waits for it
	began chan struct{} // and says here that it does
}

func (d *deskOf) Freeze(_ context.Context, words string) (*daemon.Frozen, error) {
	if d.hold != nil {
		close(d.began)
		<-d.hold
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.words = append(d.words, words)
	if d.err != nil {
		return nil, d.err
	}
	s := d.stage.snapshot()
	return &daemon.Frozen{Result: s.Result, Now: s.Now, Setup: s.Setup}, nil
}

func (d *deskOf) Afresh(context.Context) error {
	d.test.Afresh()
	return d.err
}

// newSigning is a stage at which tests are signed.
func newSigning(tb testing.TB, cfg Config) (*stage, *Server, *deskOf) {
	tb.Helper()
	store, err := results.Open(filepath.Join(tb.TempDir(), "tests"), nil)
	if err != nil {
		tb.Fatal(err)
	}
	d := &deskOf{test: daemon.NewTest()}
	cfg.Test, cfg.Signing = d.test, Signing{Desk: d, Results: store, Program: "plumbline (test)"}
	st, s := newStage(tb, cfg)
	d.stage = st
	return st, s, d
}

// hidden returns what a form of a page carries without showing it.
func hidden(t *testing.T, page, name string) string {
	t.Helper()
	m := regexp.MustCompile(`<input type="hidden" name="` + name + `" value="([^"]*)">`).FindStringSubmatch(page)
	if m == nil {
		t.Fatalf("the page has no hidden %s", name)
	}
	return m[1]
}

// filled is the form of the sign-off page as it stands, with who signs.
func filled(t *testing.T, s *Server) url.Values {
	t.Helper()
	page := get(s, "/signoff").Body.String()
	return url.Values{
		"test": {hidden(t, page, "test")}, "amends": {hidden(t, page, "amends")},
		"performed": {"A. Berg"}, "initials": {"AB"}, "place": {"Hall <3>"}, "conditions": {"21 °C"}, "item": {"no. 7"},
	}
}

func folders(t *testing.T, s *Server) []string {
	t.Helper()
	entries, err := os.ReadDir(s.cfg.Signing.Results.Dir())
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// A test is signed with what is open, signed again after that, and begun anew; each page says what is so.
func TestSignOff(t *testing.T) {
	st, s, d := newSigning(t, Config{})
	st.play(s, newScene(t, 4, "zero-fx:FL=115"), 45)
	has := func(path string, wants ...string) string {
		t.Helper()
		w := get(s, path)
		if w.Code != http.StatusOK {
			t.Errorf("%s: status %d", path, w.Code)
		}
		for _, want := range wants {
			if !strings.Contains(w.Body.String(), want) {
				t.Errorf("%s does not say %q", path, want)
			}
		}
		return w.Body.String()
	}
	has("/tests", "No test has been signed yet")
	has("/afresh", "This test is not signed", "There will be no report of it", "Sign first")
	has("/steps", "Sign the test", "Start afresh")
	has("/signoff", "Checks failed", "Findings that failed: 1", "FL zero", "Steps not done: ", "Let down on its wheels", "Not confirmed: ", "Required and not judged: ")
	post(s, "/skip", "same-origin", url.Values{"step": {"roll"}, "reason": {"no room here"}, "initials": {"CD"}})
	post(s, "/confirm", "same-origin", url.Values{"id": {"wheel-bolts"}, "value": {"120"}, "initials": {"AB"}})
	has("/signoff", "Gone on without: 1", "Out of range: 1")
	form := filled(t, s)
	if w := post(s, "/signoff?lang=de", "same-origin", form); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/signoff?lang=de" {
		t.Fatalf("status %d to %q: %s", w.Code, w.Header().Get("Location"), w.Body)
	}
	if names := folders(t, s); len(names) != 1 {
		t.Fatalf("folders %q, want one", names)
	}
	name := folders(t, s)[0]
	page := has("/signoff", "Signed by A. Berg", "The report says so. Mend the fault", "/tests/"+name+"/report.html", "Start the next test", `value="A. Berg"`, `value="Hall &lt;3&gt;"`)
	if hidden(t, page, "amends") == "" {
		t.Error("a second sign-off would not say which report it replaces")
	}
	report := has("/tests/"+name+"/report.html", "Funktionsprüfung", "A. Berg (AB)", "Hall &lt;3&gt;", "no room here", "CD", "beim Abschluss der Prüfung nicht getan", "Auf die Räder abgelassen", "außerhalb")
	if strings.Contains(report, "Eingeschaltet, jede Botschaft kommt an</td>") {
		t.Error("a step that was done is a deviation")
	}
	var r daemon.Result
	w := get(s, "/tests/"+name+"/result.json")
	if err := json.Unmarshal(w.Body.Bytes(), &r); err != nil || w.Header().Get("Content-Type") != "application/json" {
		t.Fatalf("%v, %s", err, w.Header().Get("Content-Type"))
	}
	for _, d := range r.Deviations { // who went on without it, who signed, or the program itself
		want := "AB"
		switch d.Step {
		case "roll":
			want = "CD"
		case "recording":
			want = ""
		}
		if d.Initials != want {
			t.Errorf("%s: initials %q, want %q", d.Step, d.Initials, want)
		}
	}
	if len(r.Deviations) < 3 || r.Confirmations[0].Value == nil || r.Confirmations[0].State != daemon.StateOpen {
		t.Errorf("deviations %+v, confirmation %+v", r.Deviations, r.Confirmations[0])
	}
	has("/tests", name, "Failed", "Signed by A. Berg", st.snapshot().Setup.Vehicle)
	var list []results.Entry
	if err := json.Unmarshal([]byte(has("/api/tests")), &list); err != nil || len(list) != 1 || list[0].Name != name {
		t.Errorf("%v, %+v", err, list)
	}
	has("/", "Signed by A. Berg")

	// double submit, and the form of a second tablet
	if w := post(s, "/signoff", "same-origin", form); w.Code != http.StatusConflict || !strings.Contains(w.Body.String(), "Signed already") || !strings.Contains(w.Body.String(), list[0].Report) {
		t.Errorf("sent twice: status %d", w.Code)
	}
	if len(folders(t, s)) != 1 || len(d.words) != 1 {
		t.Errorf("folders %q, frozen %q: it was signed twice", folders(t, s), d.words)
	}
	// nothing has changed: there is a report of exactly this
	again := filled(t, s)
	if w := post(s, "/signoff?lang=de", "same-origin", again); w.Code != http.StatusConflict {
		t.Errorf("the same once more: status %d, want 409", w.Code)
	}
	post(s, "/confirm", "same-origin", url.Values{"id": {"wheel-bolts"}, "value": {"160"}, "initials": {"AB"}})
	if w := post(s, "/signoff", "same-origin", again); w.Code != http.StatusSeeOther || len(folders(t, s)) != 2 {
		t.Errorf("signed again: status %d, folders %q", w.Code, folders(t, s))
	}
	has("/tests", "replaces report "+list[0].Report)

	// a new test, asked for twice
	if w := post(s, "/afresh", "same-origin", url.Values{"test": {again.Get("test")}}); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/afresh" {
		t.Errorf("without really: status %d to %q, want the question", w.Code, w.Header().Get("Location"))
	}
	page = has("/afresh", "Really begin a new test?", "Signed by A. Berg")
	really := url.Values{"test": {hidden(t, page, "test")}, "really": {"yes"}}
	if w := post(s, "/afresh", "same-origin", really); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/" {
		t.Errorf("really: status %d to %q", w.Code, w.Header().Get("Location"))
	}
	if w := post(s, "/afresh", "same-origin", really); w.Code != http.StatusConflict {
		t.Errorf("sent twice: status %d, want 409", w.Code)
	}
	if w := post(s, "/signoff", "same-origin", again); w.Code != http.StatusConflict || !strings.Contains(w.Body.String(), "Another test has begun") {
		t.Errorf("the form of the test before: status %d", w.Code)
	}
	page = has("/signoff", `value="A. Berg"`, `value="no. 7"`)
	if strings.Contains(page, "21 °C") || strings.Contains(page, "Signed by") {
		t.Error("the new test has the conditions of the one before, or is signed")
	}
	if steps := has("/steps"); strings.Contains(steps, "no room here") || strings.Contains(steps, "160 N·m") {
		t.Error("what was said of the test before stands in the new one")
	}
}

// What is sent is bounded, of this site, and names nothing outside.
func TestSignOffRefuses(t *testing.T) {
	st, s, d := newSigning(t, Config{})
	st.play(s, newScene(t, 1), 5)
	good := filled(t, s)
	with := func(name, value string) url.Values {
		v := url.Values{}
		for k := range good {
			v.Set(k, good.Get(k))
		}
		v.Set(name, value)
		return v
	}
	for _, tt := range []struct {
		name, path, site string
		form             url.Values
		status           int
		says             string
	}{
		{"another site", "/signoff", "cross-site", good, 403, ""},
		{"a sibling site", "/signoff", "same-site", good, 403, ""},
		{"afresh from another site", "/afresh", "cross-site", url.Values{"test": {good.Get("test")}, "really": {"yes"}}, 403, ""},
		{"nobody", "/signoff", "same-origin", with("performed", " "), 422, "Who performed"},
		{"no initials", "/signoff", "same-origin", with("initials", ""), 422, "Who performed"},
		{"two lines", "/signoff", "same-origin", with("place", "a\nb"), 422, "one line"},
		{"not text", "/signoff", "same-origin", with("customer", "\xff"), 422, "plain text"},
		{"long", "/signoff", "same-origin", with("item", strings.Repeat("x", maxWords+1)), 422, "200 characters"},
		{"huge", "/signoff", "same-origin", with("item", strings.Repeat("x", maxBody)), 400, "larger than a form"},
		{"another test", "/signoff", "same-origin", with("test", "00000000"), 409, "Another test has begun"},
		{"no test", "/afresh", "same-origin", url.Values{"really": {"yes"}}, 409, "begun already"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			w := post(s, tt.path, tt.site, tt.form)
			if w.Code != tt.status || !strings.Contains(w.Body.String(), tt.says) {
				t.Errorf("status %d, want %d and %q", w.Code, tt.status, tt.says)
			}
		})
	}
	if len(d.words) > 0 || len(folders(t, s)) > 0 || s.cfg.Test.Said().Signed != nil {
		t.Errorf("frozen %q, folders %q, want none", d.words, folders(t, s))
	}
	secret := filepath.Join(filepath.Dir(s.cfg.Signing.Results.Dir()), "report.html")
	if err := os.WriteFile(secret, []byte("secret"), 0o600); err != nil {
		t.Fatal(err)
	}
	post(s, "/signoff", "same-origin", with("place", "../../../etc"))
	name := folders(t, s)[0]
	for _, path := range []string{
		"/tests/../report.html", "/tests/%2e%2e/report.html", "/tests/..%2Freport.html/report.html", "/tests/%2F/report.html", "/tests/x/report.html",
		"/tests/" + name + "/..%2f..%2freport.html", "/tests/" + name + "/sign-off.json", "/tests/" + name + "/SHA256SUMS", "/tests/" + name + "/recording",
		"/tests/" + name + "/", "/tests/" + name, "/tests/" + name + "%00/report.html", "/tests/./report.html", "/tests/recording/report.html", "/tests/" + strings.ToUpper(name) + "/report.html",
	} {
		w := get(s, path)
		if w.Code == http.StatusOK || strings.Contains(w.Body.String(), "secret") {
			t.Errorf("%s: status %d", path, w.Code)
		}
	}
	w := get(s, "/tests/"+name+"/report.html")
	if policy := w.Header().Get("Content-Security-Policy"); w.Code != 200 || !strings.Contains(policy, "default-src 'none'; style-src 'unsafe-inline'") || strings.Contains(policy, "script-src") {
		t.Errorf("the report: status %d, policy %q", w.Code, policy)
	}
}

// Where nothing is signed, the page offers none of it.
func TestNoSigning(t *testing.T) {
	st, s := newStage(t, Config{})
	st.play(s, newScene(t, 1), 5)
	for _, path := range []string{"/signoff", "/afresh", "/tests", "/api/tests", "/tests/x/report.html"} {
		if w := get(s, path); w.Code != http.StatusNotFound {
			t.Errorf("GET %s: status %d, want 404", path, w.Code)
		}
	}
	for _, path := range []string{"/signoff", "/afresh"} {
		if w := post(s, path, "same-origin", url.Values{"really": {"yes"}}); w.Code != http.StatusNotFound {
			t.Errorf("POST %s: status %d, want 404", path, w.Code)
		}
	}
	for _, path := range []string{"/", "/steps"} {
		for _, no := range []string{"/signoff", "/afresh", `"/tests`} {
			if strings.Contains(get(s, path).Body.String(), no) {
				t.Errorf("%s leads to %s", path, no)
			}
		}
	}
	st, s, d := newSigning(t, Config{})
	s.cfg.Signing.Results = nil
	d.stage = st
	st.play(s, newScene(t, 1), 5)
	if page := get(s, "/steps").Body.String(); !strings.Contains(page, `href="/afresh"`) || strings.Contains(page, `href="/signoff"`) {
		t.Error("without a folder for results a test can still be begun anew, and not be signed")
	}
}

// An error is told, nothing is lost by it, and it can be signed again.
func TestSignOffFails(t *testing.T) {
	st, s, d := newSigning(t, Config{})
	st.play(s, newScene(t, 1), 5)
	form := filled(t, s)
	fails := func(why string) {
		t.Helper()
		w := post(s, "/signoff", "same-origin", form)
		if w.Code != http.StatusInternalServerError || !strings.Contains(w.Body.String(), "Not signed") || !strings.Contains(w.Body.String(), why) {
			t.Errorf("status %d, want 500 that says %q: %s", w.Code, why, w.Body)
		}
		if page := get(s, "/signoff").Body.String(); !strings.Contains(page, `value="A. Berg"`) || strings.Contains(page, "Signed by") {
			t.Error("what was filled in is lost, or the page says that it was signed")
		}
	}
	d.err = errors.New("the recording has stopped: no space left on device")
	fails("no space left on device")
	d.err = nil
	dir := s.cfg.Signing.Results.Dir()
	if err := os.Rename(dir, dir+".away"); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(dir, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	fails(syscall.ENOTDIR.Error())
	if w := get(s, "/tests"); w.Code != 200 || !strings.Contains(w.Body.String(), "not a directory") {
		t.Errorf("the list of tests: status %d, does not say why it is empty", w.Code)
	}
	if err := errors.Join(os.Remove(dir), os.Rename(dir+".away", dir)); err != nil {
		t.Fatal(err)
	}
	if w := post(s, "/signoff", "same-origin", form); w.Code != http.StatusSeeOther || len(folders(t, s)) != 1 {
		t.Errorf("signed again: status %d, folders %q", w.Code, folders(t, s))
	}
}

// Two tablets sign at once: one does, the other is told.
func TestTwoTablets(t *testing.T) {
	st, s, d := newSigning(t, Config{})
	st.play(s, newScene(t, 1), 5)
	form := filled(t, s)
	d.hold, d.began = make(chan struct{}), make(chan struct{})
	first := make(chan *httptest.ResponseRecorder)
	go func() { first <- post(s, "/signoff", "same-origin", form) }()
	<-d.began
	if w := post(s, "/signoff", "same-origin", form); w.Code != http.StatusConflict || !strings.Contains(w.Body.String(), "is being signed now") {
		t.Errorf("the second: status %d", w.Code)
	}
	if w := post(s, "/afresh", "same-origin", url.Values{"test": {form.Get("test")}, "really": {"yes"}}); w.Code != http.StatusConflict {
		t.Errorf("a new test meanwhile: status %d, want 409", w.Code)
	}
	close(d.hold)
	if w := <-first; w.Code != http.StatusSeeOther {
		t.Errorf("the first: status %d", w.Code)
	}
	if w := post(s, "/signoff", "same-origin", form); w.Code != http.StatusConflict || !strings.Contains(w.Body.String(), "Signed already") {
		t.Errorf("the second again: status %d", w.Code)
	}
	if names := folders(t, s); len(names) != 1 {
		t.Errorf("folders %q, want one", names)
	}
}

// FuzzForms: whatever is sent, no handler panics, and nothing is written outside of the results.
func FuzzForms(f *testing.F) {
	for i, body := range []string{
		"test=x&performed=A&initials=B", "id=wheel-bolts&value=1e400&initials=AB", "id=cable&initials=%00", "step=roll&reason=%ff", "step=turn%2FFL&reason=x&reason=y",
		"really=yes&test=", "text=turn+FL", "performed=%2e%2e%2f&initials=..&place=%5c", ";;&&==", "a=%zz",
	} {
		f.Add(uint8(i), body, "/tests/../x/report.html")
	}
	st, s, d := newSigning(f, Config{Mark: func(string) {}})
	scene := newScene(f, 1)
	st.now.Store(scene.at(5))
	outside := filepath.Dir(s.cfg.Signing.Results.Dir())
	paths := []string{"/signoff", "/confirm", "/skip", "/afresh", "/mark"}
	f.Fuzz(func(t *testing.T, which uint8, body, path string) {
		body = strings.Replace(body, "test=x", "test="+d.test.Said().Token, 1)
		w := httptest.NewRecorder()
		r := httptest.NewRequest(http.MethodPost, paths[int(which)%len(paths)], strings.NewReader(body))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		s.ServeHTTP(w, r)
		if w.Code >= 500 || w.Code == http.StatusOK {
			t.Errorf("%q: status %d: %s", body, w.Code, w.Body)
		}
		if u, err := url.ParseRequestURI(path); err == nil && strings.HasPrefix(path, "/") {
			r := httptest.NewRequest(http.MethodGet, "/", nil)
			r.URL = u
			s.ServeHTTP(httptest.NewRecorder(), r)
		}
		for _, page := range []string{"/steps", "/signoff", "/tests"} {
			if w := get(s, page); w.Code != http.StatusOK {
				t.Errorf("%s after %q: status %d", page, body, w.Code)
			}
		}
		if entries, err := os.ReadDir(outside); err != nil || len(entries) != 1 {
			t.Errorf("%v, beside the results: %v", err, entries)
		}
	})
}
