package web

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"

	"plumbline/daemon"
)

func TestForms(t *testing.T) {
	var marks []string
	var told []daemon.Statement
	st, s := newStage(t, Config{Mark: func(text string) { marks = append(marks, text) }, Confirmed: func(c daemon.Statement) { told = append(told, c) }})
	st.play(s, newScene(t, 1), 5)
	confirm := func(pairs ...string) url.Values {
		v := url.Values{}
		for i := 0; i < len(pairs); i += 2 {
			v.Set(pairs[i], pairs[i+1])
		}
		return v
	}
	tests := []struct {
		name, path, site string
		form             url.Values
		status           int
		says             string
	}{
		{"mark", "/mark", "same-origin", confirm("text", " turn FL "), 303, ""},
		{"mark from another site", "/mark", "cross-site", confirm("text", "down"), 403, "cross-origin"},
		{"mark from a sibling site", "/mark", "same-site", confirm("text", "down"), 403, "cross-origin"},
		{"confirmation from another site", "/confirm", "cross-site", confirm("id", "cable", "initials", "AB"), 403, "cross-origin"},
		{"skip from another site", "/skip", "cross-site", confirm("step", "roll", "reason", "x"), 403, "cross-origin"},
		{"empty mark", "/mark", "same-origin", confirm("text", "  "), 422, "expected a word"},
		{"mark on two lines", "/mark", "same-origin", confirm("text", "turn FL\n# mark: down"), 422, "one line"},
		{"long mark", "/mark", "same-origin", confirm("text", strings.Repeat("ä", 201)), 422, "200 characters"},
		{"huge form", "/mark", "same-origin", confirm("text", strings.Repeat("x", maxBody)), 400, "larger than a form"},
		{"unknown confirmation", "/confirm", "same-origin", confirm("id", "../x", "initials", "AB"), 422, "asks for no confirmation"},
		{"no initials", "/confirm", "same-origin", confirm("id", "cable"), 422, "expected initials"},
		{"no value", "/confirm", "same-origin", confirm("id", "wheel-bolts", "initials", "AB"), 422, "expected the value"},
		{"no number", "/confirm", "same-origin", confirm("id", "wheel-bolts", "initials", "AB", "value", "NaN"), 422, "expected the value"},
		{"value out of range", "/confirm", "same-origin", confirm("id", "wheel-bolts", "initials", "AB", "value", "1"), 303, ""},
		{"value", "/confirm", "same-origin", confirm("id", "wheel-bolts", "initials", "AB", "value", "160,5"), 303, ""},
		{"no reason", "/confirm", "same-origin", confirm("id", "cable", "initials", "AB", "possible", "no"), 422, "expected a reason"},
		{"not possible", "/confirm", "same-origin", confirm("id", "cable", "initials", "<b>", "possible", "no", "reason", "no second line here"), 303, ""},
		{"unknown step", "/skip", "same-origin", confirm("step", "fly", "reason", "x"), 422, "no such step"},
		{"step without initials", "/skip", "same-origin", confirm("step", "roll", "reason", "no room"), 422, "expected initials"},
		{"step not possible", "/skip", "same-origin", confirm("step", "roll", "reason", "no room", "initials", "CD"), 303, ""},
	}
	at := func(path string, form url.Values) string {
		switch path {
		case "/confirm":
			return "confirm/" + form.Get("id")
		case "/skip":
			return form.Get("step")
		}
		return "marks"
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w := post(s, tt.path, tt.site, tt.form)
			if w.Code != tt.status {
				t.Errorf("status %d, want %d", w.Code, tt.status)
			}
			if !strings.Contains(w.Body.String(), tt.says) {
				t.Errorf("the answer does not say %q", tt.says)
			}
			if place := w.Header().Get("Location"); w.Code == http.StatusSeeOther && place != "/steps#"+url.PathEscape(at(tt.path, tt.form)) {
				t.Errorf("it leads to %q, want the place of the form, %q", place, at(tt.path, tt.form))
			}
		})
	}
	want := []string{"turn FL", "confirmed: wheel-bolts, 1 N·m, AB", "confirmed: wheel-bolts, 160.5 N·m, AB", "not possible: cable, no second line here, <b>", "not possible: roll, no room, CD"}
	if !slices.Equal(marks, want) {
		t.Errorf("marks %q, want %q", marks, want)
	}
	if len(told) != 3 || told[1].Value == nil || *told[1].Value != 160.5 || told[2].Reason != "no second line here" {
		t.Errorf("told of %+v, want the bolts with 160.5 and the cable with a reason", told)
	}
	var r daemon.Result
	if err := json.Unmarshal(get(s, "/api/result").Body.Bytes(), &r); err != nil {
		t.Fatal(err)
	}
	states := map[string]string{}
	for _, c := range r.Confirmations {
		states[c.ID] = c.State
	}
	if states["wheel-bolts"] != "confirmed" || states["cable"] != "not possible" || states["clearance"] != daemon.StateOpen {
		t.Errorf("states of the confirmations %v, want confirmed, not possible and open", states)
	}
	page := get(s, "/steps?lang=de").Body.String()
	for _, want := range []string{"160,5 N·m, AB", "&lt;b&gt;", "nicht möglich: no room (CD, "} {
		if !strings.Contains(page, want) {
			t.Errorf("the steps do not show %q", want)
		}
	}
	if post(s, "/skip", "same-origin", confirm("step", "roll")); strings.Contains(get(s, "/steps").Body.String(), "no room") {
		t.Error("a step that was taken back is still not possible")
	}
}

