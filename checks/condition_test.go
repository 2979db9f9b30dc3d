package checks

import "testing"

// A wheel of 25 kg hangs with 245.2 N and stands with 5754.8 N; the bound is 245.2 + (6000 − 2·245.2)/4
// = 1622.6 N, less and more a tenth 1460.3 and 1784.8 N.
func TestCondition(t *testing.T) {
	wheel := Corner{WheelMassKg: 25, LoadN: 6000}
	for _, c := range []struct {
		name   string
		corner Corner
		forces []float64
		want   Hang
	}{
		{"hangs", wheel, []float64{-245}, Lifted},
		{"stands", wheel, []float64{5755}, Loaded},
		{"nothing heard", wheel, nil, Unknown},
		{"between, at the start", wheel, []float64{1600}, Unknown},
		{"just under the lower bound", wheel, []float64{1459}, Lifted},
		{"just over the upper bound", wheel, []float64{1786}, Loaded},
		{"lowered", wheel, []float64{-245, 5755}, Loaded},
		{"lifted", wheel, []float64{5755, -245}, Lifted},
		{"stays loaded between", wheel, []float64{5755, 1600}, Loaded},
		{"stays lifted between", wheel, []float64{-245, 1600}, Lifted},
		{"a zero of a tenth of the load does not matter", wheel, []float64{-245 - 600}, Lifted},
		{"mass not known", Corner{LoadN: 6000}, []float64{-245}, Lifted},
		{"load not known", Corner{WheelMassKg: 25}, []float64{2700}, Loaded},
		{"heavy wheel on a light load", Corner{WheelMassKg: 100, LoadN: 1500}, []float64{-980}, Lifted},
	} {
		for _, axis := range []string{"fz", "fx"} {
			t.Run(c.name+"/"+axis, func(t *testing.T) {
				s := newCondition(&c.corner)
				for _, f := range c.forces {
					for k := range 200 { // smoothed over some samples
						if axis == "fz" {
							s.add(int64(k), 0, f)
						} else {
							s.add(int64(k), f, 0)
						}
					}
				}
				if s.hang != c.want {
					t.Errorf("state %d, want %d", s.hang, c.want)
				}
			})
		}
	}
}

func TestConditionByMark(t *testing.T) {
	for _, c := range []struct {
		name  string
		marks []string
		force float64 // N, after the marks
		want  [2]Hang // FL, FR
	}{
		{"on the lift, over what the signals say", []string{"on the lift"}, 5755, [2]Hang{Lifted, Lifted}},
		{"blanks and capitals", []string{"  On  the LIFT "}, 5755, [2]Hang{Lifted, Lifted}},
		{"one wheel", []string{"lift FR"}, 5755, [2]Hang{Loaded, Lifted}},
		{"down, over what the signals say", []string{"down"}, -245, [2]Hang{Loaded, Loaded}},
		{"down again", []string{"on the lift", "down"}, 5755, [2]Hang{Loaded, Loaded}},
		{"turn says nothing of it", []string{"turn FL"}, 5755, [2]Hang{Loaded, Loaded}},
		{"no such corner", []string{"lift XX"}, 5755, [2]Hang{Loaded, Loaded}},
		{"anything else", []string{"coffee", ""}, 5755, [2]Hang{Loaded, Loaded}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(1, "FL", "FR")
			r.start()
			for _, m := range c.marks {
				r.judge.Mark(r.at, m)
			}
			for _, w := range r.wheels {
				w.fz = c.force
			}
			r.run(1)
			for i, want := range c.want {
				if got := r.judge.corners[i].condition.hang; got != want {
					t.Errorf("corner %d: state %d, want %d", i, got, want)
				}
			}
			if n := len(r.judge.marks); n != len(c.marks) {
				t.Errorf("%d marks kept, want %d", n, len(c.marks))
			}
		})
	}
}

// Once the signals agree with a person's word they know again.
func TestConditionTheWordEnds(t *testing.T) {
	r := newRig(1, "FL")
	r.run(1)
	r.judge.Mark(r.at, "on the lift")
	r.run(1)
	if got := r.judge.corners[0].condition.hang; got != Lifted {
		t.Fatalf("state %d, want lifted by word", got)
	}
	r.lift()
	r.run(1)
	r.down()
	r.run(1)
	if got := r.judge.corners[0].condition.hang; got != Loaded {
		t.Errorf("state %d, want loaded by the signals", got)
	}
}

func TestMarksAreBounded(t *testing.T) {
	r := newRig(1, "FL")
	r.start()
	for range 5000 {
		r.judge.Mark(r.at, "turn FL")
	}
	if n := len(r.judge.marks); n != 1000 {
		t.Errorf("%d marks kept, want 1000", n)
	}
}
