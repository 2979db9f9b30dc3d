package checks

import (
	"math"
	"math/rand/v2"
	"slices"
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

// A ring loses frames at its angle however the wheel hangs and is steered, a cable where the suspension or the steering has
// brought it.
func TestChafing(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	at := func(y *yard) bool { return math.Abs(math.Remainder(y.wheels[1].theta-2, 2*math.Pi)) < 0.4 }
	rolls := func(y *yard) bool { return y.speed != 0 }
	lose := func(share float64, where func(*yard) bool) func(*yard) {
		return func(y *yard) {
			y.drop = func(m int) bool { return m == 2 && where(y) && random.Float64() < share }
		}
	}
	test := func(y *yard) { // lifted turns
		y.stand(4)
		y.lift()
		y.run(1)
		for i := range y.wheels {
			y.turn(i, 4.2, 4.2, 2)
			y.turn(i, 4.2, -4.0, 2)
		}
		y.down()
		y.stand(3)
	}
	drive := func(y *yard) {
		for range 3 {
			y.roll(8, 5, 0)
			y.roll(5, 4, 0.03)
			y.roll(6, 5, 0)
			y.roll(5, 4, -0.03)
		}
	}
	for _, c := range []struct {
		name  string
		spoil func(*yard)
		do    []func(*yard)
		want  Verdict
		says  string
		cause string
	}{
		{"nothing wrong", lose(0, at), []func(*yard){test, drive}, Pass, "nothing went wrong", ""},
		{"ring", lose(0.4, at), []func(*yard){test, drive}, Fail, "bunch about 11", "ring-not-aligned:FR"},
		{"cable at one angle while rolling", lose(0.4, func(y *yard) bool { return rolls(y) && at(y) }), []func(*yard){test, drive}, Fail, "all while it rolled", "cable-chafes:FR"},
		{"the same, never lifted", lose(0.4, func(y *yard) bool { return rolls(y) && at(y) }), []func(*yard){drive}, Fail, "bunch about 11", "ring-not-aligned:FR"},
		{"cable in curves to the left", lose(0.1, func(y *yard) bool { return y.yaw > 0 }), []func(*yard){test, drive}, Fail, "in curves to the left", "cable-chafes:FR"},
		{"cable in curves to the right, never lifted", lose(0.1, func(y *yard) bool { return y.yaw < 0 }), []func(*yard){drive}, Fail, "in curves to the right", "cable-chafes:FR"},
		{"lost in every curve", lose(0.1, func(y *yard) bool { return y.yaw != 0 }), []func(*yard){test, drive}, Pass, "do not know the angle", ""},
		{"lost anywhere while rolling", lose(0.02, rolls), []func(*yard){test, drive}, Pass, "do not know the angle", ""},
		{"one bad moment, in a curve", func(y *yard) {
			start := y.at
			y.drop = func(m int) bool {
				s := float64(y.at-start) * 1e-9
				return m == 2 && s > 11 && s < 12 && random.Float64() < 0.5
			}
		}, []func(*yard){drive}, Pass, "do not know the angle", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(6, "FL", "FR")
			c.spoil(y)
			for _, do := range c.do {
				do(y)
			}
			got := y.judged(t)
			f := find(got, "coupling", "FR", "")
			if f.Verdict != c.want || !strings.Contains(f.Sentence, c.says) {
				t.Errorf("%s: %s; want %s, %q", f.Verdict, f.Sentence, c.want, c.says)
			}
			if f.Cause != c.cause {
				t.Errorf("cause %q, want %q", f.Cause, c.cause)
			}
			for _, cause := range got.Causes {
				if both := strings.Contains(cause.Sentence, "or its cable chafes"); both != (c.name == "the same, never lifted") {
					t.Errorf("%s: want ring or cable only where no turn on the lift could tell them apart", cause.Sentence)
				}
				for _, e := range cause.Explains {
					if cause.ID == "cable-chafes:FR" && !slices.Contains([]string{"coupling/FR/", "alive/FR/", "drift/FR/rate"}, e) {
						t.Errorf("%s explains %s", cause.ID, e)
					}
				}
			}
			if f := find(got, "coupling", "FL", ""); f.Verdict != Pass {
				t.Errorf("FL is blamed: %s", f.Sentence)
			}
		})
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
			b.add(at, theta, c, s, 0.005, true)
		}
		all := b.all()
		if all.errors < leastErrors {
			t.Fatalf("%d errors", all.errors)
		}
		if v, _ := all.test(); v > bunchedLimit {
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

// On a wheel that turns evenly T is Rayleigh's 2·n·R̄². The table is that of the mean resultant lengths which are exceeded with
// probability 0.10, 0.05, 0.025 and 0.01 (Mardia 1972, as reprinted in Davis, Statistics and Data Analysis in Geology, table A.10).
func TestBunchingIsRayleigh(t *testing.T) {
	var even tally
	for k := range 3600 {
		s, c := math.Sincos(float64(k) * 2 * math.Pi / 3600)
		even.Frames.Add(c, s)
	}
	alpha := [4]float64{0.10, 0.05, 0.025, 0.01}
	for _, row := range []struct {
		n      int64
		length [4]float64
	}{
		{8, [4]float64{0.535, 0.602, 0.660, 0.725}},
		{10, [4]float64{0.478, 0.540, 0.594, 0.655}},
		{12, [4]float64{0.437, 0.494, 0.544, 0.602}},
		{15, [4]float64{0.391, 0.443, 0.489, 0.542}},
		{17, [4]float64{0.367, 0.417, 0.460, 0.510}},
		{20, [4]float64{0.339, 0.385, 0.425, 0.472}},
		{22, [4]float64{0.323, 0.367, 0.405, 0.451}},
	} {
		for j, length := range row.length {
			x, n := even, float64(row.n)
			x.errors, x.sum = row.n, complex(n*length*math.Cos(2), n*length*math.Sin(2))
			chi, theta := x.test()
			if want := 2 * n * length * length; math.Abs(chi/want-1) > 1e-3 || math.Abs(theta-2) > 1e-9 {
				t.Errorf("n %v, R %v: T = %v at %v, want %v at 2", n, length, chi, theta, want)
			}
			if p := rayleighP(n, chi/2); math.Abs(p-alpha[j]) > 0.04*alpha[j] {
				t.Errorf("n %v, R %v: p = %.4f, want %v", n, length, p, alpha[j])
			}
		}
	}
}

// rayleighP is the probability that n angles without a preferred direction have n·R̄² ≥ z: e^−z, the tail of χ² with 2 degrees of
// freedom at 2z, with what the series in 1/n adds for few (Mardia and Jupp 2000, 6.3.1).
func rayleighP(n, z float64) float64 {
	return math.Exp(-z) * (1 + (2*z-z*z)/(4*n) - (24*z-132*z*z+76*z*z*z-9*z*z*z*z)/(288*n*n))
}
