package checks

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// mount is one way in which the plugs of a vehicle can be wrong.
type mount struct {
	name    string
	corners []string // empty: FL FR RL RR
	spoil   func(*rig)
	do      func(*rig)
	fails   []string // "check subject channel" of all that fails, in the order of results
	open    []string // what is inconclusive, where not nil
	causes  []string
	says    string // part of the first cause's sentence
}

// mark says a word just before a wheel is turned, for all wheels.
func marked(r *rig, words ...string) {
	r.run(4.6)
	r.lift()
	r.run(0.7)
	for i, w := range words {
		if w != "" {
			r.judge.Mark(r.at, w)
		}
		r.turn(i, 3.3, 5.5, 2)
		r.turn(i, 3.3, -5, 2)
	}
}

func noSerials(r *rig) {
	for i := range r.setup.Corners {
		r.setup.Corners[i].HasSerial = false
		r.setup.Corners[i].Channels[Serial] = None
	}
}

func loads(l ...float64) func(*rig) {
	return func(r *rig) {
		for i := range l {
			r.setup.Corners[i].LoadN = l[i]
		}
		r.down()
	}
}

func inOrder(r *rig) {
	for i := range r.setup.Corners {
		r.setup.TurnOrder = append(r.setup.TurnOrder, i)
	}
}

func all(fs ...func(*rig)) func(*rig) {
	return func(r *rig) {
		for _, f := range fs {
			f(r)
		}
	}
}

func angles(i, k int) func(*rig)  { return func(r *rig) { exchange(r.angleFrom, i, k) } }
func forces(i, k int) func(*rig)  { return func(r *rig) { exchange(r.forceFrom, i, k) } }
func serials(i, k int) func(*rig) { return func(r *rig) { exchange(r.serialFrom, i, k) } }
func harness(i, k int) func(*rig) { return all(angles(i, k), forces(i, k), serials(i, k)) }

func placed(names ...string) []string {
	var out []string
	for _, n := range names {
		out = append(out, "placement "+n)
	}
	return out
}

