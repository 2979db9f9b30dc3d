package compare

import (
	"encoding/json"
	"fmt"
	"io"

	"plumbline/checks"
	"plumbline/checks/fit"
	"plumbline/daemon"
)

// Schema is the number of the format of a comparison.
const Schema = 1

// family is the chance that a comparison tells of a movement where nothing moved.
const family = 0.05

// State is what is known of a movement.
type State string

// The states.
const (
	Open    State = "open"    // it cannot be compared; the sentence says why
	Unmoved State = "unmoved" // the difference is within what chance does
	Moved   State = "moved"   // it is beyond that
)

// Size is how a movement stands against its limit.
type Size string

// The sizes.
const (
	Undecided Size = "undecided" // the limit lies within the uncertainty, or there is none
	Within    Size = "within"
	Beyond    Size = "beyond"
)

// Comparison is what two tests tell together. It is a plain value; the same tests
// give the same bytes.
type Comparison struct {
	Schema    int        `json:"schema"`
	Kind      string     `json:"kind"` // "comparison"
	Program   string     `json:"program"`
	Before    Test       `json:"before"`
	After     Test       `json:"after"`
	Verdict   State      `json:"verdict"` // moved if anything moved, else open if anything is open or undecided
	Chance    Chance     `json:"chance"`
	Remarks   []string   `json:"remarks"` // what differs between the tests beside their values
	Movements []Movement `json:"movements"`
	Advice    []string   `json:"advice"` // what holds for all that moved
}

// Test is one of the two.
type Test struct {
	File        string              `json:"file"`
	Setup       daemon.SetupFile    `json:"setup"`
	Verdict     checks.Verdict      `json:"verdict"`
	First       daemon.Instant      `json:"first,omitzero"`
	Last        daemon.Instant      `json:"last,omitzero"`
	Transducers []daemon.Transducer `json:"transducers"`
}

// Chance says how the rule for many quantities was applied.
type Chance struct {
	Compared int     `json:"compared"`      // quantities with a value and an uncertainty in both tests
	Family   float64 `json:"family"`        // chance that any is said to have moved where none has, at most
	Each     float64 `json:"each,omitzero"` // the same of a single one: family ÷ compared
}

// Movement is one quantity in both tests.
type Movement struct {
	Check       string   `json:"check"`
	Subject     string   `json:"subject"` // after; before where it is known there alone
	Channel     string   `json:"channel"`
	Serial      *uint64  `json:"serial,omitempty"` // of the transducer whose property it is
	Before      *Reading `json:"before,omitempty"`
	After       *Reading `json:"after,omitempty"`
	Change      *float64 `json:"change,omitempty"`      // after − before
	Uncertainty *float64 `json:"uncertainty,omitempty"` // of the change, expanded, 95 %
	DOF         *float64 `json:"dof,omitempty"`         // its effective degrees of freedom; left out where infinite
	Chance      *float64 `json:"by_chance,omitempty"`   // what the change must exceed to count as a movement
	Limit       *float64 `json:"limit,omitempty"`       // that the setup of the second test gives
	Unit        string   `json:"unit"`
	Parts       []Part   `json:"parts"`
	State       State    `json:"state"`
	Size        Size     `json:"size"`
	Sentence    string   `json:"sentence"` // what is so
	Meaning     string   `json:"meaning"`  // for the data in between; empty where there is nothing to say
	Next        string   `json:"next"`     // what to do
}

// Name is check/subject/channel, without the last slash where there is no channel.
func (m *Movement) Name() string {
	f := daemon.Finding{Check: m.Check, Subject: m.Subject, Channel: m.Channel}
	return f.Name()
}

// Reading is a quantity in one test.
type Reading struct {
	Subject     string   `json:"subject"`
	Value       *float64 `json:"value,omitempty"`
	Uncertainty *float64 `json:"uncertainty,omitempty"` // expanded, 95 %
}

// Of says what is to be compared.
type Of struct {
	File   string // as a person gave it
	Result *daemon.Result
}

