package web

import (
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"plumbline/bus/simulated"
	"plumbline/daemon"
)

// road is a vehicle that is driven for about two minutes.
func road(corners int) simulated.Config {
	c := simulated.Standard(corners)
	c.RateHz = 50
	c.Script = simulated.Road(2)
	return c
}

// wordsOf returns the text of a page, without its tags.
func wordsOf(t *testing.T, s *Server, path string) string {
	t.Helper()
	w := httptest.NewRecorder()
	s.ServeHTTP(w, httptest.NewRequest("GET", path, nil))
	if w.Code != 200 {
		t.Fatalf("%s: %d %s", path, w.Code, w.Body)
	}
	text := regexp.MustCompile(`<[^>]*>`).ReplaceAllString(w.Body.String(), " ")
	return strings.Join(strings.Fields(text), " ")
}

// TestDrivePage: the page of the drive says what fails, what is over, since when and how often, without any script.
func TestDrivePage(t *testing.T) {
	st, s := newStage(t, Config{})
	sc := newScript(t, road(4), "gap:FL=0.8", "off:RR=80")
	contains := func(path string, want ...string) {
		t.Helper()
		got := wordsOf(t, s, path)
		for _, w := range want {
			if !regexp.MustCompile(w).MatchString(got) {
				t.Errorf("%s does not hold %q:\n%s", path, w, got)
			}
		}
	}
	contains("/drive", "No data")
	st.play(s, sc, 3)
	contains("/drive", "Not driving", "FR Open|FR OK", "11 km/h")
	if got := wordsOf(t, s, "/"); strings.Contains(got, "Driving since") {
		t.Errorf("the overview says that it is driven:\n%s", got)
	}
	st.play(s, sc, 75)
	contains("/drive", `Driving since \d\d:\d\d:\d\d, for 1 min \d+ s`, "FR OK .*Nothing has failed", `FL (Fault|Was faulty) .*alive .*\d times`, "FL_[A-Z][a-z]+ stayed away")
	contains("/", `Driving since \d\d:\d\d:\d\d`)
	st.play(s, sc, 110)
	contains("/", "Fault: .*Stop first. ")
	contains("/drive", "Fault: .*RR", `RR Fault .*alive since \d\d:\d\d:\d\d, for \d+ s`)
	contains("/drive?lang=de", "Fehler: .*RR", `RR Fehler .*alive seit \d\d:\d\d:\d\d, \d+ s lang`, `Fahrt seit`)
}

func TestDuration(t *testing.T) {
	for _, row := range []struct {
		s    int64
		want string
	}{{0, "0 s"}, {59, "59 s"}, {60, "1 min"}, {3599, "59 min 59 s"}, {3600, "1 h"}, {3661, "1 h 1 min"}, {36_000, "10 h"}, {-5, "0 s"}} {
		if got := strings.ReplaceAll(duration(daemon.Instant(row.s*1e9)), "\u00a0", " "); got != row.want {
			t.Errorf("%d s: got %q, want %q", row.s, got, row.want)
		}
	}
}
