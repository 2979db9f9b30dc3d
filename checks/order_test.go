package checks

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// heard is what a Judge was given.
type heard struct {
	at      int64
	message int
	samples []Sample
	mark    string
}

// tape records a brief function test of four wheels with faults of each kind; all messages of one
// moment share its time stamp.
func tape(frame ForceFrame) (Setup, []heard) {
	r := newRig(21, "FL", "FR", "RL", "RR")
	if frame == Fixed {
		r.resolved()
	}
	r.stagger = 0
	r.wheels[0].zero[Fx] = 130
	r.wheels[1].delta = 0.04
	r.wheels[1].lateS = 0.003
	exchange(r.angleFrom, 2, 3)
	r.opposite = map[int]int{2: 3, 3: 2}
	var out []heard
	r.start()
	r.send = func(at int64, message int, samples []Sample) {
		out = append(out, heard{at: at, message: message, samples: slices.Clone(samples)})
	}
	r.run(4.6)
	r.lift()
	r.run(0.7)
	for i := range r.wheels {
		out = append(out, heard{at: r.at, mark: "turn " + r.setup.Corners[i].Name})
		r.turn(i, 3.3, 5.5, 2)
		r.turn(i, 3.3, -5, 2)
	}
	r.down()
	r.run(4.6)
	return r.setup, out
}

func play(s Setup, tape []heard, each func(j *Judge, k int)) Result {
	j := New(s)
	for k := range tape {
		if h := &tape[k]; h.mark != "" {
			j.Mark(h.at, h.mark)
		} else {
			j.Message(h.at, h.message, 8, false, h.samples)
		}
		if each != nil {
			each(j, k)
		}
	}
	return j.Result()
}

func TestSameInputSameResult(t *testing.T) {
	for _, frame := range []ForceFrame{Rotating, Fixed} {
		s, tape := tape(frame)
		want := play(s, tape, nil)
		keepsRules(t, &s, want)
		if len(want.Causes) == 0 || want.Verdict != Fail {
			t.Fatalf("%s with causes %v, want faults", want.Verdict, want.Causes)
		}
		if diff := cmp.Diff(play(s, tape, nil), want); diff != "" {
			t.Errorf("a second time (−got +want):\n%s", diff)
		}
		asked := func(j *Judge, k int) {
			if k%997 == 0 {
				j.Result()
				j.Advance(tape[k].at)
			}
		}
		if diff := cmp.Diff(play(s, tape, asked), want); diff != "" {
			t.Errorf("asked in between (−got +want):\n%s", diff)
		}
	}
}

func TestOrderWithinATimeStampIsIrrelevant(t *testing.T) {
	for _, frame := range []ForceFrame{Rotating, Fixed} {
		s, tape := tape(frame)
		want := play(s, tape, nil)
		random := rand.New(rand.NewPCG(3, 3))
		for name, order := range map[string]func(part []heard){
			"reversed": slices.Reverse[[]heard],
			"shuffled": func(part []heard) {
				random.Shuffle(len(part), func(i, k int) { part[i], part[k] = part[k], part[i] })
			},
			"angles first": func(part []heard) {
				slices.SortStableFunc(part, func(a, b heard) int { return b.message%2 - a.message%2 })
			},
		} {
			mixed := slices.Clone(tape)
			for from := 0; from < len(mixed); {
				to := from + 1
				for to < len(mixed) && mixed[to].at == mixed[from].at && mixed[to].mark == "" && mixed[from].mark == "" {
					to++
				}
				order(mixed[from:to])
				from = to
			}
			if diff := cmp.Diff(play(s, mixed, nil), want); diff != "" {
				t.Errorf("%s (−got +want):\n%.3000s", name, diff)
			}
		}
	}
}
