package checks

import (
	"math"
	"testing"
)

func TestRest(t *testing.T) {
	type moment struct {
		force  float64
		theta  float64
		moving bool
		loaded bool
	}
	stands := moment{force: 5000, loaded: true}
	for _, c := range []struct {
		name    string
		at      func(s float64) moment // s since the start
		seconds float64
		batches int64
	}{
		// Half a second to settle, then whole seconds.
		{"still", func(float64) moment { return stands }, 4.6, 4},
		{"not a whole second", func(float64) moment { return stands }, 1.4, 0},
		{"lifted", func(float64) moment { return moment{force: 250} }, 5, 0},
		{"turning", func(float64) moment { return moment{force: 5000, loaded: true, moving: true} }, 5, 0},
		{"set down after 2 s", func(s float64) moment { return moment{force: 5000, loaded: s > 2} }, 5.6, 3},
		// A second in which the force moves by more than 60 N or the wheel creeps by more than 0.02 rad is none.
		{"somebody leans on it", func(s float64) moment {
			m := stands
			if s > 2 && s < 2.1 {
				m.force += 100
			}
			return m
		}, 4.6, 3},
		{"creeps", func(s float64) moment {
			m := stands
			m.theta = 0.05 * s
			return m
		}, 4.6, 0},
		{"rocks by a count", func(s float64) moment {
			m := stands
			m.theta = 0.003 * math.Round(math.Mod(10*s, 1))
			return m
		}, 4.6, 4},
		{"rolls a little in between", func(s float64) moment {
			m := stands
			m.moving = s > 2 && s < 2.2
			return m
		}, 5.8, 4},
	} {
		for _, from := range []int64{0, 1_700_000_000e9, -3e9} {
			t.Run(c.name, func(t *testing.T) {
				r := Rest{spread: 60, creepRad: 0.02}
				for k := range int(c.seconds*200) + 1 {
					m := c.at(float64(k) / 200)
					r.add(from+int64(k)*5*ms, 0.6*m.force, 0.8*m.force, m.theta, m.moving, m.loaded)
				}
				if r.Force.N() != c.batches {
					t.Errorf("%d seconds from %d, want %d", r.Force.N(), from, c.batches)
				}
				if c.batches > 0 && math.Abs(r.Force.Mean()-5000) > 1 {
					t.Errorf("|f| = %v, want 5000", r.Force.Mean())
				}
			})
		}
	}
}
