package web

import (
	"math"
	"slices"
	"time"

	"plumbline/checks"
	"plumbline/daemon"
)

// turnsWanted is how many turns of a lifted wheel the checks want each way: three for an uncertainty.
const turnsWanted = 3

// rolledTurns is how far a wheel must have rolled on the ground: half a turn of a car's wheel is about a metre.
const rolledTurns = 0.5

// guide remembers what has been done with the vehicle. A snapshot shows only what is so now; that the
// wheels were lifted before they were let down is not in it.
type guide struct {
	token   string // of the test that this is about
	setup   string // SHA-256 of the setup that this is about
	at      int64  // ns, of the newest snapshot
	corners []done
	under   int // wheel that is being turned, or was turned last; -1: none yet
	rested  bool
	still   int64 // ns, since when all wheels have stood on the ground; 0: they do not
}

// done is what has been done with one wheel.
type done struct {
	lifted bool
	down   bool // let down after it was lifted
	rolled float64
	turned float64 // turns while lifted, since the wheel under way last turned
}

// tookOver is how many turns make a wheel the one under way: one that is only touched is not.
const tookOver = 0.2

// see takes a snapshot. Another setup or a step back in time begins anew.
func (g *guide) see(s *daemon.Snapshot) {
	if s == nil {
		*g = guide{token: g.token, under: -1}
		return
	}
	if s.Result.Setup.SHA256 != g.setup || len(s.Now.Corners) != len(g.corners) || s.At < g.at {
		*g = guide{token: g.token, setup: s.Result.Setup.SHA256, corners: make([]done, len(s.Now.Corners)), at: s.At, under: -1}
	}
	seconds := min(float64(s.At-g.at)*1e-9, 2) // of a longer pause nothing is known
	g.at = s.At
	standing := len(s.Now.Corners) > 0
	for i := range s.Now.Corners {
		c, d := &s.Now.Corners[i], &g.corners[i]
		standing = standing && c.Hang == checks.Loaded && !c.Turning
		switch c.Hang {
		case checks.Lifted:
			d.lifted, d.down = true, false
			if c.Turning {
				d.turned += math.Abs(c.Omega) * seconds / (2 * math.Pi)
			}
		case checks.Loaded:
			d.down = d.lifted
			if c.Turning {
				d.rolled += math.Abs(c.Omega) * seconds / (2 * math.Pi)
			}
		case checks.Unknown:
		}
	}
	g.follow(s)
	switch {
	case !standing:
		g.still = 0
	case g.still == 0:
		g.still = s.At
	case s.At-g.still >= 3*int64(time.Second):
		g.rested = true
	}
}

// follow finds the wheel under way: it stays that until another wheel is turned while it stands. A wheel that is
// driven along by the other one of its axle is not taken for it.
func (g *guide) follow(s *daemon.Snapshot) {
	lifted := func(i int) bool { return s.Now.Corners[i].Hang == checks.Lifted }
	if g.under >= 0 && lifted(g.under) && s.Now.Corners[g.under].Turning {
		for i := range g.corners {
			g.corners[i].turned = 0
		}
		return
	}
	for _, i := range turnOrder(&s.Setup.Checks) {
		if lifted(i) && s.Now.Corners[i].Turning && g.corners[i].turned >= tookOver {
			g.under = i
			return
		}
	}
}

// step is one thing to do in a function test.
type step struct {
	ID      string // stays the same from one moment to the next
	Kind    string // word of the catalogue
	Way     string // word of the catalogue, where what there is to do depends on what is heard; empty: it does not
	Corner  string // empty: all
	Text    string // of the setup, for a confirmation
	Done    bool
	Skipped string  // why it was not possible; empty: it was not said to be
	By      string  // who said that, and when
	Busy    bool    // it is the wheel under way
	Forward float64 // turns, of a wheel to be turned
	Back    float64
	Missing []string // subjects that are not there yet
	Confirm *daemon.Confirmation
	Caution string // word of the catalogue; empty: none beside those that always hold
}

// open reports whether the step is still to be done.
func (s *step) open() bool { return !s.Done && s.Skipped == "" }

