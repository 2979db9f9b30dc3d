package checks

import (
	"math"
	"testing"
)

// follow feeds an encoder with angles in turns, one every 5 ms, wrapped to one turn.
func follow(e *Encoder, turns ...float64) {
	for k, x := range turns {
		e.add(int64(k)*5*ms, (x-math.Floor(x))*2*math.Pi)
	}
}

func sweep(from, to float64, n int) []float64 {
	var out []float64
	for k := range n + 1 {
		out = append(out, from+(to-from)*float64(k)/float64(n))
	}
	return out
}

func TestEncoderUnwraps(t *testing.T) {
	for _, c := range []struct {
		name  string
		turns []float64
	}{
		{"forward over the wrap", sweep(0.9, 3.2, 400)},
		{"back over the wrap", sweep(0.1, -2.3, 400)},
		{"there and back", append(sweep(0.9, 1.6, 200), sweep(1.6, -0.4, 400)...)},
	} {
		t.Run(c.name, func(t *testing.T) {
			var e Encoder
			follow(&e, c.turns...)
			first, last := c.turns[0], c.turns[len(c.turns)-1]
			if got, want := (e.unw[1]-(first-math.Floor(first))*2*math.Pi)/(2*math.Pi), last-first; math.Abs(got-want) > 1e-9 {
				t.Errorf("%v turns, want %v", got, want)
			}
			if e.Runs != 0 {
				t.Errorf("began anew %d times", e.Runs)
			}
		})
	}
}

func TestEncoderSpeed(t *testing.T) {
	// 2 turns in 400 steps of 5 ms: 4π rad in 2 s.
	e := Encoder{count: 2 * math.Pi / rigCounts}
	follow(&e, sweep(0, 2, 400)...)
	if math.Abs(e.Omega-2*math.Pi) > 1e-9 || !e.moving {
		t.Errorf("ω = %v, turning %v, want 2π and true", e.Omega, e.moving)
	}
	if math.Abs(e.Travel-4*math.Pi) > 0.3 {
		t.Errorf("travel %v, want 4π less the start", e.Travel)
	}
	for _, c := range []struct {
		radPerS float64
		was     bool
		want    bool
	}{{0.2, false, false}, {0.5, false, false}, {0.7, false, true}, {0.5, true, true}, {0.2, true, false}} {
		e := Encoder{}
		n := 0.0
		at := int64(0)
		feed := func(radPerS float64) {
			for range 100 {
				at += 5 * ms
				n += radPerS * 0.005
				e.add(at, math.Mod(n, 2*math.Pi))
			}
		}
		feed(map[bool]float64{false: 0, true: 2}[c.was])
		feed(c.radPerS)
		if e.moving != c.want {
			t.Errorf("at %v rad/s, turning before %v: turning %v, want %v", c.radPerS, c.was, e.moving, c.want)
		}
	}
}

// One count back and forth, as at the edge of a count, is no turning.
func TestEncoderAtTheEdgeOfACount(t *testing.T) {
	for _, counts := range []float64{36, 360, 2048} {
		e := Encoder{count: 2 * math.Pi / counts}
		for k := range 400 {
			e.add(int64(k)*5*ms, float64(k%2)*e.count)
			if e.moving {
				t.Fatalf("%v counts: a wheel at rest turns", counts)
			}
		}
	}
}

func TestEncoderAngleAt(t *testing.T) {
	var e Encoder
	e.add(0, 1)
	e.add(10*ms, 1.2)
	for _, c := range []struct {
		at    int64
		want  float64
		exact bool
	}{{-1, 1, false}, {0, 1, true}, {5 * ms, 1.1, true}, {10 * ms, 1.2, true}, {11 * ms, 1.2, false}} {
		if got, exact := e.angleAt(c.at); math.Abs(got-c.want) > 1e-12 || exact != c.exact {
			t.Errorf("at %d: %v, %v, want %v, %v", c.at, got, exact, c.want, c.exact)
		}
	}
	for _, c := range []struct {
		at   int64
		want float64
	}{{0, 1}, {1, 1}, {10 * ms, 1}, {10*ms + 1, 1.2}} {
		if got, _ := e.before(c.at); got != c.want {
			t.Errorf("before %d: %v, want %v", c.at, got, c.want)
		}
	}
	if _, exact := (&Encoder{}).angleAt(0); exact {
		t.Error("an encoder that has heard nothing knows its angle")
	}
}

// ω·Δt > π: more than half a turn may have passed unseen.
func TestEncoderGap(t *testing.T) {
	for _, c := range []struct {
		name  string
		omega float64 // rad/s
		gap   float64 // s
		runs  int64
	}{
		{"slow and short", 4, 0.1, 0},
		{"0.49 of a turn", 0.98 * math.Pi / 0.3, 0.3, 0},
		{"0.51 of a turn", 1.02 * math.Pi / 0.3, 0.3, 1},
		{"fast", 100, 0.05, 1},
		{"at rest", 0, 0.4, 0},
		{"at rest and long", 0, 1, 1},
		{"time back", 4, -1, 1},
		{"same time", 4, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			var e Encoder
			at, theta := int64(0), 0.0
			step := func(dt float64) {
				at += int64(dt * 1e9)
				theta += c.omega * dt
				e.add(at, math.Mod(theta+100*2*math.Pi, 2*math.Pi))
			}
			for range 100 {
				step(0.005)
			}
			step(c.gap)
			if e.Runs != c.runs {
				t.Errorf("began anew %d times, want %d", e.Runs, c.runs)
			}
			if c.runs > 0 && (e.moving || e.have != 1) {
				t.Error("something was carried over the gap")
			}
		})
	}
}

func TestEncoderTakesNoAngleThatIsNone(t *testing.T) {
	var e Encoder
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e300} {
		e.add(0, x)
	}
	if e.NotANum != 4 || e.Samples != 0 || e.have != 0 {
		t.Errorf("%+v, want nothing but four that are no angle", e)
	}
}