func mounts() []mount {
	const fl, fr, rl, rr = 0, 1, 2, 3
	differ := loads(6600, 6000, 5400, 4900)
	onlyFR := func(r *rig) {
		r.run(4.6)
		r.lift()
		r.run(0.7)
		r.turn(fr, 3.3, 5.5, 2)
		r.turn(fr, 3.3, -5, 2)
	}
	rear := func(r *rig) { r.opposite = map[int]int{rl: rr, rr: rl} }
	return []mount{
		{name: "clean, by serial"},
		{name: "clean, by order", spoil: all(noSerials, inOrder)},
		{name: "clean, by mark", spoil: noSerials, do: func(r *rig) { marked(r, "turn FL", "turn FR", "turn RL", "turn RR") }},
		{name: "clean, by nothing", spoil: noSerials, open: placed("FL", "FR", "RL", "RR")},

		{name: "angle cable, by loads", open: placed("RL", "RR"), spoil: all(noSerials, differ, angles(fl, fr)), fails: placed("FL", "FR"), causes: []string{"angle-cable-exchanged:FL,FR"}, says: "the angle cable of FL is exchanged with that of FR, by the corner loads"},
		{name: "angle cable, by order", spoil: all(noSerials, inOrder, angles(fl, fr)), fails: placed("FL", "FR"), open: []string{}, causes: []string{"angle-cable-exchanged:FL,FR"}, says: "by the turn order"},
		{name: "angle cable, by order beside serials", spoil: all(inOrder, angles(fl, fr)), fails: placed("FL", "FR"), causes: []string{"angle-cable-exchanged:FL,FR"}, says: "by the turn order"},
		{
			name: "angle cable, by mark", spoil: all(noSerials, angles(fl, rr)), do: func(r *rig) { marked(r, "turn FL", "turn FR", "turn RL", "turn RR") },
			fails: placed("FL", "RR"), causes: []string{"angle-cable-exchanged:FL,RR"}, says: "by the mark in the recording",
		},
		{name: "angle cable, undecided", open: placed("RL", "RR"), spoil: all(noSerials, angles(fl, fr)), fails: placed("FL", "FR"), causes: []string{"cable-exchanged:FL,FR"}, says: "the force or angle cable of FL is exchanged with that of FR"},
		{name: "angle cable, loads too close", open: placed("RL", "RR"), spoil: all(noSerials, loads(6000, 6200, 6000, 6000), angles(fl, fr)), fails: placed("FL", "FR"), causes: []string{"cable-exchanged:FL,FR"}},
		{name: "angle cable, half turned", open: halfTurned(), spoil: all(noSerials, differ, angles(fl, fr)), do: onlyFR, fails: placed("FL", "FR"), causes: []string{"angle-cable-exchanged:FL,FR"}, says: "the angle cable of FR is exchanged with that of FL, by the corner loads; the other way round FL has not been turned yet"},

		{name: "force cable, by loads", open: placed("RL", "RR"), spoil: all(noSerials, differ, forces(fl, fr)), fails: placed("FL", "FR"), causes: []string{"force-cable-exchanged:FL,FR"}, says: "by the corner loads"},
		{name: "force cable, far loads", open: placed("FR", "RL"), spoil: all(noSerials, differ, forces(fl, rr)), fails: []string{"placement FL", "placement RR", "load FL", "load RR"}, causes: []string{"force-cable-exchanged:FL,RR"}},
		{name: "force cable, by order", spoil: all(noSerials, inOrder, forces(rl, fr)), fails: placed("FR", "RL"), causes: []string{"force-cable-exchanged:FR,RL"}, says: "by the turn order"},
		{
			name: "force cable, by mark", spoil: all(noSerials, forces(fl, fr)), do: func(r *rig) { marked(r, "turn FL", "turn FR", "turn RL", "turn RR") },
			fails: placed("FL", "FR"), causes: []string{"force-cable-exchanged:FL,FR"}, says: "by the mark",
		},
		{name: "force cable, undecided", open: placed("RL", "RR"), spoil: all(noSerials, forces(fl, fr)), fails: placed("FL", "FR"), causes: []string{"cable-exchanged:FL,FR"}},
		{name: "force cable, axes in messages of their own", spoil: all(noSerials, split, inOrder, forces(fl, fr)), fails: placed("FL", "FR"), causes: []string{"force-cable-exchanged:FL,FR"}},
		{name: "two pairs", spoil: all(noSerials, differ, angles(fl, fr), angles(rl, rr)), fails: placed("FL", "FR", "RL", "RR"), causes: []string{"angle-cable-exchanged:FL,FR", "angle-cable-exchanged:RL,RR"}},

		{name: "harness, by serial", spoil: harness(fl, fr), fails: placed("FL", "FR"), causes: []string{"harness-exchanged:FL,FR"}, says: "the harnesses of FL and FR are exchanged, by the serial number"},
		{name: "harness, by order", spoil: all(noSerials, inOrder, harness(fl, rl)), fails: placed("FL", "RL"), causes: []string{"harness-exchanged:FL,RL"}, says: "by the turn order"},
		{
			name: "harness, by mark", spoil: all(noSerials, harness(fl, fr)), do: func(r *rig) { marked(r, "turn FL", "turn FR", "turn RL", "turn RR") },
			fails: placed("FL", "FR"), causes: []string{"harness-exchanged:FL,FR"}, says: "by the mark in the recording",
		},
		{name: "harness, nothing tells", spoil: all(noSerials, harness(fl, fr)), open: placed("FL", "FR", "RL", "RR")},
		{name: "transducers exchanged, serials in the setup right", spoil: all(inOrder, serials(fl, fr)), fails: placed("FL", "FR"), causes: []string{"harness-exchanged:FL,FR"}, says: "by the serial number"},
		{
			name: "mark before serial", spoil: serials(fl, fr), do: func(r *rig) { marked(r, "turn FL", "turn FR", "turn RL", "turn RR") },
		},
		{
			name: "serial before order", spoil: func(r *rig) { r.setup.TurnOrder = []int{rr, rl, fr, fl} },
		},
		{
			name: "mark before order", spoil: all(noSerials, func(r *rig) { r.setup.TurnOrder = []int{rr, rl, fr, fl} }),
			do: func(r *rig) { marked(r, "turn FL", "turn FR", "turn RL", "turn RR") },
		},
		{
			name: "ring of three", spoil: func(r *rig) {
				r.forceFrom, r.angleFrom, r.serialFrom = []int{1, 2, 0, 3}, []int{1, 2, 0, 3}, []int{1, 2, 0, 3}
			},
			fails: placed("FL", "FR", "RL"), causes: []string{"harness-exchanged:FL,FR,RL"}, says: "the harnesses of FL, FR and RL are exchanged",
		},
		{
			name: "ring of three, by order", spoil: all(noSerials, inOrder, func(r *rig) {
				r.forceFrom, r.angleFrom = []int{2, 0, 1, 3}, []int{2, 0, 1, 3}
			}),
			fails: placed("FL", "FR", "RL"), causes: []string{"harness-exchanged:FL,RL,FR"},
		},

		{name: "bolt holes", spoil: func(r *rig) { r.wheels[rl].delta = 72 * degree }, fails: []string{"angle-offset RL"}, causes: []string{"bolt-holes:RL"}, says: "mounted 1 bolt hole round"},

		{name: "differential", spoil: all(noSerials, inOrder, rear)},
		{name: "differential, by mark", spoil: all(noSerials, rear), do: func(r *rig) { marked(r, "turn FL", "turn FR", "turn RL", "turn RR") }},
		{
			// Without the mark this is a wheel turned forward and back.
			name: "differential, forward only", spoil: all(noSerials, rear), do: func(r *rig) {
				r.run(4.6)
				r.lift()
				r.run(0.7)
				for i, name := range []string{"FL", "FR", "RL", "RR"} {
					r.judge.Mark(r.at, "turn "+name)
					r.turn(i, 4.3, 5.5, 2)
				}
			},
			open: []string{"zero FL my", "zero FR my", "zero RL my", "zero RR my", "drag FL", "drag FR", "drag RL", "drag RR"},
		},
		{name: "differential, angle cables", spoil: all(noSerials, inOrder, rear, angles(rl, rr)), fails: placed("RL", "RR"), causes: []string{"angle-cable-exchanged:RL,RR"}},
		{name: "differential, harnesses", spoil: all(noSerials, inOrder, rear, harness(rl, rr)), fails: placed("RL", "RR"), causes: []string{"harness-exchanged:RL,RR"}},

		{name: "a wheel turned again", spoil: all(noSerials, inOrder), do: func(r *rig) { r.brief(0, 1, 0, 2, 3, 1) }},
		{
			// The second mark belongs to the second turn, not to the wheel after it.
			name: "a wheel turned again by mark", spoil: noSerials, do: func(r *rig) {
				r.run(4.6)
				r.lift()
				r.run(0.7)
				for _, i := range []int{0, 0, 1, 2, 3} {
					if i == 0 {
						r.judge.Mark(r.at, "turn FL")
					}
					r.turn(i, 3.3, 5.5, 2)
					r.turn(i, 3.3, -5, 2)
				}
			},
			open: placed("FR", "RL", "RR"),
		},
		{name: "another order, serials fit", spoil: inOrder, do: func(r *rig) { r.brief(3, 1, 0, 2) }},
		{name: "another order, nothing else", spoil: all(noSerials, inOrder), do: func(r *rig) { r.brief(1, 0, 2, 3) }, fails: placed("FL", "FR"), causes: []string{"harness-exchanged:FL,FR"}},
		{
			name: "not all turned yet", spoil: all(noSerials, inOrder), do: func(r *rig) { r.brief(0, 1) },
			open: slices.Concat(placed("RL", "RR"), untold("RL", "RR")),
		},

		{name: "one corner", corners: []string{"FL"}, spoil: noSerials},
		{name: "two corners, odd names", corners: []string{"Rad 1 vorne", "Ω/2"}, spoil: all(noSerials, angles(0, 1), inOrder), fails: placed("Rad 1 vorne", "Ω/2"), causes: []string{"angle-cable-exchanged:Rad 1 vorne,Ω/2"}},
		{name: "two corners by mark in other letters", corners: []string{"Rad 1  vorne", "b"}, spoil: noSerials, do: func(r *rig) { marked(r, "TURN rad 1 vorne", "Turn B") }},
		{name: "six corners", corners: []string{"1L", "1R", "2L", "2R", "3L", "3R"}, spoil: harness(1, 5), fails: placed("1R", "3R"), causes: []string{"harness-exchanged:1R,3R"}},
		{name: "eight corners", corners: []string{"1L", "1R", "2L", "2R", "3L", "3R", "4L", "4R"}, spoil: all(inOrder, angles(2, 6)), fails: placed("2L", "4L"), causes: []string{"angle-cable-exchanged:2L,4L"}},
	}
}