// steps returns the whole test in the order in which it is usually done.
func (g *guide) steps(s *daemon.Snapshot, r *daemon.Result, said *daemon.Said) []step {
	var out []step
	add := func(st step) {
		if i := slices.IndexFunc(said.Deviations, func(d daemon.Deviation) bool { return d.Step == st.ID }); i >= 0 {
			d := &said.Deviations[i]
			if st.Skipped = d.Reason; d.Initials != "" { // of a test that was begun by an older program there are none
				st.By = d.Initials + ", " + clock(d.At)
			}
		}
		out = append(out, st)
	}
	setup := &s.Setup.Checks
	all := func(ok func(*done) bool) bool {
		return len(g.corners) > 0 && !slices.ContainsFunc(g.corners, func(d done) bool { return !ok(&d) })
	}
	silent := without(r, "alive")
	add(step{ID: "alive", Kind: "alive", Way: listening(s, r), Done: len(silent) == 0 && s.At > 0, Missing: silent, Caution: "ignition"})
	add(step{ID: "rest", Kind: "rest", Done: g.rested, Caution: "chock"})
	hanging := func(d *done) bool { return d.lifted }
	add(step{ID: "lift", Kind: "lift", Done: all(hanging), Missing: g.not(setup, hanging), Caution: "lift"})
	for _, i := range turnOrder(setup) {
		c := &s.Now.Corners[i]
		add(step{
			ID: "turn/" + setup.Corners[i].Name, Kind: "turn", Corner: setup.Corners[i].Name,
			Forward: c.Forward, Back: c.Back, Done: c.Forward >= turnsWanted && c.Back >= turnsWanted,
			Busy:    i == g.under && c.Hang == checks.Lifted,
			Caution: "turn",
		})
	}
	loose := without(r, "placement")
	add(step{ID: "plugs", Kind: "plugs", Done: len(loose) == 0 && s.At > 0, Missing: loose, Caution: "turn"})
	add(step{ID: "down", Kind: "down", Done: all(func(d *done) bool { return d.down }), Caution: "down"})
	rolled := func(d *done) bool { return d.rolled >= rolledTurns }
	add(step{ID: "roll", Kind: "roll", Done: all(rolled), Missing: g.not(setup, rolled), Caution: "roll"})
	if light := without(r, "load"); judges(r, "load") {
		add(step{ID: "load", Kind: "load", Done: len(light) == 0 && s.At > 0, Missing: light, Caution: "chock"})
	}
	if len(setup.Optics) > 0 {
		dim := without(r, "clearance", "camber", "dropout", "rest-speed")
		add(step{ID: "optics", Kind: "optics", Done: len(dim) == 0 && s.At > 0, Missing: dim, Caution: "laser"})
	}
	for i := range r.Confirmations {
		c := &r.Confirmations[i]
		out = append(out, step{
			ID: "confirm/" + c.ID, Kind: "confirm", Text: c.Text, Confirm: c, Done: c.State == daemon.StateConfirmed, Skipped: c.Reason,
		})
	}
	return out
}

// listening says what there is to do until every sensor is heard: nothing comes at all and the amplifier may be off
// (empty), something is not heard as it should be ("look"), or it takes a moment longer ("wait").
func listening(s *daemon.Snapshot, r *daemon.Result) string {
	if slices.ContainsFunc(r.Findings, func(f daemon.Finding) bool { return f.Check == "alive" && f.Verdict == checks.Pass }) {
		for i := range r.Findings {
			if f := &r.Findings[i]; f.Check == "alive" && f.Verdict == checks.Fail {
				return "look"
			}
		}
		return "wait"
	}
	if slices.ContainsFunc(s.Now.Channels, func(c checks.ChannelState) bool { return c.Known }) {
		return "wait"
	}
	return ""
}

// words is the beginning of what the catalogue says of the step.
func (s *step) words() string {
	if s.Way != "" {
		return "step." + s.Kind + "." + s.Way
	}
	return "step." + s.Kind
}

// without returns the subjects of which a required finding of these checks has not passed.
func without(r *daemon.Result, names ...string) []string {
	var out []string
	for i := range r.Findings {
		f := &r.Findings[i]
		if !slices.Contains(names, f.Check) || slices.Contains(out, f.Subject) {
			continue
		}
		if f.Verdict == checks.Fail || f.Verdict == checks.Inconclusive && f.Required {
			out = append(out, f.Subject)
		}
	}
	return out
}

// not returns the corners of which something does not hold.
func (g *guide) not(s *checks.Setup, ok func(*done) bool) []string {
	var out []string
	for i := range g.corners {
		if !ok(&g.corners[i]) {
			out = append(out, s.Corners[i].Name)
		}
	}
	return out
}

// judges reports whether a check has anything to judge by.
func judges(r *daemon.Result, check string) bool {
	return slices.ContainsFunc(r.Findings, func(f daemon.Finding) bool { return f.Check == check && f.Verdict != checks.Absent })
}

// turnOrder is the order of the setup, then the corners that it leaves out.
func turnOrder(s *checks.Setup) []int {
	out := slices.Clone(s.TurnOrder)
	for i := range s.Corners {
		if !slices.Contains(out, i) {
			out = append(out, i)
		}
	}
	return out
}

// current returns what is to be done now: the wheel under way, else the first step that is open; nil where nothing
// is left.
func current(steps []step) *step {
	var first *step
	for i := range steps {
		st := &steps[i]
		if !st.open() {
			continue
		}
		if st.Busy {
			return st
		}
		if first == nil {
			first = st
		}
	}
	return first
}