// Compare compares two tests. program is the name and version that the comparison carries.
func Compare(program string, before, after Of) Comparison {
	p := pairing{before: sideOf(before.Result), after: sideOf(after.Result)}
	c := Comparison{
		Schema: Schema, Kind: "comparison", Program: program, Before: testOf(before), After: testOf(after),
		Chance: Chance{Family: family}, Movements: []Movement{},
	}
	p.pair()
	c.Remarks = p.remarks(before.Result, after.Result)
	differences := make([]difference, len(p.pairs))
	for i := range p.pairs {
		var ok bool
		if differences[i], ok = p.difference(&p.pairs[i]); ok {
			c.Chance.Compared++
		}
	}
	if n := c.Chance.Compared; n > 0 {
		c.Chance.Each = significant(family / float64(n))
	}
	for i := range p.pairs {
		c.Movements = append(c.Movements, p.movement(&p.pairs[i], &differences[i], c.Chance.Compared))
	}
	c.Verdict, c.Advice = c.verdict(), c.advice()
	return c
}

func testOf(of Of) Test {
	t := Test{File: of.File, Setup: of.Result.Setup, Verdict: of.Result.Verdict, Transducers: of.Result.Transducers}
	t.First, t.Last = of.Result.Span()
	if t.Transducers == nil {
		t.Transducers = []daemon.Transducer{}
	}
	return t
}

// verdict never takes what could not be compared, or not well enough, for unmoved.
func (c *Comparison) verdict() State {
	out := Unmoved
	if c.Chance.Compared == 0 {
		out = Open
	}
	for i := range c.Movements {
		switch m := &c.Movements[i]; {
		case m.State == Moved:
			return Moved
		case m.State == Open, m.Size != Within:
			out = Open
		}
	}
	return out
}

// ExitCode is 1 where something moved, 3 where nothing is known to have moved and
// something could not be compared well enough, else 0. With byLimit only a movement
// beyond its limit counts as one, and one that may be beyond it as not known.
func (c *Comparison) ExitCode(byLimit bool) int {
	if !byLimit {
		return map[State]int{Moved: daemon.ExitFail, Open: daemon.ExitInconclusive, Unmoved: daemon.ExitPass}[c.Verdict]
	}
	code := daemon.ExitPass
	if c.Chance.Compared == 0 {
		code = daemon.ExitInconclusive
	}
	for i := range c.Movements {
		switch m := &c.Movements[i]; {
		case m.State == Moved && m.Size == Beyond:
			return daemon.ExitFail
		case m.Size != Within:
			code = daemon.ExitInconclusive
		}
	}
	return code
}

// Encode writes the comparison as JSON, with an indent of two blanks and a line feed at the end.
func (c *Comparison) Encode(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(c); err != nil {
		return fmt.Errorf("compare: writing the comparison: %w", err)
	}
	return nil
}

// movement judges a pair of which n in all are compared.
func (p *pairing) movement(pair *pair, d *difference, n int) Movement {
	m := Movement{
		Check: pair.check, Channel: pair.channel, Subject: pair.subject(), Serial: pair.serial,
		Before: readingOf(pair.before), After: readingOf(pair.after), Unit: d.unit,
		Parts: d.parts, State: Open, Size: Undecided,
	}
	if m.Parts == nil {
		m.Parts = []Part{}
	}
	if d.why != "" {
		m.Sentence, m.Next = d.why, d.next
		return m
	}
	u, dof := fit.Combine(d.left...)
	chance := 0.0
	if u > 0 { // nothing to expand, whatever the factor
		chance = fit.StudentT(1-family/float64(n), dof) * u
	}
	change, U := significant(d.change), significant(fit.Expanded(d.left...))
	m.Change, m.Uncertainty, m.Chance, m.Limit = finite(change), finite(U), finite(significant(chance)), d.limit
	m.DOF = finite(significant(dof))
	if m.Change == nil || m.Uncertainty == nil || m.Chance == nil {
		m.Sentence = "the scatter of " + pair.says() + " is not known well enough to compare it"
		m.Next = "Turn the lifted wheel for some more turns in each test."
		return m
	}
	m.State = Unmoved
	if abs(change) > *m.Chance {
		m.State = Moved
	}
	if d.limit != nil {
		switch fit.Guard(change, U, *d.limit) {
		case fit.Within:
			m.Size = Within
		case fit.Beyond:
			if m.State == Moved { // else it is beyond the limit by chance, as far as anybody knows
				m.Size = Beyond
			}
		case fit.Undecided:
		}
	}
	p.say(pair, &m)
	return m
}

func readingOf(f *daemon.Finding) *Reading {
	if f == nil {
		return nil
	}
	return &Reading{Subject: f.Subject, Value: f.Value, Uncertainty: f.Uncertainty}
}
