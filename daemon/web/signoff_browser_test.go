package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// signScenes are the pages of the end of a test as they look at its moments.
func signScenes() []signScene {
	return []signScene{
		{name: "open", seconds: 45, faults: []string{"zero-fx:FL=115"}, pages: []string{"/signoff", "/afresh", "/tests", "/steps"}},
		{name: "passed", seconds: 1000, confirm: true, pages: []string{"/signoff", "/"}},
		{name: "signed", seconds: 1000, confirm: true, sign: true, pages: []string{"/signoff", "/afresh", "/tests", "/steps", "/"}},
		{name: "cold", seconds: -1, pages: []string{"/signoff", "/tests"}},
	}
}

type signScene struct {
	name          string
	seconds       float64
	faults        []string
	confirm, sign bool
	pages         []string
}

// set sets the stage.
func (sc *signScene) set(t *testing.T) (*stage, *Server) {
	t.Helper()
	st, s, _ := newSigning(t, Config{Mark: func(string) {}})
	if sc.seconds < 0 {
		return st, s
	}
	st.play(s, newScene(t, 4, sc.faults...), sc.seconds)
	send := func(path string, form url.Values) {
		t.Helper()
		if w := post(s, path, "same-origin", form); w.Code != http.StatusSeeOther {
			t.Fatalf("%s %v: status %d", path, form, w.Code)
		}
	}
	if sc.confirm {
		for _, c := range s.refresh().result.Confirmations {
			form := url.Values{"id": {c.ID}, "initials": {"AB"}}
			if c.Asked() {
				form.Set("value", strconv.FormatFloat(*c.Min, 'f', -1, 64))
			}
			if c.ID == "cable" {
				form.Set("possible", "no")
				form.Set("reason", "no second line here")
			}
			send("/confirm", form)
		}
	} else {
		send("/confirm", url.Values{"id": {"wheel-bolts"}, "value": {"120"}, "initials": {"AB"}})
		send("/skip", url.Values{"step": {"roll"}, "reason": {"no room in the hall"}, "initials": {"CD"}})
	}
	if sc.sign {
		send("/signoff", filled(t, s))
		send("/confirm", url.Values{"id": {"cable"}, "initials": {"AB"}})
		send("/signoff", filled(t, s))
		bad := filepath.Join(s.cfg.Signing.Results.Dir(), "20200101T000000Z-minibus-7-00000000")
		if err := os.MkdirAll(bad, 0o750); err != nil {
			t.Fatal(err)
		}
	}
	return st, s
}

// A test is signed in a browser while the page is kept up to date: what was typed stays.
func TestSignInBrowser(t *testing.T) {
	sc := signScene{seconds: 1000, confirm: true}
	st, s := sc.set(t)
	site := newSite(t, s)
	b := newBrowser(t, site.address)
	stop := make(chan struct{})
	defer close(stop)
	go keepAlive(st, stop)
	b.window(t, 820, 1180, "light")
	do(t, b, chromedp.Navigate(site.url("/")))
	b.wait(t, `document.querySelector("h1 .word").textContent === "All checks passed"`)
	do(t, b, chromedp.Evaluate[chromedp.Void](`document.querySelector(".go a").click()`))
	b.wait(t, `document.querySelector("input[name=performed]") !== null`)
	do(t, b, chromedp.Evaluate[chromedp.Void](`document.querySelector("input[name=performed]").value = "A. Berg"; document.querySelector("input[name=initials]").value = "AB"`))
	news := b.text(t, `window.beats = 0; new MutationObserver(() => window.beats++).observe(document.getElementById("seconds"), {childList: true, subtree: true, characterData: true}); "0"`)
	post(s, "/confirm", "same-origin", url.Values{"id": {"cable"}, "initials": {"CD"}}) // the page changes under the form
	b.wait(t, `document.querySelector(".points-list") === null`)
	if got := b.text(t, `document.querySelector("input[name=performed]").value + ", " + document.querySelector("input[name=initials]").value`); got != "A. Berg, AB" || news != "0" {
		t.Errorf("while the page was kept up to date %q stays of what was typed, want A. Berg, AB", got)
	}
	do(t, b, chromedp.Evaluate[chromedp.Void](`document.querySelector(".sign-send button").click()`))
	b.wait(t, `document.querySelector(".signed-by")?.textContent.startsWith("Signed by A. Berg")`)
	do(t, b, chromedp.Evaluate[chromedp.Void](`document.querySelector(".signed .main").click()`))
	b.wait(t, `document.title.startsWith("Report PL-")`)
	if got := b.text(t, `getComputedStyle(document.querySelector(".verdict")).color`); got == "rgb(0, 0, 0)" {
		t.Error("the report has no look: its style was refused")
	}
	do(t, b, chromedp.Navigate(site.url("/afresh")))
	do(t, b, chromedp.Evaluate[chromedp.Void](`document.querySelector(".afresh button").click()`))
	b.wait(t, `document.querySelector("h1 .word")?.textContent === "Let the vehicle stand"`)
	b.check(t)
}

