package web

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// A whole function test from cold start to a signed report, in a browser, without a fault and with each of five: what
// the page says at each moment is what a technician would have to do then.
func TestGuidedTest(t *testing.T) {
	// the seconds are those of simulated.Config.Function: standing till 8, up till 12, FL from 16, FR from 29.4, RL from
	// 42.8 and RR from 56.2 on, down from 71.6 till 75.6, rolling from 83.6 on
	type moment struct {
		seconds float64
		word    string // of the headline
	}
	type row struct {
		name   string
		fault  string
		says   []moment
		why    string // part of a sentence on the overview at the end
		next   string // part of the headline's sentence at the end
		failed string // what fails in the end, by corner: group
	}
	rows := []row{
		{name: "no fault", says: []moment{
			{0.5, "Wait a moment"},
			{2, "Let the vehicle stand"},
			{6, "Lift the wheels"},
			{14, "Turn FL forward"},
			{24, "Turn FL back"},
			{33, "Turn FR forward"},
			{39, "Turn FR back"},
			{52, "Turn RL back"},
			{60, "Turn RR forward"},
			{70, "Let the vehicle down"},
			{78, "Roll straight ahead"},
			{1000, "Confirm by hand"},
		}, why: "No fault found so far."},
		{name: "harnesses exchanged", fault: "harness:RL,RR", says: []moment{
			{2, "Fault: RL\u00a0RR"}, {1000, "Fault: RL\u00a0RR"}, // the serial numbers tell it at once
		}, why: "the harnesses of RL and RR are exchanged", next: "Put the plugs of RL and RR where their labels say", failed: "RL: Link, RR: Link"},
		{name: "a zero", fault: "zero-fx:FL=115", says: []moment{
			{14, "Turn FL forward"}, {22, "Fault: FL"}, {1000, "Fault: FL"},
		}, why: "FL fx reads", next: "Tare FL fx by −11", failed: "FL: Zero"},
		{name: "an angle offset", fault: "angle-offset:FR=3", says: []moment{
			{22, "Turn FL back"}, {45, "Fault: FR"}, {1000, "Fault: FR"},
		}, why: "off its force axes", next: "Change the angle offset of FR at the amplifier by", failed: "FR: Angle"},
		{name: "counts lost", fault: "angle-slip:RR=2", says: []moment{
			{46, "Turn RL forward"}, {71, "Fault: RR"}, {1000, "Fault: RR"},
		}, why: "RR", next: "RR", failed: "RR: Angle"},
		{name: "a brake that drags", fault: "drag:RL=22", says: []moment{
			{46, "Turn RL forward"}, {56, "Fault: RL"}, {1000, "Fault: RL"},
		}, why: "brake or bearing of RL drags", next: "Release the brake of RL", failed: "RL: Zero"},
	}
	b := newBrowser(t, "")
	for _, tt := range rows {
		t.Run(tt.name, func(t *testing.T) {
			st, s, d := newSigning(t, Config{Mark: func(string) {}})
			site := newSite(t, s)
			b.visit(t, site)
			b.window(t, 820, 1180, "light")
			var faults []string
			if tt.fault != "" {
				faults = []string{tt.fault}
			}
			sc := newScene(t, 4, faults...)
			stop := make(chan struct{})
			defer close(stop)
			go keepAlive(st, stop)
			do(t, b, chromedp.Navigate(site.url("/")))
			b.wait(t, `document.querySelector("h1 .word").textContent === "No data"`)
			done := 0
			for _, m := range tt.says {
				done = st.on(s, sc, done, m.seconds)
				b.wait(t, fmt.Sprintf(`document.querySelector("h1 .word").textContent === %q && document.documentElement.dataset.state === "live"`, m.word))
			}
			// the region for screen readers speaks the step, without figures that move
			b.wait(t, fmt.Sprintf(`document.getElementById("say").textContent.startsWith(%q)`, tt.says[len(tt.says)-1].word))
			if got := b.text(t, `document.querySelector("main").innerText`); !strings.Contains(got, tt.why) || !strings.Contains(got, tt.next) {
				t.Errorf("the overview says neither %q nor %q:\n%s", tt.why, tt.next, got)
			}
			failed := b.text(t, `[...document.querySelectorAll(".tile")].map(n => [n.querySelector(".name").textContent,
				[...n.querySelectorAll(".group")].filter(g => g.querySelector(".s-fail")).map(g => g.querySelector(".label").textContent).join(" ")]).filter(x => x[1]).map(x => x.join(": ")).join(", ")`)
			if failed != tt.failed {
				t.Errorf("failed: %q, want %q", failed, tt.failed)
			}
			ticked(t, b, site, tt.fault)
			signed(t, b, site, d)
			b.check(t)
		})
	}
}

