package web

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"plumbline/checks"
	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// doneAt lists the steps that the signals have ticked by so many seconds of a simulated test.
func doneAt(t *testing.T, sc *scene, seconds float64) (done []string, now string) {
	t.Helper()
	st, s := newStage(t, Config{})
	st.play(s, sc, seconds)
	m := s.refresh()
	for _, step := range m.steps {
		if step.Done {
			done = append(done, step.ID)
		}
	}
	if c := current(m.steps); c != nil {
		now = c.ID
	}
	return done, now
}

// The phases are those of simulated.Config.Function: 8 s at rest, lifted after 12 s, wheels turned from 16 s on.
func TestStepsTickThemselves(t *testing.T) {
	sc := newScene(t, 4)
	tests := []struct {
		seconds float64
		done    string
		now     string
	}{
		{0.5, "", "alive"},
		{7, "alive rest load optics", "lift"},
		{15.5, "alive rest lift load optics", "turn/FL"},
		{33, "alive rest lift turn/FL load optics", "turn/FR"},
		{68, "alive rest lift turn/FL turn/FR turn/RL turn/RR plugs load optics", "down"},
		{1000, "alive rest lift turn/FL turn/FR turn/RL turn/RR plugs down roll load optics", "confirm/wheel-bolts"},
	}
	for _, tt := range tests {
		done, now := doneAt(t, sc, tt.seconds)
		if got := strings.Join(done, " "); got != tt.done {
			t.Errorf("after %v s %q is done, want %q", tt.seconds, got, tt.done)
		}
		if now != tt.now {
			t.Errorf("after %v s the step is %q, want %q", tt.seconds, now, tt.now)
		}
	}
}

// A wheel that is being turned is the step, whatever the order was to be.
func TestAnyOrder(t *testing.T) {
	steps := []step{{ID: "turn/FL"}, {ID: "turn/FR", Busy: true}, {ID: "turn/RL", Busy: true, Done: true}}
	if got := current(steps); got.ID != "turn/FR" {
		t.Errorf("%q, want the wheel that turns", got.ID)
	}
	steps[1].Skipped = "seized"
	if got := current(steps); got.ID != "turn/FL" {
		t.Errorf("%q, want the first that is open", got.ID)
	}
}

// The wheel under way stays the step while it stands between forward and back, whatever its place in the order,
// until it is done or another one is turned.
func TestWheelUnderWayStays(t *testing.T) {
	snap := &daemon.Snapshot{Setup: &setup.Setup{}}
	for _, name := range []string{"FL", "FR", "RL", "RR"} {
		snap.Setup.Checks.Corners = append(snap.Setup.Checks.Corners, checks.Corner{Name: name})
		snap.Now.Corners = append(snap.Now.Corners, checks.CornerState{Hang: checks.Lifted})
	}
	g := guide{under: -1}
	// at moves time on, with these wheels turning
	at := func(seconds float64, turning ...int) {
		for range int(seconds / 0.2) {
			snap.At += 2e8
			for i := range snap.Now.Corners {
				snap.Now.Corners[i].Turning, snap.Now.Corners[i].Omega = false, 0
			}
			for _, i := range turning {
				snap.Now.Corners[i].Turning, snap.Now.Corners[i].Omega = true, 5
			}
			g.see(snap)
		}
	}
	// the four other steps before the wheels are open as well
	said := &daemon.Said{Deviations: []daemon.Deviation{{Step: "alive", Reason: "-"}, {Step: "rest", Reason: "-"}, {Step: "lift", Reason: "-"}}}
	now := func() string { return current(g.steps(snap, &snap.Result, said)).ID }
	for _, tt := range []struct {
		name string
		do   func()
		want string
	}{
		{"nothing turned", func() { at(2) }, "turn/FL"},
		{"out of order", func() { at(1, 2) }, "turn/RL"},
		{"a pause", func() { at(30) }, "turn/RL"},
		{"forward done, a pause", func() { snap.Now.Corners[2].Forward = 3.1; at(30) }, "turn/RL"},
		{"the other wheel goes along", func() { at(3, 2, 3) }, "turn/RL"},
		{"another one is touched", func() { at(0.2, 0); at(3) }, "turn/RL"},
		{"another one is turned", func() { at(2, 1); at(3) }, "turn/FR"},
		{"back to it", func() { at(2, 2) }, "turn/RL"},
		{"let down", func() { snap.Now.Corners[2].Hang = checks.Loaded; at(1) }, "turn/FL"},
		{"and lifted", func() { snap.Now.Corners[2].Hang = checks.Lifted; at(1) }, "turn/RL"},
		{"done", func() { snap.Now.Corners[2].Back = 3; at(1, 2) }, "turn/FL"},
	} {
		tt.do()
		if got := now(); got != tt.want {
			t.Errorf("%s: the step is %s, want %s", tt.name, got, tt.want)
		}
	}
}

