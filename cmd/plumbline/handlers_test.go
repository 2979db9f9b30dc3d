package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"plumbline/bus/simulated"
	"plumbline/daemon"
	"plumbline/daemon/results"
	"plumbline/daemon/setup"
	"plumbline/daemon/web"
)

const (
	// hiddenWord stands in every file of the site that nobody may be given.
	hiddenWord = "hidden-a-d-d-8-3-e"

	// probe stands in a request wherever it has a "~": where an answer is HTML, none of it may come back as it is.
	probe = `"'><q7 q7=1>`
)

// site is all that the daemon serves, of a vehicle whose test has ended and was signed once.
type site struct {
	handler http.Handler
	test    *daemon.Test
	dir     string // of signed tests
	signed  string // the folder of the one there is
}

// stillDesk freezes a test that does not go on.
type stillDesk struct {
	snapshot *daemon.Snapshot
	test     *daemon.Test
}

func (d *stillDesk) Freeze(context.Context, string) (*daemon.Frozen, error) {
	return &daemon.Frozen{Result: d.snapshot.Result, Now: d.snapshot.Now, Setup: d.snapshot.Setup}, nil
}

func (d *stillDesk) Afresh(context.Context) error {
	d.test.Afresh()
	return nil
}

func newSite(tb testing.TB) *site {
	tb.Helper()
	must := func(err error) {
		tb.Helper()
		if err != nil {
			tb.Fatal(err)
		}
	}
	cfg := simulated.Standard(1)
	cfg.Script = cfg.FunctionShort()
	hidden := "\n# " + hiddenWord + "\n"
	s, err := setup.Parse("one.yaml", []byte(cfg.SetupYAML()+hidden), func(string) ([]byte, error) {
		return []byte("CM_ \"" + hiddenWord + "\";\n" + cfg.DBCs()[0].Text), nil
	})
	must(err)
	bench, err := daemon.NewBench(s, "plumbline (test)")
	must(err)
	vehicle, err := simulated.New(cfg)
	must(err)
	judge := bench.Judge("demo")
	judge.KeepWindows()
	var at int64
	judge.Grid = func(now int64) { at = now }
	must(judge.Run(tb.Context(), vehicle))
	snapshot := &daemon.Snapshot{At: at, Clock: at, Result: judge.Result(), Now: judge.Now(), Setup: s}

	outside := tb.TempDir()
	v := &site{test: daemon.NewTest(), dir: filepath.Join(outside, "tests")}
	store, err := results.Open(v.dir, nil)
	must(err)
	finished := make(chan struct{})
	close(finished) // an end is not stale, however long the fuzzing lasts
	flags := serveFlags{listen: "127.0.0.1:0", hosts: []string{"bench-3.example"}}
	_, v.handler, err = flags.handler(web.Config{
		Snapshot: func() *daemon.Snapshot { return snapshot }, Finished: finished, Mark: func(string) {}, Test: v.test,
		Signing: web.Signing{Desk: &stillDesk{snapshot, v.test}, Results: store, Program: "plumbline (test)"},
	})
	must(err)
	w := v.answer(tb, "POST", "/signoff", formHeaders, "test="+v.test.Said().Token+"&performed=A.+Berg&initials=AB")
	if w.Code != http.StatusSeeOther {
		tb.Fatalf("signing: status %d: %s", w.Code, w.Body)
	}
	v.signed = v.folders(tb)[0]
	for _, path := range []string{"report.html", "tests/report.html", "tests/" + v.signed + "/recording/report.html", "tests/" + v.signed + "/recording/part.pcapng"} {
		path = filepath.Join(outside, filepath.FromSlash(path))
		must(os.MkdirAll(filepath.Dir(path), 0o750))
		must(os.WriteFile(path, []byte(hiddenWord), 0o600))
	}
	return v
}

func (v *site) folders(tb testing.TB) (names []string) {
	tb.Helper()
	entries, err := os.ReadDir(v.dir)
	if err != nil {
		tb.Fatal(err)
	}
	for _, e := range entries {
		if e.IsDir() {
			names = append(names, e.Name())
		}
	}
	return names
}

// once is an answer of which a stream is over after the first that it sends.
type once struct {
	*httptest.ResponseRecorder
	leave context.CancelFunc
}

func (o once) Flush()                      { o.ResponseRecorder.Flush(); o.leave() }
func (o once) Unwrap() http.ResponseWriter { return o.ResponseRecorder }

