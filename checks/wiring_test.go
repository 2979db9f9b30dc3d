package checks

import (
	"fmt"
	"math"
	"testing"
)

// The loads of two corners as labelled, exchanged, or telling nothing.
func TestLoadsSay(t *testing.T) {
	for _, c := range []struct {
		name     string
		set, are [2]float64 // N
		want     int
	}{
		{"as labelled", [2]float64{6600, 5400}, [2]float64{6500, 5500}, +1},
		{"exchanged", [2]float64{6600, 5400}, [2]float64{5450, 6550}, -1},
		{"halfway", [2]float64{6600, 5400}, [2]float64{6000, 6000}, 0},
		// 5 % of the mean of 6000 N are 300 N.
		{"differ by less than 5 %", [2]float64{6149, 5851}, [2]float64{5851, 6149}, 0},
		{"differ by a little more than 5 %", [2]float64{6160, 5840}, [2]float64{5840, 6160}, -1},
		{"one not known", [2]float64{6600, 0}, [2]float64{5400, 6600}, 0},
		{"not at rest", [2]float64{6600, 5400}, [2]float64{0, 0}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(1, "FL", "FR")
			for i := range c.set {
				r.setup.Corners[i].LoadN = c.set[i]
			}
			r.start()
			for i, f := range c.are {
				if f > 0 {
					rest := &r.judge.corners[i].rest
					rest.stands[rest.Force.N()] = stand{fz: f - hangingN}
					rest.Force.Add(f - hangingN)
				}
			}
			v := newView(r.judge)
			if a, b := v.loadsSay(0, 1), v.loadsSay(1, 0); a != c.want || b != c.want {
				t.Errorf("%d and %d, want %d", a, b, c.want)
			}
		})
	}
}

func TestSerialSent(t *testing.T) {
	for _, c := range []struct {
		sent float64
		want uint64
		ok   bool
	}{
		{40117, 40117, true}, {0, 0, true}, {-1, 0, false}, {1e300, 0, false}, {1 << 53, 1 << 53, true}, {math.NaN(), 0, false}, {math.Inf(1), 0, false},
	} {
		r := newRig(1, "FL")
		r.start()
		ch := r.setup.Corners[0].Channels[Serial]
		r.judge.Message(1, 1, 8, false, []Sample{{Channel: ch, Value: c.sent}})
		if got, ok := newView(r.judge).serial(0); got != c.want || ok != c.ok {
			t.Errorf("sent %v: %v, %v, want %v, %v", c.sent, got, ok, c.want, c.ok)
		}
	}
}

func TestPlacementTwins(t *testing.T) {
	for _, c := range []struct {
		name  string
		of    func(q Quantity) bool
		cause string
		says  string
	}{
		{"forces", func(q Quantity) bool { return q <= Mz }, "mapped-twice:FL,FR", "the same fx"},
		{"one quantity", func(q Quantity) bool { return q == Mz }, "mapped-twice:FL,FR", "the same mz"},
		{"one that shows little", func(q Quantity) bool { return q == Fy }, "mapped-twice:FL,FR", "the same fy"},
		{"angle", func(q Quantity) bool { return q == Angle }, "mapped-twice:FL,FR", "the same angle"},
		{"all", func(q Quantity) bool { return q <= Mz || q == Angle }, "mapped-twice:FL,FR", "the same fx"},
	} {
		for _, copies := range [][2]int{{0, 1}, {1, 0}} { // of the first, over the second
			t.Run(fmt.Sprintf("%s/%d over %d", c.name, copies[0], copies[1]), func(t *testing.T) {
				r := newRig(4, "FL", "FR", "RL")
				var newest [Quantities]float64
				r.spoil = func(corner int, q Quantity, v float64) float64 {
					switch {
					case corner == copies[0]:
						newest[q] = v
					case corner == copies[1] && c.of(q):
						return newest[q]
					}
					return v
				}
				r.brief(0, 1, 2)
				got := r.judge.Result()
				keepsRules(t, &r.setup, got)
				if len(got.Causes) == 0 || got.Causes[0].ID != c.cause || !contains(got.Causes[0].Sentence, c.says) {
					t.Errorf("causes = %+v, want %s with %q", got.Causes, c.cause, c.says)
				}
				for name, want := range map[string]Verdict{"FL": Fail, "FR": Fail, "RL": Pass} {
					if f := find(got, "placement", name, ""); f.Verdict != want {
						t.Errorf("placement of %s is %s, want %s: %s", name, f.Verdict, want, f.Sentence)
					}
				}
			})
		}
	}
}

// Wheels that stand still, or roll side by side, are no twins.
func TestPlacementNoTwins(t *testing.T) {
	r := newRig(4, "FL", "FR", "RL", "RR")
	for _, w := range r.wheels {
		w.theta = 0
		w.noiseN = 0.3 // hardly more than the raw step
	}
	r.run(10)
	for i, w := range r.wheels {
		w.omega = 20 + 0.01*float64(i)
	}
	r.run(30)
	if v := newView(r.judge); len(v.wiring.twins) > 0 {
		t.Errorf("twins %v, want none", v.wiring.twins)
	}
}