// In a whole test the next step changes once for each thing that is done.
func TestNextStepIsCalm(t *testing.T) {
	st, s := newStage(t, Config{})
	var seen []string
	for _, snap := range newScene(t, 4).snapshots {
		st.now.Store(snap)
		c := composer{m: s.refresh(), lang: english, words: s.words}
		if word := c.headline().Word; len(seen) == 0 || seen[len(seen)-1] != word {
			seen = append(seen, word)
		}
	}
	want := []string{
		"Wait a moment", "Let the vehicle stand", "Lift the wheels", "Turn FL forward", "Turn FL back", "Turn FR forward", "Turn FR back",
		"Turn RL forward", "Turn RL back", "Turn RR forward", "Turn RR back", "Let the vehicle down", "Roll straight ahead", "Confirm by hand",
	}
	if !slices.Equal(seen, want) {
		t.Errorf("steps %q, want %q", seen, want)
	}
}

// The step stays undone and its figure below the mark until the third turn is whole.
func TestTurnsAreNotRounded(t *testing.T) {
	_, s := newStage(t, Config{})
	c := composer{lang: english, words: s.words}
	for _, tt := range []struct {
		have float64
		want string
	}{{0, "0.0 of 3 turns"}, {0.3, "0.3 of 3 turns"}, {2.96, "2.9 of 3 turns"}, {2.9999, "2.9 of 3 turns"}, {3, "3.0 of 3 turns"}} {
		if got := c.turns(tt.have).Text; got != tt.want {
			t.Errorf("%v: %q, want %q", tt.have, got, tt.want)
		}
	}
}

// What there is to do until all is heard: a switch where nothing comes, plugs where one is missing, else patience.
func TestListening(t *testing.T) {
	alive := func(v ...checks.Verdict) *daemon.Result {
		r := &daemon.Result{}
		for _, v := range v {
			r.Findings = append(r.Findings, daemon.Finding{Check: "alive", Verdict: v, Required: true})
		}
		return r
	}
	known, unknown := &daemon.Snapshot{}, &daemon.Snapshot{}
	known.Now.Channels = []checks.ChannelState{{}, {Known: true}}
	unknown.Now.Channels = []checks.ChannelState{{}, {}}
	for _, tt := range []struct {
		name string
		s    *daemon.Snapshot
		r    *daemon.Result
		want string
	}{
		{"nothing yet", unknown, alive(checks.Inconclusive, checks.Inconclusive), ""},
		{"all silent", unknown, alive(checks.Fail, checks.Fail), ""},
		{"begins", known, alive(checks.Inconclusive, checks.Inconclusive), "wait"},
		{"one not yet", known, alive(checks.Pass, checks.Inconclusive), "wait"},
		{"one silent", known, alive(checks.Pass, checks.Fail), "look"},
	} {
		if got := listening(tt.s, tt.r); got != tt.want {
			t.Errorf("%s: %q, want %q", tt.name, got, tt.want)
		}
	}
}

func TestGuideBeginsAnew(t *testing.T) {
	snap := func(sha string, at int64, h checks.Hang) *daemon.Snapshot {
		s := &daemon.Snapshot{At: at, Setup: &setup.Setup{}}
		s.Result.Setup.SHA256 = sha
		s.Now.Corners = []checks.CornerState{{Hang: h}}
		return s
	}
	for _, tt := range []struct {
		name string
		then *daemon.Snapshot
		want bool
	}{
		{"same setup, later", snap("a", 20e9, checks.Loaded), true},
		{"another setup", snap("b", 20e9, checks.Loaded), false},
		{"a step back in time", snap("a", 5e9, checks.Loaded), false},
		{"nothing", nil, false},
	} {
		var g guide
		g.see(snap("a", 10e9, checks.Lifted))
		g.see(tt.then)
		if got := len(g.corners) > 0 && g.corners[0].lifted; got != tt.want {
			t.Errorf("%s: lifted is remembered: %v, want %v", tt.name, got, tt.want)
		}
	}
}

// A fault comes before the next step; the step stands below it.
func TestHeadlineOfFault(t *testing.T) {
	st, s := newStage(t, Config{})
	st.play(s, newScene(t, 4, "angle-cable:RL,RR"), 70)
	c := composer{m: s.refresh(), lang: english, words: s.words}
	h := c.headline()
	if h.State != "fail" || h.Word != "Fault: RL\u00a0RR" || h.Text != st.snapshot().Result.Next || !h.Foreign {
		t.Errorf("headline %+v, want the cause of RL and RR and what the checks say to do", h)
	}
	if f := c.found(); len(f.Causes) != 1 || f.Causes[0].Explains < 2 {
		t.Errorf("found %+v, want one cause that explains several findings", f)
	}
	page := get(s, "/").Body.String()
	if strings.Index(page, `h-fail`) > strings.Index(page, `class="findings causes"`) {
		t.Error("the causes stand above the headline")
	}
}