// answer sends a request as it goes over the network; nil: it is none that net/http would hand on.
func (v *site) answer(tb testing.TB, method, target, headers, body string) *httptest.ResponseRecorder {
	tb.Helper()
	text := fmt.Sprintf("%s %s HTTP/1.1\r\n%sContent-Length: %d\r\n\r\n%s", method, target, headers, len(body), body)
	r, err := http.ReadRequest(bufio.NewReader(strings.NewReader(text)))
	if err != nil || r.RequestURI == "*" {
		return nil
	}
	ctx, leave := context.WithCancel(context.Background())
	defer leave()
	w := httptest.NewRecorder()
	r.RemoteAddr = "192.0.2.1:1234"
	v.handler.ServeHTTP(once{w, leave}, r.WithContext(ctx))
	return w
}

const (
	plainHeaders = "Host: localhost\r\n"
	formHeaders  = "Host: 127.0.0.1:8474\r\nContent-Type: application/x-www-form-urlencoded\r\nSec-Fetch-Site: same-origin\r\n"
)

var (
	sums     = regexp.MustCompile(`(?m)^[0-9a-f]{64} [ *]`)
	elsewhat = regexp.MustCompile(`^([^/]|/[/\\]|$)`)
)

// faults says what is wrong with an answer.
func (v *site) faults(w *httptest.ResponseRecorder) error {
	var faults []error
	fault := func(format string, args ...any) { faults = append(faults, fmt.Errorf(format, args...)) }
	body, kind := w.Body.String(), w.Header().Get("Content-Type")
	if w.Code >= 500 {
		fault("status %d: %s", w.Code, body)
	}
	if got := w.Header().Get("X-Content-Type-Options"); got != "nosniff" {
		fault("status %d: X-Content-Type-Options %q, want nosniff", w.Code, got)
	}
	if kind == "" && body != "" {
		fault("status %d: no Content-Type", w.Code)
	}
	if to, ok := w.Header()["Location"]; ok && elsewhat.MatchString(to[0]) {
		fault("leads to %q, want a path of this site", to[0])
	}
	for name, values := range w.Header() {
		if strings.ContainsAny(name+strings.Join(values, ""), "\r\n\x00") {
			fault("header %q: %q", name, values)
		}
	}
	if strings.Contains(body, hiddenWord) || sums.MatchString(body) || strings.Contains(body, "root:x:0:") {
		fault("serves what is nobody's business:\n%s", body)
	}
	switch {
	case strings.HasPrefix(kind, "text/html"), strings.HasPrefix(kind, "image/svg"):
		faults = append(faults, reflected(body))
	case kind == "text/event-stream":
		for line := range strings.Lines(body) {
			data, ok := strings.CutPrefix(line, "data: ")
			if !ok {
				continue
			}
			var e struct{ Regions map[string]string }
			if err := json.Unmarshal([]byte(data), &e); err != nil {
				fault("an event: %w", err)
			}
			for _, html := range e.Regions {
				faults = append(faults, reflected(html))
			}
		}
	case kind == "application/json":
		if w.Code == http.StatusOK && w.Header().Get("Content-Range") == "" && body != "" && !json.Valid([]byte(body)) {
			fault("no JSON:\n%s", body)
		}
	}
	return errors.Join(faults...)
}

// reflected says where the probe stands in HTML as it was sent.
func reflected(html string) error {
	for _, part := range []string{"<q7", `"'>`, `"'&gt;`, ` q7=1`} {
		if i := strings.Index(strings.ToLower(html), part); i >= 0 && (part != " q7=1" || !strings.Contains(html[max(0, i-12):i], "&lt;q7")) {
			return fmt.Errorf("%q of the request stands in the page: …%s…", part, html[max(0, i-60):min(len(html), i+60)])
		}
	}
	return nil
}

