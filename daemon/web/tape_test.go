package web

import (
	"encoding/json"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"plumbline/daemon/record"
)

// taped is the newest snapshot with a recording that stands so.
func (st *stage) taped(stats *record.Stats) {
	c := *st.now.Load()
	c.Recording = stats
	st.now.Store(&c)
}

// TestTape: each page says that nothing is recorded any more, since when, why and what to do, and later that there is a gap.
func TestTape(t *testing.T) {
	st, s := newStage(t, Config{})
	st.play(s, newScript(t, road(4)), 75)
	since := time.Date(2026, 1, 31, 14, 3, 0, 0, time.Local)
	paths := []string{"/", "/steps", "/drive", "/corner/FL"}
	for _, c := range []struct {
		name  string
		stats *record.Stats
		lang  string
		want  string // pattern; empty: nothing is said
	}{
		{"nothing is to be recorded", nil, "", ""},
		{"it is recorded", &record.Stats{State: record.Recording, Since: since}, "", ""},
		{"between two parts", &record.Stats{State: record.Waiting, Since: since}, "", ""},
		{
			"the disk is full", &record.Stats{State: record.Stopped, Full: true, Why: "the disk is almost full", Since: since, Dir: "/rec", Lost: 1234}, "",
			`Not recorded since 14:03( Stale)? The disk of /rec is almost full\. Make room .* goes on by itself; .* Missing so far: 1234 frames\.`,
		},
		{
			"writing failed", &record.Stats{State: record.Stopped, Why: "writing /rec/a: input/output error", Since: since, Dir: "/rec"}, "",
			`Not recorded since 14:03( Stale)? The disk of /rec does not take it\. See that .* \(writing /rec/a: input/output error\)`,
		},
		{"the recorder has gone", &record.Stats{State: record.Closed, Dir: "/rec"}, "", `Not recorded( Stale)? The disk of /rec`},
		{"it goes on", &record.Stats{State: record.Recording, Lost: 1234}, "", `The recording has a gap It goes on again.* Missing so far: 1234 frames\.`},
		{"in German", &record.Stats{State: record.Stopped, Full: true, Since: since, Dir: "/rec"}, "?lang=de", `Keine Aufzeichnung seit 14:03( Veraltet)? Der Datenträger von /rec ist fast voll`},
	} {
		t.Run(c.name, func(t *testing.T) {
			st.taped(c.stats)
			for _, path := range paths {
				got := wordsOf(t, s, path+c.lang)
				if c.want == "" && regexp.MustCompile(`Not recorded|The recording`).MatchString(got) {
					t.Errorf("%s speaks of the recording:\n%s", path, got)
				}
				want := c.want
				if path == "/drive" { // it heads the page: what it is and what to do
					want, _, _ = strings.Cut(c.want, `\. `)
				}
				if !regexp.MustCompile(want).MatchString(got) || strings.Count(got, "Not recorded") > 1 {
					t.Errorf("%s lacks %q, or says it twice:\n%s", path, want, got)
				}
			}
			green := strings.Contains(wordsOf(t, s, "/drive"), "No fault")
			if want := c.stats == nil || c.stats.State < record.Stopped; green != want {
				t.Errorf("the drive is said to be without fault: %v, want %v", green, want)
			}
		})
	}
}

// TestTapeLive: who looks sees it without a reload, and sees it go.
func TestTapeLive(t *testing.T) {
	st, s := newStage(t, Config{})
	st.play(s, newScene(t, 4), 33)
	site := newSite(t, s)
	resp, err := http.Get(site.url("/api/stream?page=/"))
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	turns := []*record.Stats{{State: record.Recording}, {State: record.Stopped, Full: true}, {State: record.Recording}}
	var seen []string
	events(t, resp.Body, func(event, _, data string) bool {
		var e sign
		if err := json.Unmarshal([]byte(data), &e); err != nil {
			t.Fatal(err)
		}
		if html, ok := e.Regions["tape"]; event == "page" && ok {
			seen = append(seen, strings.Join(regexp.MustCompile(`Not recorded`).FindAllString(html, 1), ""))
		}
		if len(turns) > 0 {
			st.taped(turns[0])
			turns = turns[1:]
		} else {
			st.again()
		}
		return len(seen) < 3
	})
	if got := strings.Join(seen, ","); got != ",Not recorded," {
		t.Errorf("the pages said %q, want nothing, that it is not recorded, nothing", got)
	}
}