// What one is to be careful about stands at the step while it is open (design, section 8).
func TestCautions(t *testing.T) {
	st, s := newStage(t, Config{})
	st.play(s, newScene(t, 4), 2)
	page := get(s, "/steps").Body.String()
	for _, want := range []string{"rated stands", "chock", "ignition off", "nobody beside it", "never in the spokes", "vehicle maker&#39;s figures", "first kilometres", "licensed practice"} {
		if !strings.Contains(page, want) {
			t.Errorf("the steps do not say %q", want)
		}
	}
}

// Every text that templates and code ask for is there in both languages, with as many places for words; nobody
// is told that driving is safe.
func TestCatalogue(t *testing.T) {
	words, err := readCatalogue()
	if err != nil {
		t.Fatal(err)
	}
	used := map[string]bool{}
	pattern := regexp.MustCompile(`(?:\bt\(|\bt |mark\(|say\(lang, )"([a-z][a-z._]*)"`)
	for _, pair := range [][2]string{{".", ".go"}, {"templates", ".html"}} {
		for _, name := range list(t, pair[0], pair[1]) {
			for _, m := range pattern.FindAllStringSubmatch(read(t, name), -1) {
				key := m[1]
				if strings.Contains(m[0], "mark(") {
					key = "state." + key
				}
				if !strings.HasSuffix(key, ".") {
					used[key] = true
				}
			}
		}
	}
	for q := range checks.Quantities {
		used["quantity."+q.String()] = true
	}
	if len(used) < 80 {
		t.Fatalf("%d keys found in use, want the pattern to find most of them", len(used))
	}
	for key := range used {
		if words[key] == nil {
			t.Errorf("no text for %s", key)
		}
	}
	for key, texts := range words {
		if texts[english] == "" || texts[german] == "" || len(texts) != 2 {
			t.Errorf("%s: texts %v, want English and German", key, texts)
		}
		if got, want := strings.Count(texts[german], "{}"), strings.Count(texts[english], "{}"); got != want {
			t.Errorf("%s: %d places in German, want %d", key, got, want)
		}
		for _, no := range []string{"safe to drive", "fahrsicher", "sicher zu fahren"} {
			if strings.Contains(strings.ToLower(texts[english]+texts[german]), no) {
				t.Errorf("%s: says %q", key, no)
			}
		}
	}
	all := 0
	for _, name := range list(t, ".", ".json") {
		var check map[string]json.RawMessage
		if err := json.Unmarshal([]byte(read(t, name)), &check); err != nil || len(check) != strings.Count(read(t, name), `"en":`) {
			t.Errorf("a key stands twice in %s, or it is no JSON: %v", name, err)
		}
		all += len(check)
	}
	if all != len(words) {
		t.Errorf("%d keys in the files of the catalogue, %d in all: one stands in two files", all, len(words))
	}
}

// list returns the files of a folder with an ending, tests left out.
func list(t *testing.T, folder, ending string) []string {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(folder, "*"+ending))
	if err != nil {
		t.Fatal(err)
	}
	return slices.DeleteFunc(names, func(n string) bool { return strings.HasSuffix(n, "_test.go") })
}

func read(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func TestNumbers(t *testing.T) {
	f := func(v float64) *float64 { return &v }
	tests := []struct{ got, want string }{
		{measured(english, f(-114.944), f(0.7512), "N"), "−114.94 ± 0.75 N"},
		{measured(german, f(-114.944), f(0.7512), "N"), "−114,94 ± 0,75 N"},
		{measured(english, f(0.0174533), nil, "rad"), "1.000°"},
		{measured(english, f(0.0680678), f(0.0043), "rad"), "3.90° ± 0.25°"},
		{measured(english, nil, nil, "N"), ""},
		{bound(english, f(0.017453292519943295), "rad"), "1°"},
		{bound(german, f(12.5), "N·m"), "12,5 N·m"},
		{decimals(english, -0.04, 1), "0.0"},
		{decimals(german, 1234.56, 1), "1234,6"},
		{span(german, f(150), f(170.5), "N·m"), "150 … 170,5 N·m"},
		{span(english, nil, f(2), ""), "≤ 2"},
		{coordinate(-1.25), "-1.2"},
	}
	for _, tt := range tests {
		if tt.got != tt.want {
			t.Errorf("got %q, want %q", tt.got, tt.want)
		}
	}
}