// on shows a scene from its snapshot number from on, up to so many seconds, and returns the next number.
func (st *stage) on(s *Server, sc *scene, from int, seconds float64) int {
	for ; from < len(sc.snapshots) && float64(sc.snapshots[from].At-sc.began)*1e-9 <= seconds; from++ {
		st.now.Store(sc.snapshots[from])
		s.refresh()
	}
	return from
}

// ticked looks at the steps: without a fault the signals have ticked all of theirs; a person confirms the rest.
func ticked(t *testing.T, b *browser, site *site, fault string) {
	t.Helper()
	do(t, b, chromedp.Navigate(site.url("/steps")))
	b.wait(t, `document.getElementById("say").textContent !== ""`)
	const open = `[...document.querySelectorAll("ol.steps > li")].filter(n => !n.querySelector(":scope > .s-pass")).map(n => n.dataset.key).join(" ")`
	keys := strings.Fields(b.text(t, `[...document.querySelectorAll("ol.steps > li[data-key^='confirm/']")].map(n => n.dataset.key).join(" ")`))
	if got := b.text(t, open); fault == "" && got != strings.Join(keys, " ") {
		t.Errorf("open steps: %q, want the confirmations %q alone", got, keys)
	}
	for _, key := range keys {
		form := `li[data-key="` + key + `"] > .body > form `
		if value := `document.querySelector('` + form + `input[name=value]')`; b.text(t, `String(`+value+` !== null)`) == "true" {
			// the middle of the range that the label states
			middle := b.text(t, value+`.closest("label").textContent.match(/[\d.]+/g).slice(0, 2).map(Number).reduce((a, b) => (a + b) / 2).toString()`)
			do(t, b, chromedp.SendKeys(form+`input[name=value]`, middle))
		}
		do(t, b, chromedp.SendKeys(form+`input[name=initials]`, "AB"))
		b.submit(t, form+`button.main`, `document.querySelector('li[data-key="`+key+`"] > .s-pass') !== null`)
	}
	if got := b.text(t, open); fault == "" && got != "" {
		t.Errorf("open steps after confirming: %q, want none", got)
	}
}

// signed signs the test and looks at the report that it leaves.
func signed(t *testing.T, b *browser, site *site, d *deskOf) {
	t.Helper()
	do(t, b, chromedp.Navigate(site.url("/signoff")))
	do(t, b, chromedp.SendKeys(`input[name=performed]`, "A. Berg"))
	do(t, b, chromedp.SendKeys(`.sign-form input[name=initials]`, "AB"))
	b.submit(t, `.sign-send button`, `document.querySelector(".signed a.main")?.getAttribute("href")?.startsWith("/tests/") === true`)
	report := b.text(t, `document.querySelector(".signed a.main").getAttribute("href")`)
	do(t, b, chromedp.Navigate(site.url(report)))
	b.wait(t, `document.body.innerText.includes("A. Berg")`)
	names := folders(t, site.server)
	if len(names) != 1 {
		t.Fatalf("folders %q, want one for the signed test", names)
	}
	for _, file := range []string{"report.html", "result.json"} {
		if info, err := os.Stat(filepath.Join(site.server.cfg.Signing.Results.Dir(), names[0], file)); err != nil || info.Size() < 1000 {
			t.Errorf("%s of the signed test: %v", file, err)
		}
	}
	if len(d.words) != 1 {
		t.Errorf("frozen %d times, want once", len(d.words))
	}
}

// submit sends a form by its button and waits until the page that answers shows something: the page before it may
// show that as well, by its stream, just before it goes.
func (b *browser) submit(t *testing.T, button, shows string) {
	t.Helper()
	do(t, b, chromedp.Evaluate[chromedp.Void](`window.sending = true`))
	do(t, b, chromedp.Click(button))
	b.wait(t, `window.sending === undefined && document.readyState === "complete" && `+shows)
}