// The pages fit, can be hit with a glove, and hold what axe-core asks for.
func TestSignPages(t *testing.T) {
	for _, sc := range signScenes() {
		t.Run(sc.name, func(t *testing.T) {
			st, s := sc.set(t)
			site := newSite(t, s)
			b := newBrowser(t, site.address)
			stop := make(chan struct{})
			defer close(stop)
			if sc.seconds >= 0 {
				go keepAlive(st, stop)
			}
			for _, width := range []int64{360, 1180} {
				for _, path := range sc.pages {
					for _, lang := range []string{"", "?lang=de"} {
						if (lang == "") == (width == 360) {
							continue // German words are the longer ones: they stand where there is little room
						}
						b.window(t, width, 1000, "light")
						do(t, b, chromedp.Navigate(site.url(path+lang)))
						do(t, b, chromedp.Evaluate[chromedp.Void](`for (const d of document.querySelectorAll("details")) d.open = true`))
						if got := b.text(t, `String(document.documentElement.scrollWidth)`); got != strconv.FormatInt(width, 10) {
							t.Errorf("%s%s at %d px is %s px wide", path, lang, width, got)
						}
						small := b.text(t, `[...document.querySelectorAll("main a:not(.jump), main button, main summary, main input:not([type=hidden])")].filter(n => n.checkVisibility()).map(n => {
							const r = n.getBoundingClientRect(), want = n.matches(".tile, .main, .go a") ? 104 : 60;
							return r.height < want || r.width < 60 ? n.outerHTML.slice(0, 80) + " " + r.width + "x" + r.height : "";
						}).filter(x => x).join("; ")`)
						if small != "" {
							t.Errorf("%s%s at %d px: too small for a glove: %s", path, lang, width, small)
						}
					}
				}
			}
			b.check(t)
		})
	}
}

func TestSignAccessible(t *testing.T) {
	script := axe(t)
	for _, sc := range signScenes() {
		if sc.name == "passed" {
			continue // it is made of what the others show
		}
		t.Run(sc.name, func(t *testing.T) {
			st, s := sc.set(t)
			site := newSite(t, s)
			b := newBrowser(t, site.address)
			stop := make(chan struct{})
			defer close(stop)
			if sc.seconds >= 0 {
				go keepAlive(st, stop)
			}
			command(t, b, cdppage.SetBypassCSP, cdppage.SetBypassCSPParams{Enabled: true}) // the page's policy lets no other script in
			for _, theme := range []string{"light", "dark"} {
				b.window(t, 820, 1180, theme)
				for _, path := range sc.pages {
					do(t, b, chromedp.Navigate(site.url(path)))
					do(t, b, chromedp.Evaluate[chromedp.Void](script))
					found := do(t, b, chromedp.Evaluate[string](`(async () => {
						const all = await axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]});
						return JSON.stringify(all.violations.flatMap(v => v.nodes.map(n => v.id + ": " + n.target + " " + n.failureSummary)));
					})()`, chromedp.EvalAwaitPromise))
					var violations []string
					if err := json.Unmarshal([]byte(found), &violations); err != nil {
						t.Fatal(err)
					}
					for _, v := range violations {
						t.Errorf("%s %s: %s", path, theme, v)
					}
				}
			}
			b.check(t)
		})
	}
}

// TestShotsOfSigning takes pictures of the pages, for people to look at.
func TestShotsOfSigning(t *testing.T) {
	if *shots == "" {
		t.Skip("go test ./daemon/web -run Shots -shots DIR takes them")
	}
	if err := os.MkdirAll(*shots, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, sc := range signScenes() {
		st, s := sc.set(t)
		site := newSite(t, s)
		b := newBrowser(t, site.address)
		stop := make(chan struct{})
		if sc.seconds >= 0 {
			go keepAlive(st, stop)
		}
		for _, size := range [][2]int64{{820, 1180}, {1180, 820}, {1920, 1080}, {360, 740}, {820, 3600}} {
			for _, theme := range []string{"light", "dark"} {
				for _, path := range sc.pages {
					b.window(t, size[0], size[1], theme)
					lang := ""
					if theme == "dark" {
						lang = "?lang=de"
					}
					do(t, b, chromedp.Navigate(site.url(path+lang)))
					picture := do(t, b, chromedp.CaptureScreenshot())
					name := fmt.Sprintf("sign-%s%s-%dx%d-%s.png", sc.name, strings.ReplaceAll(path, "/", "_"), size[0], size[1], theme)
					if err := os.WriteFile(filepath.Join(*shots, name), picture, 0o644); err != nil {
						t.Fatal(err)
					}
				}
			}
		}
		close(stop)
		b.check(t)
	}
}