// halfTurned lists what is left where only FR was turned and its angle cable is that of FL.
func halfTurned() []string {
	out := slices.Concat(placed("RL", "RR"), untold("RL", "RR"))
	for _, check := range []string{"angle-steps", "angle-jumps"} {
		out = slices.Insert(out, slices.Index(out, check+" RL"), check+" FR")
	}
	return out
}

// untold lists what stays open at corners whose wheel was not turned.
func untold(names ...string) []string {
	var out []string
	for _, check := range []string{"zero", "weight", "axes", "drag", "angle-offset", "angle-sense", "angle-steps", "angle-jumps", "angle-slip"} {
		for _, n := range names {
			if check != "zero" {
				out = append(out, check+" "+n)
				continue
			}
			for q := range Quantity(components) {
				out = append(out, "zero "+n+" "+q.String())
			}
		}
	}
	return out
}

func TestPlacement(t *testing.T) {
	for _, m := range mounts() {
		for _, frame := range []ForceFrame{Rotating, Fixed} {
			t.Run(m.name+"/"+[]string{"rotating", "fixed"}[frame], func(t *testing.T) {
				names := m.corners
				if names == nil {
					names = []string{"FL", "FR", "RL", "RR"}
				}
				r := newRig(11, names...)
				if frame == Fixed {
					r.resolved()
				}
				if m.spoil != nil {
					m.spoil(r)
				}
				r.start()
				if m.do != nil {
					m.do(r)
				} else {
					order := make([]int, len(names))
					for i := range order {
						order[i] = i
					}
					r.brief(order...)
				}
				got := r.judge.Result()
				keepsRules(t, &r.setup, got)
				m.judge(t, names, got)
			})
		}
	}
}