// FuzzHandlers: whatever is asked, no handler panics or fails, what is not meant to be served is not, no answer can be taken
// for something that it is not, and nothing of a request comes back as HTML.
func FuzzHandlers(f *testing.F) {
	v := newSite(f)
	outside := filepath.Dir(v.dir)
	for _, target := range []string{
		"/", "/?lang=de", "/corner/FL?channel=fx", "/optic/camber%20FL", "/steps?lang=~", "/drive", "/signoff", "/afresh", "/tests", "/api/result", "/api/tests",
		"/api/stream", "/api/stream?page=/corner/FL&channel=fz", "/api/stream?page=/optic/~", "/-/healthy", "/-/ready", "/metrics", "/runbooks/", "/runbooks/drift",
		"/runbooks/~", "/assets/page.css", "/assets/../catalogue.json", "/assets/%2e%2e/templates/document.html", "/corner/~", "/~?~=~&lang=~", "//evil.example/..", "/\\evil.example",
		"http://evil.example/tests", "/tests/NAME/report.html", "/tests/NAME/result.json", "/tests/NAME/SHA256SUMS", "/tests/NAME/setup.yaml", "/tests/NAME/recording/report.html",
		"/tests/NAME%2frecording/report.html", "/tests/NAME/%2e%2e%2freport.html", "/tests/%252e%252e/report.html", "/tests/..%5creport.html/report.html", "/tests/NAME%00/report.html",
		"/tests//report.html", "/tests/%2fetc/passwd", "/tests/NAME/..%2f..%2freport.html", "/runbooks/..%2f..%2fetc%2fpasswd", "/runbooks/../metrics", "/assets//etc/passwd",
	} {
		f.Add("GET", target, plainHeaders, "")
	}
	for target, body := range map[string]string{
		"/signoff": "test=TOKEN&performed=~&initials=AB&place=~&item=~", "/signoff?lang=de": "performed=%ff", "/afresh": "test=TOKEN&really=yes", "/mark?lang=~": "text=~",
		"/confirm": "id=wheel-bolts&value=160&initials=~", "/confirm?x": "id=cable&possible=no&reason=~&initials=~", "/skip": "step=roll&reason=~", "/skip?lang=de": "step=~&reason=",
	} {
		f.Add("POST", target, formHeaders, body)
	}
	f.Add("HEAD", "/api/stream", plainHeaders, "")
	f.Add("HEAD", "/tests/NAME/report.html", plainHeaders, "")
	f.Add("GET", "/tests/NAME/report.html", plainHeaders+"Range: bytes=0-9,20-\r\nIf-Range: x\r\n", "")
	f.Add("GET", "/assets/page.js", plainHeaders+"If-None-Match: *\r\nAccept-Language: de;q=~, en\r\n", "")
	f.Add("GET", "/metrics", plainHeaders+"Accept: application/openmetrics-text;version=1.0.0;q=0.9,application/vnd.google.protobuf;proto=~\r\n", "")
	f.Add("GET", "/", "Host: ~\r\n", "")
	f.Add("GET", "/", "Host: [::1]:8474\r\nCookie: a=~\r\n", "")
	f.Add("POST", "/skip", "Host: localhost\r\nOrigin: http://evil.example\r\nContent-Type: multipart/form-data; boundary=b\r\n", "--b\r\nContent-Disposition: form-data; name=\"step\"\r\n\r\nroll\r\n--b--\r\n")
	f.Add("OPTIONS", "/", plainHeaders, "")
	f.Add("CONNECT", "localhost:80", plainHeaders, "")
	f.Add("PUT", "/tests/NAME/report.html", plainHeaders, "x")
	f.Fuzz(func(t *testing.T, method, target, headers, body string) {
		said := strings.NewReplacer("~", url.QueryEscape(probe), "NAME", v.signed, "TOKEN", v.test.Said().Token)
		w := v.answer(t, method, said.Replace(target), strings.ReplaceAll(headers, "~", probe), said.Replace(body))
		if w == nil {
			return
		}
		if err := v.faults(w); err != nil {
			t.Error(err)
		}
		if method != http.MethodGet && method != http.MethodHead && w.Code == http.StatusOK {
			t.Errorf("status 200 of %q", method)
		}
		for _, page := range []string{"/", "/signoff", "/api/stream?page=/steps"} { // what was said stands there now
			w := v.answer(t, http.MethodGet, page, plainHeaders, "")
			if err := v.faults(w); err != nil || w.Code != http.StatusOK {
				t.Errorf("%s afterwards: status %d, %v", page, w.Code, err)
			}
		}
		v.tidy(t, outside)
	})
}

// tidy removes what a request has signed, and fails where anything else was written.
func (v *site) tidy(t *testing.T, outside string) {
	t.Helper()
	for _, name := range v.folders(t) {
		if name == v.signed {
			continue
		}
		for _, file := range []string{"report.html", "result.json", "sign-off.json", "setup.yaml", "SHA256SUMS"} {
			if _, err := os.Stat(filepath.Join(v.dir, name, file)); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
		if err := os.RemoveAll(filepath.Join(v.dir, name)); err != nil {
			t.Fatal(err)
		}
	}
	var names []string
	entries, err := os.ReadDir(outside)
	for _, e := range entries {
		names = append(names, e.Name())
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) || strings.Join(names, " ") != "report.html tests" {
		t.Errorf("%v, beside the tests: %v", err, names)
	}
}
