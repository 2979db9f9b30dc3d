package web

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"plumbline/daemon/record"
)

var shots = flag.String("shots", "", "write pictures of the pages into this `folder`: go test ./daemon/web -run Shots -shots DIR")

// TestShots takes pictures of the pages, for people to look at.
func TestShots(t *testing.T) {
	if *shots == "" {
		t.Skip("go test ./daemon/web -run Shots -shots DIR takes them")
	}
	if err := os.MkdirAll(*shots, 0o755); err != nil {
		t.Fatal(err)
	}
	full := &record.Stats{State: record.Stopped, Full: true, Since: time.Now(), Dir: "/var/lib/plumbline/recording", Lost: 51234}
	broken := &record.Stats{
		State: record.Stopped, Since: time.Now(), Dir: "/media/drive", Lost: 51234,
		Why: "writing /media/drive/plumbline-20260131T101112Z-000007.pcapng: input/output error",
	}
	scenes := []struct {
		name    string
		corners int
		seconds float64
		faults  []string
		stale   bool
		pages   []string
		lang    string
		drive   bool
		tape    *record.Stats
	}{
		{name: "unrecorded", corners: 4, seconds: 33, tape: full, pages: []string{"/", "/steps", "/corner/FL", "/signoff"}},
		{name: "unrecorded-drive", drive: true, corners: 4, seconds: 70, tape: broken, pages: []string{"/drive", "/"}},
		{name: "unrecorded-german", corners: 4, seconds: 33, tape: broken, pages: []string{"/"}, lang: "?lang=de"},
		{name: "gap", drive: true, corners: 4, seconds: 70, tape: &record.Stats{State: record.Recording, Lost: 51234}, pages: []string{"/drive", "/"}},
		{name: "drive", drive: true, corners: 4, seconds: 110, faults: []string{"gap:FL=0.8", "off:RR=80"}, pages: []string{"/drive", "/"}},
		{name: "drive-well", drive: true, corners: 4, seconds: 70, pages: []string{"/drive"}},
		{name: "drive-over", drive: true, corners: 4, seconds: 55, faults: []string{"gap:FL=0.8"}, pages: []string{"/drive"}, lang: "?lang=de"},
		{name: "drive-not", corners: 4, seconds: 33, pages: []string{"/drive"}},
		{name: "drive-eight", drive: true, corners: 8, seconds: 110, faults: []string{"off:A2L=80"}, pages: []string{"/drive"}},
		{name: "cold", corners: 4, seconds: -1, pages: []string{"/"}},
		{name: "mid", corners: 4, seconds: 33, pages: []string{"/", "/corner/FL", "/corner/RL", "/optic/camber FL", "/steps", "/signoff", "/afresh", "/tests"}},
		{name: "fail", corners: 4, seconds: 70, faults: []string{"angle-cable:RL,RR"}, pages: []string{"/", "/corner/RL"}},
		{name: "zero", corners: 4, seconds: 45, faults: []string{"zero-fx:FL=115"}, pages: []string{"/", "/corner/FL"}},
		{name: "stale", corners: 4, seconds: 33, stale: true, pages: []string{"/", "/corner/FL"}},
		{name: "down", corners: 4, seconds: 72, pages: []string{"/"}},
		{name: "passed", corners: 4, seconds: 1000, pages: []string{"/", "/steps"}},
		{name: "eight", corners: 8, seconds: 33, pages: []string{"/"}},
		{name: "one", corners: 1, seconds: 18, pages: []string{"/"}},
		{name: "german", corners: 4, seconds: 33, pages: []string{"/", "/corner/FL", "/steps"}, lang: "?lang=de"},
	}
	b := newBrowser(t, "")
	for _, sc := range scenes {
		t.Run(sc.name, func(t *testing.T) {
			st, s, _ := newSigning(t, Config{Mark: func(string) {}})
			if sc.seconds >= 0 {
				made := newScene
				if sc.drive {
					made = func(tb testing.TB, corners int, faults ...string) *scene {
						return newScript(tb, road(corners), faults...)
					}
				}
				st.play(s, made(t, sc.corners, sc.faults...), sc.seconds)
				if sc.tape != nil {
					st.taped(sc.tape)
				}
			}
			site := newSite(t, s)
			b.visit(t, site)
			for _, size := range [][2]int64{{820, 1180}, {1180, 820}, {1920, 1080}, {360, 740}} {
				for _, theme := range []string{"light", "dark"} {
					for _, path := range sc.pages {
						st.again()
						b.window(t, size[0], size[1], theme)
						do(t, b, chromedp.Navigate(site.url(path+sc.lang)))
						wanted := time.Now().Add(150 * time.Millisecond)
						if sc.stale {
							b.wait(t, `document.documentElement.dataset.state === "stale"`)
						}
						time.Sleep(time.Until(wanted))
						picture := do(t, b, chromedp.CaptureScreenshot())
						name := fmt.Sprintf("%s%s-%dx%d-%s.png", sc.name, strings.ReplaceAll(path, "/", "_"), size[0], size[1], theme)
						if err := os.WriteFile(filepath.Join(*shots, name), picture, 0o644); err != nil {
							t.Fatal(err)
						}
						if size[1] != 1180 || theme != "light" {
							continue
						}
						for _, l := range looks()[2:] {
							b.as(t, l)
							if err := os.WriteFile(filepath.Join(*shots, strings.ReplaceAll(l.name, " ", "-")+"-"+name), do(t, b, chromedp.CaptureScreenshot()), 0o644); err != nil {
								t.Fatal(err)
							}
						}
						// once the whole of it, as who scrolls sees it
						height := do(t, b, chromedp.Evaluate[int64](`document.documentElement.scrollHeight`))
						b.window(t, size[0], height, theme)
						picture = do(t, b, chromedp.CaptureScreenshot())
						if err := os.WriteFile(filepath.Join(*shots, "whole-"+name), picture, 0o644); err != nil {
							t.Fatal(err)
						}
					}
				}
			}
			b.check(t)
		})
	}
}