func (m *mount) judge(t *testing.T, names []string, got Result) {
	t.Helper()
	var fails, undecided []string
	for _, f := range got.Findings {
		if !covered(f.Check) {
			continue
		}
		name := strings.TrimSpace(f.Check + " " + f.Subject + " " + f.Channel)
		switch f.Verdict {
		case Fail:
			fails = append(fails, name)
		case Inconclusive:
			if f.Cause == "" {
				undecided = append(undecided, name)
			}
		case Pass, Absent:
		}
	}
	if diff := cmp.Diff(fails, m.fails); diff != "" {
		t.Errorf("fails (−got +want):\n%s", diff)
	}
	// What is open beside the causes is open for a reason of its own.
	if diff := cmp.Diff(undecided, m.open); diff != "" && len(undecided)+len(m.open) > 0 {
		t.Errorf("open without a cause (−got +want):\n%s", diff)
	}
	var ids []string
	for _, c := range got.Causes {
		ids = append(ids, c.ID)
	}
	if diff := cmp.Diff(ids, m.causes); diff != "" {
		t.Errorf("causes (−got +want):\n%s", diff)
	}
	if m.says != "" && (len(got.Causes) == 0 || !contains(got.Causes[0].Sentence, m.says)) {
		t.Errorf("causes %+v, want %q said", got.Causes, m.says)
	}
	for _, n := range names {
		if f := find(got, "drag", n, ""); f.Verdict == Fail || f.Verdict == Pass && (f.Value.Value < 1.6 || f.Value.Value > 2.4) {
			t.Errorf("drag of %s is %v, want 2 N·m", n, f.Value.Value)
		}
	}
	if t.Failed() {
		for _, f := range got.Findings {
			if f.Check == "placement" || f.Verdict == Fail {
				t.Logf("%s %s %s: %s: %s", f.Check, f.Subject, f.Channel, f.Verdict, f.Sentence)
			}
		}
		for _, c := range got.Causes {
			t.Logf("%s: %s", c.ID, c.Sentence)
		}
	}
}
