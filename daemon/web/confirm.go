package web

import (
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"unicode/utf8"

	"plumbline/daemon"
)

// maxWords is how many characters a person may write in one field.
const maxWords = 200

// field reads a short text of a form: no control characters, not longer than a person writes.
func field(r *http.Request, name string) (string, error) {
	text := strings.TrimSpace(r.PostFormValue(name))
	switch {
	case !utf8.ValidString(text) || strings.ContainsFunc(text, func(r rune) bool { return r < ' ' || r == 0x7F }):
		return "", fmt.Errorf("%s: expected plain text on one line", name)
	case utf8.RuneCountInString(text) > maxWords:
		return "", fmt.Errorf("%s: expected at most %d characters", name, maxWords)
	}
	return text, nil
}

// form reads the body; false: it has answered that the form is no good.
func (s *Server) form(w http.ResponseWriter, r *http.Request) bool {
	if err := r.ParseForm(); err != nil {
		http.Error(w, "the form cannot be read, or is larger than a form is: "+err.Error(), http.StatusBadRequest)
		return false
	}
	return true
}

func (s *Server) postMark(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	text, err := field(r, "text")
	switch {
	case err != nil:
		s.refuse(w, r, err.Error())
	case text == "":
		s.refuse(w, r, "text: expected a word about what is done, as in: turn FL")
	case s.cfg.Mark == nil:
		s.refuse(w, r, "nobody listens to marks here")
	default:
		s.cfg.Mark(text)
		s.back(w, r, "marks")
	}
}

// postConfirm keeps what a person has confirmed, or why that was not possible.
func (s *Server) postConfirm(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	c, err := s.readConfirmed(r)
	if err != nil {
		s.refuse(w, r, err.Error())
		return
	}
	s.cfg.Test.Confirm(c)
	s.news()
	if s.cfg.Mark != nil {
		unit := ""
		if asked := s.asked(c.ID); asked != nil {
			unit = asked.Unit
		}
		s.cfg.Mark(words(&c, unit))
	}
	if s.cfg.Confirmed != nil {
		s.cfg.Confirmed(c)
	}
	s.back(w, r, "confirm/"+c.ID)
}

// words is the mark of a recording.
func words(c *daemon.Statement, unit string) string {
	if c.Reason != "" {
		return "not possible: " + c.ID + ", " + c.Reason + ", " + c.Initials
	}
	text := "confirmed: " + c.ID
	if c.Value != nil {
		text += ", " + strings.TrimSpace(strconv.FormatFloat(*c.Value, 'g', -1, 64)+" "+unit)
	}
	return text + ", " + c.Initials
}

// news shows at once what a person has said.
func (s *Server) news() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.look(true)
}

// instant is what the clock shows that stamps what is heard, as far as it is known, else that of the machine.
func (s *Server) instant() daemon.Instant {
	if m := s.refresh(); m.snapshot != nil && m.snapshot.Clock != 0 {
		return daemon.Instant(m.snapshot.Clock)
	}
	return daemon.Instant(s.now().UnixNano())
}

func (s *Server) readConfirmed(r *http.Request) (daemon.Statement, error) {
	id, err := field(r, "id")
	if err != nil {
		return daemon.Statement{}, err
	}
	asked := s.asked(id)
	if asked == nil {
		return daemon.Statement{}, fmt.Errorf("id: the setup asks for no confirmation %q", id)
	}
	c := daemon.Statement{ID: id, At: s.instant()}
	if c.Initials, err = field(r, "initials"); err != nil {
		return daemon.Statement{}, err
	}
	if c.Reason, err = field(r, "reason"); err != nil {
		return daemon.Statement{}, err
	}
	skip := r.PostFormValue("possible") == "no"
	switch {
	case c.Initials == "":
		return daemon.Statement{}, fmt.Errorf("%s: expected initials: who says so", asked.Text)
	case skip && c.Reason == "":
		return daemon.Statement{}, fmt.Errorf("%s: expected a reason why it is not possible", asked.Text)
	case skip:
		return c, nil
	}
	c.Reason = ""
	if !asked.Asked() {
		return c, nil
	}
	text, err := field(r, "value")
	if err != nil {
		return daemon.Statement{}, err
	}
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return daemon.Statement{}, fmt.Errorf("%s: expected the value that was read, in %s", asked.Text, asked.Unit)
	}
	c.Value = &v // out of range as well: it stays open then, and shows as that
	return c, nil
}

// asked returns what the setup asks under an id; nil: nothing.
func (s *Server) asked(id string) *daemon.Confirmation {
	m := s.refresh()
	for i := range m.result.Confirmations {
		if m.result.Confirmations[i].ID == id {
			return &m.result.Confirmations[i]
		}
	}
	return nil
}

// postSkip keeps why a step was not possible, and who says so. An empty reason takes that back.
func (s *Server) postSkip(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	id, err := field(r, "step")
	reason, err2 := field(r, "reason")
	initials, err3 := field(r, "initials")
	known := false
	for _, st := range s.refresh().steps {
		known = known || st.ID == id && st.Confirm == nil
	}
	switch {
	case err != nil || err2 != nil || err3 != nil:
		s.refuse(w, r, "expected a step, a reason and initials, as plain text on one line")
		return
	case !known:
		s.refuse(w, r, "step: the test has no such step")
		return
	case reason != "" && initials == "":
		s.refuse(w, r, id+": expected initials: who says that it is not possible")
		return
	}
	s.cfg.Test.Skip(daemon.Deviation{Step: id, Reason: reason, Initials: initials, At: s.instant()})
	s.news()
	if s.cfg.Mark != nil && reason != "" {
		s.cfg.Mark("not possible: " + id + ", " + reason + ", " + initials)
	}
	s.back(w, r, id)
}

// back leads to the steps after a form, so that a reload does not send it again: to the place on the page at which
// the form was, of which it gives the id.
func (s *Server) back(w http.ResponseWriter, r *http.Request, place string) {
	to := "/steps"
	if lang := r.URL.Query().Get("lang"); s.looks[lang] != nil {
		to += "?lang=" + lang
	}
	http.Redirect(w, r, to+"#"+url.PathEscape(place), http.StatusSeeOther)
}
