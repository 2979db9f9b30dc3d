package web

import (
	"encoding/json"
	"net/url"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// axe returns axe-core from where .ci/run puts it.
func axe(t *testing.T) string {
	t.Helper()
	cache := os.Getenv("XDG_CACHE_HOME")
	if cache == "" {
		home, err := os.UserHomeDir()
		if err != nil {
			t.Fatal(err)
		}
		cache = filepath.Join(home, ".cache")
	}
	text, err := os.ReadFile(filepath.Join(cache, "plumbline-npm/node_modules/axe-core/axe.min.js"))
	if err != nil {
		const how = "no axe-core: npm install --prefix ~/.cache/plumbline-npm axe-core@4.14.1"
		if os.Getenv("CI") == "true" {
			t.Fatal(how)
		}
		t.Skip(how)
	}
	return string(text)
}

// look is how a person has set up the browser.
type look struct{ name, feature, value string }

func looks() []look {
	return []look{
		{"light", "prefers-color-scheme", "light"},
		{"dark", "prefers-color-scheme", "dark"},
		{"forced colours", "forced-colors", "active"},
		{"more contrast", "prefers-contrast", "more"},
	}
}

// as shows pages as a person wants them, at the size of a tablet.
func (b *browser) as(t *testing.T, l look) {
	t.Helper()
	do(t, b, chromedp.EmulateViewport(820, 1180))
	command(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: l.feature, Value: l.value}, {Name: "prefers-reduced-motion", Value: "reduce"}},
	})
}

// Rules of WCAG 2.2 A and AA as axe-core checks them on every page, however the browser is set up, in both languages,
// and 7:1 (its rule for AAA) wherever a state stands.
func TestAccessible(t *testing.T) {
	script := axe(t)
	pages := []string{"/", "/corner/FL", "/corner/RR?channel=supply", "/optic/camber%20FL", "/steps", "/drive", "/signoff", "/afresh", "/tests"}
	scenes := []struct {
		name  string
		show  func(*stage, *Server)
		pages []string
		looks int // how many of them
	}{
		{"no data", func(*stage, *Server) {}, []string{"/", "/steps", "/signoff", "/nothing"}, 2},
		{"under way", func(st *stage, s *Server) { st.play(s, newScene(t, 4), 33) }, pages, 4},
		{"faults", func(st *stage, s *Server) { st.play(s, newScene(t, 4, "harness:RL,RR"), 1000) }, []string{"/", "/corner/RL", "/steps", "/signoff"}, 2},
		{"drive", func(st *stage, s *Server) { st.play(s, newScript(t, road(4), "gap:FL=0.8", "off:RR=80"), 110) }, []string{"/drive", "/drive?lang=de", "/"}, 1},
		{"stale", func(st *stage, s *Server) { st.play(s, newScene(t, 4), 33) }, []string{"/", "/corner/FL"}, 3},
	}
	b := newBrowser(t, "")
	command(t, b, cdppage.SetBypassCSP, cdppage.SetBypassCSPParams{Enabled: true}) // the page's policy lets no other script in
	for _, sc := range scenes {
		t.Run(sc.name, func(t *testing.T) {
			st, s, _ := newSigning(t, Config{Mark: func(string) {}})
			sc.show(st, s)
			site := newSite(t, s)
			b.visit(t, site)
			b.tolerate() // the page that is not there
			if sc.name != "stale" && sc.name != "no data" {
				stop := make(chan struct{})
				defer close(stop)
				go keepAlive(st, stop)
			}
			for i, l := range looks()[:sc.looks] {
				b.as(t, l)
				for _, path := range sc.pages {
					if i > 1 && path != "/" && path != "/steps" && path != "/corner/FL" {
						continue // the rest is made of the same parts
					}
					// each page in one language with each look, in the other with the next
					if i%2 == 1 {
						u, err := url.Parse(path)
						if err != nil {
							t.Fatal(err)
						}
						q := u.Query()
						q.Set("lang", german)
						u.RawQuery = q.Encode()
						path = u.String()
					}
					do(t, b, chromedp.Navigate(site.url(path)))
					if sc.name == "stale" {
						b.wait(t, `document.documentElement.dataset.state === "stale"`)
					}
					do(t, b, chromedp.Evaluate[chromedp.Void](script))
					for _, v := range violations(t, b) {
						t.Errorf("%s %s: %s", path, l.name, v)
					}
				}
			}
			b.check(t)
		})
	}
}

// violations asks axe-core.
func violations(t *testing.T, b *browser) []string {
	t.Helper()
	found := do(t, b, chromedp.Evaluate[string](`(async () => {
		const all = await axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]});
		const parts = [".state", ".headline", ".bar"].filter(s => [...document.querySelectorAll(s)].some(n => n.checkVisibility()));
		const states = parts.length ? await axe.run({include: parts.map(s => [s])}, {runOnly: ["color-contrast-enhanced"], rules: {"color-contrast-enhanced": {enabled: true}}}) : {violations: []};
		return JSON.stringify([...all.violations, ...states.violations].flatMap(v => v.nodes.map(n => v.id + ": " + n.target + " " + n.failureSummary)));
	})()`, chromedp.EvalAwaitPromise))
	var out []string
	if err := json.Unmarshal([]byte(found), &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// Without scripts a page reloads itself and then shows what is new, and forms work.
func TestWithoutScripts(t *testing.T) {
	st, s := newStage(t, Config{})
	sc := newScene(t, 4)
	done := st.on(s, sc, 0, 14)
	site := newSite(t, s)
	stop := make(chan struct{})
	defer close(stop)
	go keepAlive(st, stop)
	b := newBrowser(t, site.address)
	command(t, b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	do(t, b, chromedp.Navigate(site.url("/")))
	b.wait(t, `document.querySelector("h1 .word").textContent === "Turn FL forward" && document.querySelector(".noscript").checkVisibility()`)
	done = st.on(s, sc, done, 33)
	b.wait(t, `document.querySelector("h1 .word")?.textContent === "Turn FR forward"`)
	st.on(s, sc, done, 1000)
	do(t, b, chromedp.Navigate(site.url("/steps")))
	const form = `li[data-key="confirm/cable"] > .body > form`
	do(t, b, chromedp.SendKeys(form+` input[name=initials]`, "AB"))
	do(t, b, chromedp.Click(form+` button.main`))
	b.wait(t, `document.querySelector("li[data-key='confirm/cable'] > .s-pass") !== null`)
	b.check(t)
}