// Two tablets see the same at once, and what one confirms the other shows.
func TestTwoTabletsInBrowsers(t *testing.T) {
	st, s := newStage(t, Config{})
	st.play(s, newScene(t, 4), 1000)
	site := newSite(t, s)
	stop := make(chan struct{})
	defer close(stop)
	go keepAlive(st, stop)
	one, two := newBrowser(t, site.address), newBrowser(t, site.address)
	for _, b := range []*browser{one, two} {
		do(t, b, chromedp.Navigate(site.url("/steps")))
		b.wait(t, `document.getElementById("say").textContent !== ""`)
	}
	const form = `li[data-key="confirm/cable"] > .body > form`
	do(t, one, chromedp.SendKeys(form+` input[name=initials]`, "AB"))
	do(t, one, chromedp.Click(form+` button.main`))
	from := time.Now()
	two.wait(t, `document.querySelector("li[data-key='confirm/cable'] > .s-pass") !== null`)
	t.Logf("what one tablet confirms the other shows after %v", time.Since(from).Round(10*time.Millisecond))
	one.check(t)
	two.check(t)
}

// Setups of every size: each wheel where it is, nothing too wide, and the next step names a wheel of it.
func TestSizesOfVehicle(t *testing.T) {
	b := newBrowser(t, "")
	for corners, want := range map[int]string{1: "FL|", 2: "FL|FR", 4: "FL|FR RL|RR", 8: "A1L|A1R A2L|A2R A3L|A3R A4L|A4R"} {
		t.Run(fmt.Sprint(corners), func(t *testing.T) {
			st, s := newStage(t, Config{})
			sc := newScene(t, corners)
			st.play(s, sc, 20)
			site := newSite(t, s)
			b.visit(t, site)
			b.window(t, 820, 1180, "dark")
			do(t, b, chromedp.Navigate(site.url("/")))
			got := b.text(t, `[...document.querySelectorAll(".axle")].map(a => [".left", ".right"].map(s => [...a.querySelectorAll(s + " .name")].map(n => n.textContent).join(" ")).join("|")).join(" ")`)
			if got != want {
				t.Errorf("wheels %q, want %q", got, want)
			}
			first := strings.FieldsFunc(want, func(r rune) bool { return r == '|' || r == ' ' })[0]
			if got := b.text(t, `document.querySelector("h1 .word").textContent`); got != "Turn "+first+" forward" {
				t.Errorf("next step %q, want %s to be turned", got, first)
			}
			b.check(t)
		})
	}
}

// With the keyboard alone one gets from the overview to a wheel, to another channel and to the steps, and sees where one is.
func TestKeyboard(t *testing.T) {
	st, s := newStage(t, Config{})
	st.play(s, newScene(t, 4), 33)
	site := newSite(t, s)
	stop := make(chan struct{})
	defer close(stop)
	go keepAlive(st, stop)
	b := newBrowser(t, site.address)
	b.window(t, 820, 1180, "light")
	do(t, b, chromedp.Navigate(site.url("/")))
	b.wait(t, `document.getElementById("say").textContent !== ""`)
	// tab goes on until what matches has the focus, which must be seen
	tab := func(selector string) {
		t.Helper()
		for range 40 {
			do(t, b, chromedp.KeyEvent("\t"))
			if do(t, b, chromedp.Evaluate[bool](fmt.Sprintf(`document.activeElement.matches(%q)`, selector))) {
				if outline := b.text(t, `getComputedStyle(document.activeElement).outlineStyle + parseFloat(getComputedStyle(document.activeElement).outlineWidth)`); outline != "solid4" {
					t.Errorf("the focus on %s has the outline %q, want one of 4 px", selector, outline)
				}
				return
			}
		}
		t.Fatalf("no key leads to %s", selector)
	}
	tab(".jump")
	do(t, b, chromedp.KeyEvent("\r"))
	tab(`.tile[href="/corner/RL"], .tile[href^="/corner/RL?"]`)
	do(t, b, chromedp.KeyEvent("\r"))
	b.wait(t, `document.title.startsWith("Corner RL") && document.getElementById("say").textContent !== ""`)
	tab(`.choices a[href*="channel=mx"]`)
	do(t, b, chromedp.KeyEvent("\r"))
	b.wait(t, `document.querySelector(".strip h2")?.textContent === "The last minute: Mx" && document.getElementById("say").textContent !== ""`)
	tab(`nav a[href^="/steps"]`)
	do(t, b, chromedp.KeyEvent("\r"))
	b.wait(t, `location.pathname === "/steps"`)
	b.check(t)
}
