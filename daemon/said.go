package daemon

import (
	"crypto/rand"
	"encoding/hex"
	"maps"
	"slices"
	"sync"
	"time"
)

// Test is what persons do in the function test under way: what they confirm, what they go on
// without, that they sign. Page, report and result all ask it. It may be used by any goroutine.
//
// It can be kept in a file, so that it survives a restart: see OpenTest.
type Test struct {
	mu   sync.Mutex
	said Said
	keep *keeper // nil: in memory alone
	told string  // why it is not kept; empty: it is, or need not be
}

// Said is what persons have said of one function test. Who asked for it has a copy.
type Said struct {
	Token      string               `json:"token"` // of this test, so that a form for the one before is known
	Setup      string               `json:"setup"` // SHA-256 of the setup that it is about
	At         Instant              `json:"at"`    // of the newest word
	Statements map[string]Statement `json:"statements"`
	Deviations []Deviation          `json:"deviations"`
	Signed     *Signed              `json:"signed,omitempty"` // the newest signature of this test
	Form       Form                 `json:"form"`             // as it was last filled in
}

// Form is what a person fills in to sign, as reports carry it. All of it is free text.
type Form struct {
	Performed  string `json:"performed"`
	Initials   string `json:"initials"`
	Authorised string `json:"authorised"` // empty: to be signed on paper
	Laboratory string `json:"laboratory"`
	Place      string `json:"place"`
	Customer   string `json:"customer"`
	Item       string `json:"item"`
	Conditions string `json:"conditions"`
}

// Signed says that a test was signed.
type Signed struct {
	Name     string  `json:"name"` // of its folder
	ID       string  `json:"id"`   // of its report
	By       string  `json:"by"`
	Initials string  `json:"initials"`
	At       Instant `json:"at"`
	Words    int     `json:"words"` // how much had been said when it was signed
}

// NewTest returns a test that is kept in memory alone.
func NewTest() *Test { return &Test{said: newSaid("", Form{})} }

func newSaid(setup string, form Form) Said {
	form.Conditions = "" // those of another day
	return Said{Token: token(), Setup: setup, Statements: map[string]Statement{}, Deviations: []Deviation{}, Form: form}
}

// token tells one test from another. It is no secret.
func token() string {
	var b [4]byte
	_, _ = rand.Read(b[:]) // never fails
	return hex.EncodeToString(b[:])
}

// Said returns what has been said.
func (t *Test) Said() Said {
	t.mu.Lock()
	defer t.mu.Unlock()
	s := t.said
	s.Statements = maps.Clone(s.Statements)
	s.Deviations = slices.Clone(s.Deviations)
	return s
}

// Trouble says why what is said would not survive a restart; empty: it would, or nobody asked for that.
func (t *Test) Trouble() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.told
}

// Use says which setup is tested by, as the SHA-256 of its file. With another one than before a
// test begins: what was said was so of another vehicle.
func (t *Test) Use(setup string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.said.Setup == setup {
		return
	}
	fresh := t.said.Setup == "" && len(t.said.Statements)+len(t.said.Deviations) == 0
	form := t.said.Form
	if !fresh {
		form.Item = ""
	}
	t.said = newSaid(setup, form)
	if !fresh {
		t.save()
	}
}

// Afresh begins a new test of the same vehicle.
func (t *Test) Afresh() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.said = newSaid(t.said.Setup, t.said.Form)
	t.save()
}

// Confirm takes what a person says of a confirmation.
func (t *Test) Confirm(s Statement) {
	t.change(s.At, func(said *Said) { said.Statements[s.ID] = s })
}

// Skip takes why a step is gone on without; an empty reason takes that back.
func (t *Test) Skip(d Deviation) {
	t.change(d.At, func(said *Said) {
		said.Deviations = slices.DeleteFunc(slices.Clone(said.Deviations), func(o Deviation) bool { return o.Step == d.Step })
		if d.Reason != "" {
			said.Deviations = append(said.Deviations, d)
		}
	})
}

// Filled keeps what was filled in to sign.
func (t *Test) Filled(f Form) {
	t.change(0, func(said *Said) { said.Form = f })
}

// Sign says that the test was signed.
func (t *Test) Sign(s Signed) {
	t.change(s.At, func(said *Said) { said.Signed = &s })
}

func (t *Test) change(at Instant, do func(*Said)) {
	t.mu.Lock()
	defer t.mu.Unlock()
	do(&t.said)
	t.said.At = max(t.said.At, at)
	t.save()
}

// save keeps what was said. t.mu is held.
func (t *Test) save() {
	if t.keep != nil {
		t.told = t.keep.save(&t.said, time.Now())
	}
}

// Apply puts what was said into a result of the same setup.
func (s *Said) Apply(r *Result) {
	if r.Setup.SHA256 != s.Setup {
		return
	}
	list := slices.Clone(r.Confirmations)
	for i := range list {
		if said, ok := s.Statements[list[i].ID]; ok {
			list[i].take(&said)
		}
	}
	r.Confirmations = list
	r.Deviations = slices.Clone(s.Deviations)
	if len(r.Deviations) == 0 {
		r.Deviations = nil
	}
}
