package checks

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func TestCoupling(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	near := func(r *rig, at, width float64) bool {
		return math.Abs(math.Remainder(r.wheels[1].theta-at, 2*math.Pi)) < width
	}
	for _, c := range []struct {
		name  string
		spoil func(*rig)
		want  Verdict
		says  string
		cause string
	}{
		{"nothing wrong", func(*rig) {}, Pass, "nothing went wrong", ""},
		{"lost anywhere", func(r *rig) {
			r.drop = func(m int) bool { return m == 2 && random.Float64() < 0.05 }
		}, Pass, "do not know the angle", ""},
		{"lost at one angle", func(r *rig) {
			r.drop = func(m int) bool { return m == 2 && near(r, 2, 0.4) && random.Float64() < 0.5 }
		}, Fail, "bunch about 11", "ring-not-aligned:FR"}, // 2 rad are 114.6°
		{"noise at one angle", func(r *rig) {
			r.spoil = func(i int, q Quantity, v float64) float64 {
				if i == 1 && q == Fz && near(r, -1, 0.3) {
					v += 150 * random.NormFloat64()
				}
				return v
			}
		}, Fail, "odd values", "ring-not-aligned:FR"},
		{"drag at one angle", func(r *rig) {
			r.spoil = func(i int, q Quantity, v float64) float64 {
				if i == 1 && q == My && near(r, 1, 0.5) {
					v += math.Copysign(20, r.wheels[1].omega)
				}
				return v
			}
		}, Fail, "the drag of FR changes", "ring-rubs:FR"},
		{"drag at one angle, about the limit", func(r *rig) {
			r.spoil = func(i int, q Quantity, v float64) float64 {
				if i == 1 && q == My && r.wheels[1].omega != 0 {
					v += math.Copysign(r.setup.Limits.DragNm/4, r.wheels[1].omega) * math.Cos(r.wheels[1].theta)
				}
				return v
			}
		}, Inconclusive, "too close to the limit of 3.00 N·m", ""},
	} {
		r := newRig(6, "FL", "FR")
		c.spoil(r)
		r.run(4)
		r.lift()
		r.run(1)
		for i := range r.wheels {
			r.turn(i, 8.2, 4.2, 2)
			r.turn(i, 8.2, -4.0, 2)
		}
		got := r.judge.Result()
		f := find(got, "coupling", "FR", "")
		if f.Verdict != c.want || !strings.Contains(f.Sentence, c.says) {
			t.Errorf("%s: %s: %s; want %s, %q", c.name, f.Verdict, f.Sentence, c.want, c.says)
		}
		if f.Cause != c.cause {
			t.Errorf("%s: cause %q, want %q", c.name, f.Cause, c.cause)
		}
		if f := find(got, "coupling", "FL", ""); f.Verdict != Pass {
			t.Errorf("%s: FL is blamed: %s", c.name, f.Sentence)
		}
	}
}

// Wheels turned by hand move unevenly; errors that know nothing of the angle must not bunch more often than the test
// says: once in a thousand, so in 400 sets hardly ever more than three times.
func TestBunchingOfRandomErrors(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 9))
	alarms := 0
	for range 400 {
		var b Bunching
		theta, at := random.Float64()*6, int64(0)
		for range 3000 {
			theta += 0.02 * (1 + 0.9*math.Sin(theta)) // slow at one place of each turn
			at += 5e6
			if random.Float64() < 0.01 {
				continue
			}
			s, c := math.Sincos(theta)
			b.add(at, theta, c, s, 0.005)
		}
		if b.errors < leastErrors {
			t.Fatalf("%d errors", b.errors)
		}
		if v, _ := b.test(); v > bunchedLimit {
			alarms++
		}
	}
	t.Logf("%d of 400 sets bunch by chance", alarms)
	if alarms > 3 {
		t.Errorf("%d alarms of 400, want at most 3", alarms)
	}
}

// χ² with 2 degrees of freedom: 13.816 is exceeded with probability 0.001 (NIST/SEMATECH e-Handbook of Statistical
// Methods, table 1.3.6.7.4).
func TestBunchedLimit(t *testing.T) {
	if math.Abs(bunchedLimit-13.816) > 0.001 || math.Abs(math.Exp(-bunchedLimit/2)-0.001) > 1e-6 {
		t.Errorf("limit = %v", bunchedLimit)
	}
}
