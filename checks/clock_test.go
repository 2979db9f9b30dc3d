package checks

import (
	"math"
	"testing"
)

// twoSources is a vehicle whose second corner comes from a source of its own.
func twoSources(seed uint64) *rig {
	r := newRig(seed, "FL", "FR")
	r.setup.Sources = append(r.setup.Sources, "more wheels")
	for i := range r.setup.Messages {
		if i >= 2 {
			r.setup.Messages[i].Source = 1
		}
	}
	r.start()
	return r
}

// A clock that is set ahead, as readers tell, is no silence, and what is silent afterwards is found as ever.
func TestClockSetAhead(t *testing.T) {
	for _, ahead := range []float64{0.06, 0.5, 6, 1800, 3600, 20 * 365 * 86400} {
		step := int64(ahead * 1e9)
		for _, told := range []struct {
			name string
			do   func(r *rig)
		}{
			{"by one reader", func(r *rig) { r.judge.ClockSet(step); r.at += step }},
			{"by both", func(r *rig) { r.judge.ClockSet(step); r.at += step; r.run(0.1); r.judge.ClockSet(step + 1e6) }},
			{"before the other source's last frames of the old clock", func(r *rig) {
				r.judge.ClockSet(step)
				r.drop = func(message int) bool { return message >= 2 }
				r.at += step
				r.step()
				old := r.at
				r.drop = func(message int) bool { return message < 2 }
				r.at -= step
				r.step()
				r.drop, r.at = nil, old
			}},
			{"while nothing comes", func(r *rig) {
				r.judge.ClockSet(step)
				r.at += step
				r.judge.Advance(r.at)
			}},
		} {
			r := twoSources(2)
			r.run(10)
			told.do(r)
			r.run(5)
			r.judge.Advance(r.at)
			got := r.judge.Result()
			keepsRules(t, &r.setup, got)
			for _, name := range []string{"FL", "FR"} {
				if f := find(got, "alive", name, ""); f.Verdict != Pass {
					t.Errorf("%g s ahead, told %s: %s is %s: %s", ahead, told.name, name, f.Verdict, f.Sentence)
				}
			}
			if e := r.judge.elapsed(); math.Abs(e-15) > 0.2 {
				t.Errorf("%g s ahead, told %s: %.3f s have passed, want 15", ahead, told.name, e)
			}
			r.drop = func(message int) bool { return message >= 2 }
			r.run(3)
			if f := find(r.judge.Result(), "alive", "FR", ""); f.Verdict != Fail {
				t.Errorf("%g s ahead, told %s, then FR silent: %s: %s", ahead, told.name, f.Verdict, f.Sentence)
			}
		}
	}
}

// What nobody told is silence, and so is what was told and had been shown already.
func TestClockAheadIsSilence(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(r *rig)
	}{
		{"not told", func(r *rig) { r.at += 60e9 }},
		{"told long before", func(r *rig) { r.judge.ClockSet(60e9); r.run(11); r.at += 60e9 }},
		{"silent for a minute, and the clock set by an hour", func(r *rig) { r.judge.ClockSet(3600e9); r.at += 3660e9 }},
		{"set back in between", func(r *rig) { r.judge.ClockSet(60e9); r.judge.ClockSet(-60e9); r.at += 60e9 }},
	} {
		r := twoSources(3)
		r.run(10)
		c.do(r)
		r.run(5)
		for _, name := range []string{"FL", "FR"} {
			if f := find(r.judge.Result(), "alive", name, ""); f.Verdict != Fail {
				t.Errorf("%s: %s is %s: %s", c.name, name, f.Verdict, f.Sentence)
			}
		}
	}
}

// A step ahead and one back leave the stamps as they were, and what was under way is not measured over them.
func TestClockAheadAndBack(t *testing.T) {
	r := twoSources(4)
	r.run(10)
	r.judge.ClockSet(3600e9)
	r.at += 3600e9
	r.run(5)
	r.judge.ClockSet(-3600e9)
	r.at -= 3600e9
	r.run(5)
	got := r.judge.Result()
	for _, name := range []string{"FL", "FR"} {
		if f := find(got, "alive", name, ""); f.Verdict != Pass {
			t.Errorf("%s is %s: %s", name, f.Verdict, f.Sentence)
		}
	}
	if e := r.judge.elapsed(); math.Abs(e-20) > 0.2 {
		t.Errorf("%.3f s have passed, want 20", e)
	}
}
