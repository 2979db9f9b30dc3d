package web

import (
	"testing"

	"github.com/chromedp/chromedp"
)

// TestTilesFit: on a tablet that lies all four wheels stand whole below the next step, also where that takes two lines.
func TestTilesFit(t *testing.T) {
	st, s := newStage(t, Config{})
	site := newSite(t, s)
	b := newBrowser(t, site.address)
	lines := 0.0
	for _, scene := range []struct {
		seconds float64
		faults  []string
	}{{1, nil}, {17, nil}, {72, nil}, {1000, nil}, {70, []string{"harness:RL,RR"}}} {
		st.play(s, newScene(t, 4, scene.faults...), scene.seconds)
		for _, size := range [][2]int64{{1280, 800}, {1180, 820}, {1024, 768}} {
			for _, lang := range []string{"", "?lang=de"} {
				st.again()
				b.window(t, size[0], size[1], "light")
				do(t, b, chromedp.Navigate(site.url("/"+lang)))
				word := b.text(t, `document.querySelector("h1 .word").textContent`)
				lines = max(lines, do(t, b, chromedp.Evaluate[float64](`(n => n.clientHeight / parseFloat(getComputedStyle(n).lineHeight))(document.querySelector("h1"))`)))
				if below := do(t, b, chromedp.Evaluate[float64](`Math.max(...[...document.querySelectorAll(".tile")].map(n => n.getBoundingClientRect().bottom)) - innerHeight`)); below > 0 {
					t.Errorf("%q on %dx%d: the lowest wheel ends %v px below the screen", word, size[0], size[1], below)
				}
			}
		}
	}
	// one that stands shows them too, where the next step is said in few words
	st.again()
	st.play(s, newScene(t, 4, "zero-fx:FL=115"), 45)
	st.again()
	b.window(t, 820, 1180, "light")
	do(t, b, chromedp.Navigate(site.url("/")))
	if below := do(t, b, chromedp.Evaluate[float64](`Math.max(...[...document.querySelectorAll(".tile")].map(n => n.getBoundingClientRect().bottom)) - innerHeight`)); below > 0 {
		t.Errorf("standing: the lowest wheel ends %v px below the screen", below)
	}
	if lines < 1.9 {
		t.Errorf("no next step took two lines, at the most %v: nothing was tried", lines)
	}
	b.check(t)
}

// TestCornerFits: the zeros and the table of the channels are whole on a tablet, which nobody pushes to and fro in gloves;
// what has to be minded stands on the overview, once.
func TestCornerFits(t *testing.T) {
	st, s := newStage(t, Config{})
	site := newSite(t, s)
	b := newBrowser(t, site.address)
	st.play(s, newScene(t, 4, "zero-fx:FL=1115"), 45)
	for _, size := range [][2]int64{{768, 1024}, {800, 1280}, {820, 1180}, {1024, 768}, {1180, 820}, {1280, 800}, {1440, 900}} {
		for _, lang := range []string{"", "?lang=de"} {
			st.again()
			b.window(t, size[0], size[1], "light")
			do(t, b, chromedp.Navigate(site.url("/corner/FL"+lang)))
			for what, wide := range map[string]string{
				"page":  `document.documentElement.scrollWidth - innerWidth`,
				"table": `(n => n.scrollWidth - n.clientWidth)(document.querySelector(".scroll"))`,
				"zeros": `Math.max(...[...document.querySelectorAll(".zeros .value > :last-child")].map(n => n.getBoundingClientRect().right - n.closest("li").getBoundingClientRect().right))`,
			} {
				if over := do(t, b, chromedp.Evaluate[float64](wide)); over > 0 {
					t.Errorf("%dx%d %s: the %s is %v px too wide", size[0], size[1], lang, what, over)
				}
			}
			do(t, b, chromedp.Navigate(site.url("/"+lang)))
			if n := do(t, b, chromedp.Evaluate[float64](`[...document.querySelectorAll(".caution")].filter(n => n.checkVisibility()).length`)); n != 1 {
				t.Errorf("%dx%d: %v cautions on the overview, want one", size[0], size[1], n)
			}
		}
	}
	b.check(t)
}