// A browser on plain HTTP in a local network sends no Sec-Fetch-Site, but an Origin.
func TestCrossSiteByOrigin(t *testing.T) {
	st, s := newStage(t, Config{Mark: func(string) {}})
	st.play(s, newScene(t, 1), 5)
	for origin, want := range map[string]int{"http://example.com": 303, "http://evil.example": 403, "null": 403} {
		w := httptest.NewRecorder()
		r := httptest.NewRequest(http.MethodPost, "http://example.com/mark", strings.NewReader("text=down"))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", origin)
		s.ServeHTTP(w, r)
		if w.Code != want {
			t.Errorf("Origin %s: status %d, want %d", origin, w.Code, want)
		}
	}
}

// What was read off out of range is kept as that: it confirms nothing, and the step stays open.
func TestOutOfRange(t *testing.T) {
	st, s := newStage(t, Config{})
	st.play(s, newScene(t, 1), 5)
	for _, tt := range []struct {
		value, state, says string
		no                 string
	}{
		{"149,9", daemon.StateOpen, "Out of range: 149.9 N·m, AB", "confirmed: 149.9"},
		{"150", daemon.StateConfirmed, "confirmed: 150 N·m, AB", "Out of range: 1"},
		{"170.5", daemon.StateOpen, "Out of range: 170.5 N·m, AB", "confirmed: 1"},
	} {
		if w := post(s, "/confirm", "same-origin", url.Values{"id": {"wheel-bolts"}, "initials": {"AB"}, "value": {tt.value}}); w.Code != http.StatusSeeOther {
			t.Fatalf("%s: status %d", tt.value, w.Code)
		}
		if c := s.asked("wheel-bolts"); c.State != tt.state || c.Value == nil {
			t.Errorf("%s: %+v, want it %s and the value", tt.value, c, tt.state)
		}
		page := get(s, "/steps").Body.String()
		if !strings.Contains(page, tt.says) || strings.Contains(page, tt.no) {
			t.Errorf("%s: the steps do not say %q, or say %q", tt.value, tt.says, tt.no)
		}
	}
}

// Another setup is another vehicle: what was confirmed of the one before does not count.
func TestConfirmedBelongsToSetup(t *testing.T) {
	st, s := newStage(t, Config{})
	st.play(s, newScene(t, 1), 5)
	if w := post(s, "/confirm", "same-origin", url.Values{"id": {"cable"}, "initials": {"AB"}}); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d, want 303", w.Code)
	}
	st.again()
	if len(s.refresh().said.Statements) != 1 {
		t.Error("a confirmation is lost with the next snapshot")
	}
	other := *st.snapshot()
	other.Result.Setup.SHA256 = "another"
	st.now.Store(&other)
	if got := s.refresh().said.Statements; len(got) != 0 {
		t.Errorf("with another setup %v is confirmed, want nothing", got)
	}
}
